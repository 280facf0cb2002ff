"""The sample situations: what the trade expects of each, and the same brief to the byte as the one that was read.

Expectations stand in each departure.toml, written down from the trade and published values before a brief was looked
at. `python tests/test_samples.py --write` writes brief.txt and brief.json anew: read the difference before keeping it.
"""

from __future__ import annotations

import difflib
import json
import re
import sys
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from advisor import advise
from advisor.brief.model import Brief, schema, to_json
from advisor.quantities import QUANTITIES
from advisor.render.text import render

FOLDER = Path(__file__).parents[1] / "sample_reports"
NAMES = sorted(path.parent.name for path in FOLDER.glob("*/departure.toml"))
WANTED = {
    "quiet-day",
    "dusk-inside-the-walk",
    "just-after-sunset-but-light",
    "clear-frosty-dawn",
    "clear-calm-too-dry",
    "damp-night-low-cloud",
    "light-snow-at-night",
    "freezing-drizzle",
    "freezing-rain-just-over",
    "rain-on-a-cold-soaked-wing",
    "rain-on-a-warm-wing",
    "gale-with-doors",
    "hail-in-july",
    "temperatures-missing",
    "everything-missing",
    "hot-afternoon",
    "glider-on-a-dewy-morning",
    "treated-while-snow-goes-on",
    "dawn-departure-briefed-at-ten-the-night-before",
    "parked-through-a-snowfall",
    "treated-after-snow-stopped",
    "temporary-freezing-rain",
    "snow-between-off-block-and-take-off",
}


def asked(name: str) -> dict[str, Any]:
    """The situation's departure.toml."""
    return tomllib.loads((FOLDER / name / "departure.toml").read_text(encoding="utf-8"))


def make(name: str) -> Brief:
    """The situation's brief."""
    return advise((FOLDER / name / "report.txt").read_text(encoding="utf-8"), **asked(name)["ask"])


def outputs(name: str) -> dict[str, bytes]:
    """What is kept beside the report, by file name."""
    brief = make(name)
    return {"brief.txt": render(brief).encode(), "brief.json": to_json(brief)}


def test_every_situation_is_there() -> None:
    assert set(NAMES) >= WANTED


@pytest.mark.parametrize("name", NAMES)
def test_a_brief_says_what_the_trade_expects_of_the_situation(name: str) -> None:
    expect, brief = asked(name)["expect"], make(name)
    told = {line.id: line.status for line in brief.advice}
    wrong = {
        rule: f"expected {status!r}, told {told.get(rule)!r}"
        for rule, status in expect["lines"].items()
        if told.get(rule) not in status.split(" or ")
    }
    assert wrong == {}
    assert {rule: told[rule] for rule in expect["absent"] if rule in told} == {}
    due = {line.id: line.by for line in brief.advice}
    assert {rule: due[rule] for rule in expect.get("by", {})} == expect.get("by", {})
    begins = {line.id: line.from_ for line in brief.advice}
    for rule, (earliest, latest) in expect.get("from", {}).items():
        assert earliest <= begins[rule] <= latest
    assert set(expect.get("missing", [])) <= set(brief.missing)


@pytest.mark.parametrize("name", NAMES)
def test_light_and_doors_are_as_the_situation_has_them(name: str) -> None:
    expect, brief = asked(name)["expect"], make(name)
    light = {row["at"]: row["light"] for row in brief.timeline}
    if "light" in expect:
        assert [light[at] for at in brief.windows.walk_round] == expect["light"]
    if "doors" in expect:
        assert brief.doors and {door.status for door in brief.doors} <= set(expect["doors"].split(" or "))
    if "relative_wind_deg" in expect:
        wanted = None if expect["relative_wind_deg"] == "unknown" else expect["relative_wind_deg"]
        assert {door.relative_wind_deg for door in brief.doors} == {wanted}


def test_a_quiet_day_fits_one_screen() -> None:
    # a screen of 80 columns and 40 rows, as a laptop shows one
    assert len(render(make("quiet-day")).splitlines()) <= 40


