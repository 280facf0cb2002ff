"""A fault in a file is named where it lies: which line of a schedule is no text, which end of a band is wrong."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest
from nights import EXAMPLE, FLEET, NOW

from advisor.errors import ChecklistError, DepartureError
from advisor.slots import inputs
from advisor.slots.files import holdover, schedule
from advisor.slots.night import Night

HEAD = b"flight,off_block,aircraft\n"
LINE = b"ZZ1,2027-01-10T06:00:00Z,single-aisle-jet\n"


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("before", [b"", HEAD, HEAD + LINE, HEAD + LINE + LINE])
def test_a_schedule_that_is_no_text_names_the_line_of_its_first_bad_byte(
    tmp_path: Path, before: bytes, mark: bytes
) -> None:
    path = tmp_path / "s.csv"
    path.write_bytes(mark + before + b"\xe9ZZ2,\n" + LINE + b"\xff")
    with pytest.raises(DepartureError) as caught:
        schedule.read(path, FLEET, NOW)
    number = len(before.splitlines()) + 1
    assert str(caught.value).startswith(f"{path}:{number}:1: not UTF-8")


@pytest.mark.parametrize("warm", ["-14", "-20"])
def test_a_band_of_air_temperature_whose_warm_end_is_not_warmer_names_that_end(tmp_path: Path, warm: str) -> None:
    text = EXAMPLE.joinpath("holdover.toml").read_text(encoding="utf-8")
    lines = text.splitlines()
    at = next(number for number, line in enumerate(lines) if line == "from_c = -14")
    assert lines[at + 1].startswith("to_c = ")
    lines[at + 1] = f"to_c = {warm}"
    path = tmp_path / "h.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    with pytest.raises(ChecklistError) as caught:
        holdover.load(path, NOW, NOW + 3600)
    # lines and columns count from 1; the value stands behind "to_c = "
    first = str(caught.value).splitlines()[0]
    assert first.startswith(f"{path}:{at + 2}:8: row[") and ".to_c: lies at or below from_c" in first


@pytest.mark.parametrize(("until", "refused"), [("2027-01-11", False), ("2027-01-10", True)])
def test_a_holdover_table_has_to_hold_until_the_last_departure_of_the_night(
    tmp_path: Path, until: str, refused: bool
) -> None:
    """The first leaves at 2300Z on the tenth, the last at 0100Z on the eleventh."""
    for path in EXAMPLE.iterdir():
        shutil.copyfile(path, tmp_path / path.name)
    text = (tmp_path / "holdover.toml").read_text(encoding="utf-8")
    text = text.replace("valid_until = 2027-04-30", f"valid_until = {until}")
    (tmp_path / "holdover.toml").write_text(text, encoding="utf-8")
    last = b"ZZ2,2027-01-11T01:00:00Z,single-aisle-jet\n"
    (tmp_path / "schedule.csv").write_bytes(HEAD + LINE.replace(b"T06", b"T23") + last)

    def read() -> Night:
        now = int(datetime(2027, 1, 10, 22, tzinfo=UTC).timestamp())
        report = "METAR ZZZA 102150Z 24008KT 9999 -SN OVC020 M02/M03 Q0998"
        files = tmp_path / "schedule.csv", [report]
        return inputs.read_night(*files, now=now, pads_file=tmp_path / "pads.toml", place="61.4,9.8")

    if refused:
        with pytest.raises(ChecklistError, match="valid_until: out of season after 2027-01-10"):
            read()
    else:
        assert read().table is not None
