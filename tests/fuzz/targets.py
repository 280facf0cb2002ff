"""What a text is tried on, and what has to hold of the answer. Each raises AssertionError where it does not."""

from __future__ import annotations

import functools
import json
import math
import sys
import warnings
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import msgspec

import advisor
from advisor.checklist import aircraft, revision
from advisor.checklist.language.condition import ConditionError, compile_condition
from advisor.errors import AdvisorError, ChecklistError, DepartureError, ReportError
from advisor.report import iwxxm, metar, reading, taf
from advisor.report.decode import decode_data, decode_text
from advisor.report.model import STATUSES
from advisor.slots.files import actuals, pads, schedule
from advisor.slots.files.schedule import Row

NOW = datetime(2027, 1, 10, 5, 25, tzinfo=UTC)
NOW_S = int(NOW.timestamp())
LONGEST_LINE = 1500

# beyond these nothing was ever measured at the ground, with room to spare. World records: wind 220 kt, -89.2 and
# 56.7 °C, 870 and 1084 hPa, 305 mm of rain in an hour (WMO archive of extremes; from memory)
BOUNDS = {
    "wind_direction_deg": (0, 360),
    "wind_from_deg": (0, 360),
    "wind_to_deg": (0, 360),
    "peak_wind_direction_deg": (0, 360),
    "wind_kt": (0, 220),
    "gust_kt": (0, 220),
    "peak_wind_kt": (0, 220),
    "visibility_m": (0, 200_000),
    "visibility_minimum_m": (0, 200_000),
    "runway_visual_range_m": (0, 200_000),
    "temperature_c": (-95, 65),
    "dew_point_c": (-100, 65),
    "pressure_hpa": (800, 1100),
    "hourly_precipitation_mm": (0, 400),
    "snow_depth_cm": (0, 1200),
    "snow_last_hour_cm": (0, 100),
    "hail_mm": (0, 250),
    "vertical_visibility_ft": (0, 100_000),
    "base_ft": (0, 100_000),
}
FINITE = sys.float_info.max


def one_line(error: Exception, lines: bool = False) -> None:
    said = str(error).split("\n") if lines else [str(error)]
    for line in said:
        assert line and "\n" not in line and len(line) < LONGEST_LINE, f"not one short line: {line[:300]!r}"


@functools.cache
def _fields(kind: type[msgspec.Struct]) -> tuple[tuple[str, float, float], ...]:
    """Each field of a structure with its bounds; without one, whatever is finite."""
    return tuple((field, *BOUNDS.get(field, (-FINITE, FINITE))) for field in kind.__struct_fields__)


def bounded(thing: Any, inside: str = "") -> None:
    """Nothing that was read lies beyond what is possible; infinity is nowhere."""
    if isinstance(thing, msgspec.Struct):
        for field, low, high in _fields(type(thing)):
            value = getattr(thing, field)
            kind = type(value)
            if kind is str or kind is int or kind is bool:
                continue
            if isinstance(value, float):
                # what is not equal to itself is missing
                assert value != value or low <= value <= high, f"{inside}{field} is {value}"
            elif value and isinstance(value, msgspec.Struct | tuple):
                bounded(value, f"{inside}{field}.")
    elif isinstance(thing, tuple):
        for one in thing:
            if type(one) is not str:
                bounded(one, inside)


def _no(name: str) -> Any:
    raise AssertionError(f"{name} in JSON")


STRICT = json.JSONDecoder(parse_constant=_no)


def whole_json(data: bytes) -> Any:
    return STRICT.decode(data.decode())


def nothing_dropped(read: Any, text: str) -> None:
    kept = " ".join(group.text for group in read.groups)
    assert kept == read.raw == " ".join(text.split()), f"dropped: {kept[:200]!r} of {text[:200]!r}"
    assert all(group.status in STATUSES and group.meaning for group in read.groups)


def _reading(reader: Any, text: str) -> Any:
    """One report read, with no group dropped and nothing beyond bounds; None where it was refused in one line."""
    try:
        read = reader.read(text, now=NOW)
    except ReportError as error:
        one_line(error)
        return None
    # an equals sign ends a report, and is no group
    nothing_dropped(read, text.replace("=", " "))
    bounded(read)
    whole_json(msgspec.json.encode(decode_data([read])))
    return read


def read_metar(text: str) -> None:
    read = _reading(metar, text)
    if read is not None:
        decode_text([read])


def read_taf(text: str) -> None:
    _reading(taf, text)