FINGERPRINT = re.compile(r"\b[0-9a-f]{16}\b|\b[0-9a-f]{64}\b")


@pytest.mark.parametrize("name", NAMES)
def test_a_sample_is_the_same_to_the_byte_as_the_one_that_was_read(name: str) -> None:
    for file, now in outputs(name).items():
        kept = (FOLDER / name / file).read_bytes()
        if kept != now:
            lines = difflib.unified_diff(kept.decode().splitlines(), now.decode().splitlines(), "kept", "now", n=1)
            shown = "\n".join(list(lines)[:60])
            if FINGERPRINT.sub("", kept.decode()) == FINGERPRINT.sub("", now.decode()):
                shown = "(only the checklist's fingerprint differs)"
            pytest.fail(f"{name}/{file} differs; rewrite with `python tests/test_samples.py --write`\n{shown}")


@pytest.mark.parametrize("name", NAMES)
def test_a_sample_keeps_to_the_schema(name: str) -> None:
    kept = json.loads((FOLDER / name / "brief.json").read_bytes())
    faults = [one.message[:200] for one in jsonschema.Draft202012Validator(schema()).iter_errors(kept)]
    assert faults == [], "rewrite with `python tests/test_samples.py --write` where the schema was meant to change"


def row_schema() -> dict[str, Any]:
    """What the published schema says of a row of the timeline."""
    items: dict[str, Any] = schema()["$defs"]["Brief"]["properties"]["timeline"]["items"]
    return items


def kind_of(value: Any) -> str:
    """What a reader of JSON sees: a number, a band, a flag, a text or nothing."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "flag"
    return "text" if isinstance(value, str) else "band" if isinstance(value, dict) else "number"


@pytest.mark.parametrize("name", NAMES)
def test_every_row_of_a_timeline_is_as_the_schema_says_key_by_key(name: str) -> None:
    rows = json.loads((FOLDER / name / "brief.json").read_bytes())["timeline"]
    assert rows
    # closed here: a key that the schema does not describe is no row of ours
    check = jsonschema.Draft202012Validator({**row_schema(), "additionalProperties": False})
    for row in rows:
        check.validate(row)


def test_the_schema_of_a_timeline_says_what_each_key_is_in_the_words_of_the_table_of_quantities() -> None:
    keys = row_schema()["properties"]
    seen = {(key, kind_of(value)) for name in NAMES for row in make(name).timeline for key, value in row.items()}
    for key, described in keys.items():
        assert described["description"]
        if key in ("at", "light", "precipitation"):
            continue
        quantity = QUANTITIES[key]
        assert described["description"].startswith(quantity.meaning)
        assert not quantity.unit or f", {quantity.unit}" in described["description"]
        kinds = {kind for known, kind in seen if known == key} - {"nothing"}
        assert len(kinds) <= 1, (key, kinds)
        told = "flag" if "boolean" in described.get("type", ()) else "band" if "anyOf" in described else "number"
        assert kinds <= {told}
    assert set(keys) == {key for key, _ in seen}


@pytest.mark.parametrize(
    ("key", "wrong"),
    [
        ("sun_elevation_deg", "low"),
        ("wind_kt", 12.0),
        ("wind_kt", {"low": 1.0, "central": 2.0}),
        ("snow", 1),
        ("light", "dusk"),
        ("at", "2027-01-10 05:25"),
    ],
)
def test_a_row_that_is_not_as_described_would_be_seen(key: str, wrong: object) -> None:
    row = json.loads((FOLDER / "quiet-day" / "brief.json").read_bytes())["timeline"][0]
    check = jsonschema.Draft202012Validator(row_schema())
    check.validate(row)
    assert not check.is_valid({**row, key: wrong})
    assert not check.is_valid({name: value for name, value in row.items() if name != key})


if __name__ == "__main__":
    if sys.argv[1:] != ["--write"]:
        sys.exit("usage: python tests/test_samples.py --write")
    for situation in NAMES:
        for file_name, data in outputs(situation).items():
            (FOLDER / situation / file_name).write_bytes(data)
    sys.stdout.write(f"{len(NAMES)} situations written\n")
