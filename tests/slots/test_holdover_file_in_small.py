"""A holdover file at the edges of what it may say: which rows hold, from when to when, and where it may lie."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest
from nights import NOW
from test_files import HEAD, HOLD, PAD, toml_faults

from advisor.departure import rfc3339
from advisor.errors import ChecklistError
from advisor.slots import inputs
from advisor.slots.files import holdover

OFF = "2027-01-10T06:00:00Z"


def test_a_fluid_that_no_row_is_for_is_named_where_the_file_names_its_own(tmp_path: Path) -> None:
    number = HOLD.splitlines().index('fluid = "invented fluid"') + 1
    found = toml_faults(tmp_path, HOLD, lambda path: holdover.load(path, NOW, NOW, "another", None))
    assert found == [f"{number}:9: fluid: no row for another, 100/0; name a fluid and dilution of the file"]
    found = toml_faults(tmp_path, HOLD, lambda path: holdover.load(path, NOW, NOW, None, "50/50"))
    assert "fluid: no row for invented fluid, 50/50" in found[0]


def test_rows_hold_for_their_own_fluid_and_dilution_or_that_of_the_file(tmp_path: Path) -> None:
    path = tmp_path / "h.toml"
    more = '\n[[row]]\ncategory = "light snow"\nfrom_c = -3\nlow = 33\nhigh = 33\n'
    path.write_text(HOLD + more + 'fluid = "B"\n' + more + 'dilution = "75/25"\n', encoding="utf-8")
    code = holdover.NAMES.index("light snow")

    def minutes(*used: str | None) -> float:
        return float(holdover.load(path, NOW, NOW, *used).minutes(code, 0.0))

    assert [minutes(), minutes("invented fluid"), minutes(None, "100/0")] == [45, 45, 45]
    assert minutes("B") == 33 and minutes(None, "75/25") == 33


def test_a_table_holds_from_its_first_day_to_the_end_of_its_last(tmp_path: Path) -> None:
    # 2026-10-01 to 2027-04-30
    first, last = 1_790_812_800, 1_809_129_600
    assert (rfc3339(first), rfc3339(last)) == ("2026-10-01T00:00:00Z", "2027-05-01T00:00:00Z")
    path = tmp_path / "h.toml"
    path.write_text(HOLD, encoding="utf-8")
    assert holdover.load(path, first, last - 1)
    early = "not in force before 2026-10-01, the plan begins 2026-09-30T23:59:59Z; load the table of the season"
    late = "out of season after 2027-04-30, the plan ends 2027-05-01T00:00:00Z; load the table of the season"
    for begin, end, said in ((first - 1, last - 1, early), (first, last, late)):
        with pytest.raises(ChecklistError, match=said):
            holdover.load(path, begin, end)


def test_a_row_may_lie_at_the_ends_of_its_ranges_and_not_beyond() -> None:
    def row(**values: float) -> holdover.HoldoverRow:
        base: dict[str, Any] = {"category": "frost", "low": 1, "high": 2, "from_c": 0}
        return msgspec.convert(base | values, holdover.HoldoverRow)

    for name, low, high, step in (
        ("from_c", -60, 60, 0.1),
        ("to_c", -60, 60, 0.1),
        ("low", 0, 1440, 1),
        ("high", 0, 1440, 1),
    ):
        assert [getattr(row(**{name: value}), name) for value in (low, high)] == [low, high]
        for value in (low - step, high + step):
            with pytest.raises(msgspec.ValidationError):
                row(**{name: value})


def test_a_table_is_invented_only_where_it_says_so(tmp_path: Path) -> None:
    path = tmp_path / "h.toml"
    path.write_text(HOLD.replace("invented = true\n", ""), encoding="utf-8")
    found = holdover.load(path, NOW, NOW)
    assert not found.invented and found.named().startswith("a publisher that does not exist, season invented 2026-27")
    assert found.note.startswith("The holdover times of this example are invented")


def test_bands_may_touch_and_rows_for_other_fluids_overlap(tmp_path: Path) -> None:
    path = tmp_path / "h.toml"
    light = '\n[[row]]\ncategory = "freezing drizzle"\nlow = 9\nhigh = 9\n'
    head = HOLD[: HOLD.index("[[row]]")]

    def load(*bands: str) -> int:
        path.write_text(head + "".join(light + band for band in bands), encoding="utf-8")
        return len(holdover.load(path, NOW, NOW).rows)

    assert load("from_c = -10\nto_c = -3\n", "from_c = -3\n", "from_c = -20\nto_c = -10\n") == 3
    assert load("from_c = -10\n", 'from_c = -10\nsurface = "x"\n', 'from_c = -10\nflaps = "x"\n') == 3
    for other in ("from_c = -3.1\n", "from_c = -20\nto_c = -9.9\n", "from_c = -9\nto_c = -8\n"):
        with pytest.raises(ChecklistError, match="overlaps another band"):
            load("from_c = -10\nto_c = -3\n", other)
    assert (
        toml_faults(
            tmp_path, head.replace("season =", "row = []\nseason =", 1), lambda one: holdover.load(one, NOW, NOW)
        )[0]
        .split(": ", 1)[1]
        .startswith("row: no rows")
    )


def test_a_band_begins_at_its_colder_end_and_stops_short_of_the_warmer() -> None:
    rows = (
        holdover.HoldoverRow("light snow", 20, 30, -10, -3),
        holdover.HoldoverRow("light snow", 25, 30, -3, None),
        holdover.HoldoverRow("light snow", 22, 30, -4, None, surface="x"),
    )
    found = holdover.Holdover("h", "s", "p", "f", "d", False, rows)
    code = holdover.NAMES.index("light snow")
    air = np.array([-10.1, -10.0, -4.0, -3.1, -3.0, 50.0])
    assert found.minutes(np.full(6, code), air).tolist()[1:] == [20, 20, 20, 22, 22]
    assert np.isnan(found.minutes(code, -10.1)) and found.named() == "p, season s, f d"


def test_a_holdover_file_beside_its_folder_is_refused_only_where_that_is_asked_for(tmp_path: Path) -> None:
    inner = tmp_path / "inner"
    inner.mkdir()
    (inner / "pads.toml").write_text('holdover = "../h.toml"\nplace = "60,25"\n' + PAD, encoding="utf-8")
    (tmp_path / "h.toml").write_text(HOLD, encoding="utf-8")
    (inner / "s.csv").write_text(f"{HEAD}\nZZ1,{OFF},glider\n", encoding="utf-8")
    report = "METAR ZZZA 100450Z 24008KT 9999 OVC020 M02/M03 Q0998"
    asked: dict[str, Any] = {"now": NOW, "pads_file": inner / "pads.toml"}
    assert inputs.read_night(inner / "s.csv", [report], **asked).table is not None
    with pytest.raises(ChecklistError, match="holdover leads out of its folder"):
        inputs.read_night(inner / "s.csv", [report], **asked, inside=True)