def read_any(text: str) -> None:
    try:
        read = reading.read_all(text, now=NOW)
    except ReportError as error:
        return one_line(error)
    for one in read:
        bounded(one)
    whole_json(msgspec.json.encode(decode_data(read)))
    return None


def read_iwxxm(text: str) -> None:
    try:
        read = iwxxm.read(text)
    except ReportError as error:
        return one_line(error)
    for one in read:
        bounded(one)
    whole_json(msgspec.json.encode(decode_data(read)))
    return None


def read_condition(text: str) -> None:
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        try:
            read = compile_condition(text)
        except ConditionError as error:
            return one_line(error)
        finally:
            assert not told, f"a warning for the developers of Python: {told[0].message}"
    assert compile_condition(f"({read.text})" if not read.always else "always").canonical == read.canonical
    return None


def read_folder(text: str, folder: Path) -> None:
    name = "aircraft/own.toml" if "bearing_deg" in text else "own.toml"
    for old in folder.rglob("*.toml"):
        old.unlink()
    (folder / name).parent.mkdir(exist_ok=True)
    (folder / name).write_text(text, encoding="utf-8", errors="replace", newline="")
    try:
        revision.load(folder)
        aircraft.load_profiles(folder)
    except ChecklistError as error:
        one_line(error, lines=True)


KNOWN = ("light-aircraft", "single-aisle-jet", "regional-jet", "wide-body-jet", "twin-turboprop")
ROWS = (Row("ZZ101", NOW_S + 3600, KNOWN[1]), Row("ZZ120", NOW_S + 7200, KNOWN[0]))


def read_schedule(text: str) -> None:
    try:
        rows = schedule.parse(text, "schedule.csv", KNOWN, NOW_S)
    except DepartureError as error:
        return one_line(error, lines=True)
    for row in rows:
        assert math.isnan(row.heading_deg) or 0 <= row.heading_deg <= 360
        assert not math.isinf(row.fuel_temperature_c)
    return None


def read_actuals(text: str) -> None:
    try:
        actuals.parse(text, "actuals.csv", ROWS, ("North 1",), NOW_S)
    except DepartureError as error:
        one_line(error, lines=True)


def read_pads(text: str, folder: Path) -> None:
    (folder / "pads.toml").write_text(text, encoding="utf-8", errors="replace", newline="")
    try:
        pads.load(folder / "pads.toml", NOW_S)
    except ChecklistError as error:
        one_line(error, lines=True)


def read_rows(text: str, folder: Path) -> None:
    """Rows of an archive: each is read, or refused with its number and the reason."""
    from advisor.archive.batches import Dater, batches

    file = folder / ("rows.csv" if text.startswith("station") else "rows.txt")
    file.write_text(text, encoding="utf-8", errors="replace", newline="")
    try:
        dater = Dater(file, NOW.replace(day=1))
        for batch in batches(file, rows=1000):
            made = dater.date(batch)
            assert made.at_s.size + len(made.refused) <= len(batch.text)
    except ReportError as error:
        one_line(error)


def make_brief(text: str) -> None:
    try:
        made = advisor.advise(text, off_block="0640Z", now=NOW, place="61.4,9.8", heading=210)
    except AdvisorError as error:
        return one_line(error)
    data = whole_json(advisor.to_json(made))
    assert data["schema"] == "brief/1"
    return None


class Asked:
    """The server in this process, and what it answers to bytes."""

    def __init__(self) -> None:
        from litestar.testing import TestClient

        from advisor.web.app import create_app
        from advisor.web.model import Settings

        self.client = TestClient(create_app(Settings(clock=lambda: NOW)))

    def __call__(self, text: str) -> None:
        answer = self.client.post(
            "/api/brief", content=text.encode("utf-8", "replace"), headers={"content-type": "application/json"}
        )
        assert answer.status_code in (201, 400, 413, 422), f"{answer.status_code}: {answer.text[:300]}"
        whole_json(answer.content)


def targets(folder: Path) -> dict[str, Callable[[str], None]]:
    """What to try, by name. folder: where files are written for what reads files."""
    own = folder / "checklist"
    own.mkdir(exist_ok=True)
    return {
        "metar": read_metar,
        "taf": read_taf,
        "bulletin": read_any,
        "iwxxm": read_iwxxm,
        "condition": read_condition,
        "folder": lambda text: read_folder(text, own),
        "schedule": read_schedule,
        "pads": lambda text: read_pads(text, folder),
        "actuals": read_actuals,
        "replay": lambda text: read_rows(text, folder),
        "brief": make_brief,
        "http": Asked(),
    }
