"""What came of the advice: intervals against published ones, counts by hand, the page and the command."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from advisor.cli.main import main
from advisor.record.chain import START, Event, following
from advisor.record.outcomes import ENOUGH, outcomes, wilson
from advisor.record.store import Record
from advisor.record.walk import read
from advisor.render.outcomes import reliability
from tests.record.demo import SHARES, write
from tests.record.places import Clock, opening
from tests.web.site import client

# Newcombe 1998, Statistics in Medicine 17, 857-872, table I, method 3 (score, without correction) [memory]
PUBLISHED = {
    (81, 263): (0.2553, 0.3662),
    (15, 148): (0.0624, 0.1605),
    (0, 20): (0.0, 0.1611),
    (1, 29): (0.0061, 0.1718),
}


@pytest.mark.parametrize("case", PUBLISHED, ids=str)
def test_intervals_are_the_published_ones(case) -> None:
    assert wilson(*case) == pytest.approx(PUBLISHED[case], abs=0.00005)


def test_of_nothing_nothing_is_known() -> None:
    assert wilson(0, 0) == (0.0, 1.0)


def test_a_line_that_is_of_no_zone_misses_nothing() -> None:
    found = outcomes([walk({"torch": ("", "expected")}, {"zone": "tail", "found": "ice"})])
    assert [(rule.id, rule.missed) for rule in found.rules] == [("torch", 0)]


@given(of=st.integers(1, 500), part=st.floats(0, 1))
def test_an_interval_holds_its_share_and_turns_with_it(of, part) -> None:
    count = round(of * part)
    low, high = wilson(count, of)
    assert 0 <= low <= count / of <= high <= 1
    # what was not found has the mirrored interval
    assert wilson(of - count, of) == pytest.approx((1 - high, 1 - low))


def walk(lines: dict[str, tuple[str, str]], *said: dict, month: str = "2027-01", signed: bool = True):
    """lines: id to zone and status; said: findings in order."""
    rows = [
        {"id": name, "kind": "checkpoint", "status": status, "weight": "must", "zone": zone, "text": ""}
        for name, (zone, status) in lines.items()
    ]
    at = f"{month}-10T06:00:00Z"
    made: list[Event] = [following((0, START), at, "opened", opening("w", lines=rows).data)]
    for one in said:
        made.append(following((made[-1].seq, made[-1].hash), at, "found", {"walk": "w", **one}))
    if signed:
        made.append(following((made[-1].seq, made[-1].hash), at, "signed", {"walk": "w", "by": "A", "role": "p"}))
    return read(made)


def test_counts_worked_by_hand() -> None:
    wing, tail = {"wing": ("wings", "expected")}, {"tail-look": ("tail", "possible")}
    found = outcomes(
        [
            walk(wing | tail, {"line": "wing", "found": "frost"}, {"line": "tail-look", "found": "nothing seen"}),
            walk(wing | tail, {"line": "wing", "found": "nothing seen"}),
            # a zone's finding counts for the line that asks to look there
            walk(wing | tail, {"zone": "tail", "found": "ice"}, month="2027-02"),
            # found first, then gone: it was there
            walk(wing, {"line": "wing", "found": "ice"}, {"line": "wing", "found": "nothing seen"}),
            # nobody had asked to look at the tail
            walk(wing, {"zone": "tail", "found": "snow"}, signed=False),
            # looked at where nobody had asked, and nothing seen: no miss
            walk(wing, {"zone": "tail", "found": "nothing seen"}),
        ]
    )
    rules = {rule.id: rule for rule in found.rules}
    one, two = rules["wing"], rules["tail-look"]
    assert (one.advised, one.found, one.not_found, one.not_looked_at, one.missed) == (6, 2, 1, 3, 0)
    assert (two.advised, two.found, two.not_found, two.not_looked_at, two.missed) == (3, 1, 1, 1, 1)
    assert [(miss.zone, miss.found, miss.count) for miss in found.missed] == [("tail", "snow", 1)]
    assert (found.walks, found.signed) == (6, 5)
    assert [(group.name, group.walks, group.found) for group in found.by_month] == [
        ("2027-01", 5, 2),
        ("2027-02", 1, 1),
    ]
    # January: the wing asked for five times and the tail twice, four of them looked at
    told = ("advised", "found", "not_found", "not_looked_at", "missed")
    assert [tuple(getattr(group, name) for name in told) for group in found.by_month] == [
        (7, 2, 2, 3, 1),
        (2, 1, 0, 1, 0),
    ]
    assert [(group.share.count, group.share.of) for group in found.by_month] == [(2, 4), (1, 1)]
    assert (one.share.count, one.share.of) == (2, 3)
    # what nobody looked at is in no share
    assert one.share.low < 2 / 3 < one.share.high


def test_the_call_for_treatment_counts_what_was_found_anywhere() -> None:
    call = {"de-icing-request": ("wings", "expected"), "wing": ("wings", "expected")}
    found = outcomes(
        [
            walk(call, {"line": "wing", "found": "ice"}),
            walk(call, {"line": "wing", "found": "nothing seen"}),
            walk(call, {"line": "wing", "found": "damage"}),
            walk(call, {"line": "wing", "found": "nothing seen"}, signed=False),
        ]
    )
    rule = next(rule for rule in found.rules if rule.id == "de-icing-request")
    assert (rule.found, rule.not_found, rule.not_looked_at) == (1, 2, 1)


@pytest.fixture(scope="module")
def winter(tmp_path_factory):
    folder = tmp_path_factory.mktemp("winter")
    clock = Clock("2026-11-01T05:00:00+00:00")
    record = Record(f"sqlite:///{folder / 'record.sqlite'}", clock)
    write(record, clock, 400, seed=1)
    record.close()
    return folder


def test_an_invented_winter_gives_back_what_it_was_drawn_from(winter) -> None:
    done = CliRunner().invoke(main, ["record", "outcomes", "--data", str(winter), "--format", "json"])
    found = json.loads(done.stdout)
    assert found["invented"] is True and found["walks"] == 400
    held = [
        one["share"]["low"] <= SHARES[one["status"]] <= one["share"]["high"]
        for rule in found["rules"]
        for one in rule["by_status"]
    ]
    # 95 % of intervals hold the truth: of 12, 9 or fewer would come once in 5000 winters
    assert len(held) == 12 and sum(held) >= 10
    assert found["missed"][0]["zone"] == "left-engine"
    assert {group["name"] for group in found["by_station"]} == {"ZZZA", "ZZZB", "ZZZC"}


def test_the_command_and_the_page_mark_invented_data(winter) -> None:
    done = CliRunner().invoke(main, ["record", "outcomes", "--data", str(winter)])
    assert done.exit_code == 0 and done.output.startswith("INVENTED")
    with client(data=winter, database=f"sqlite:///{winter / 'record.sqlite'}") as site:
        page = site.get("/outcomes")
    assert page.status_code == 200 and "Invented demonstration data" in page.text
    assert page.text.count("<svg") == 2 and "style=" not in page.text


def test_reliability_is_drawn_from_fifty_of_each_on() -> None:
    def winter_of(count: int):
        lines = {"wing": ("wings", "likely"), "tail-look": ("tail", "possible")}
        said = ({"line": "wing", "found": "ice"}, {"line": "tail-look", "found": "nothing seen"})
        return outcomes([walk(lines, *said) for _ in range(count)])

    assert ENOUGH == 50
    assert reliability(winter_of(49)) is None
    assert [name for name, _ in reliability(winter_of(50))] == ["expected", "likely", "possible"]


def test_an_empty_record_says_so(tmp_path) -> None:
    Record(f"sqlite:///{tmp_path / 'record.sqlite'}", Clock()).close()
    done = CliRunner().invoke(main, ["record", "outcomes", "--data", str(tmp_path)])
    assert done.exit_code == 0 and done.output.startswith("0 walks")


def test_a_miss_counts_for_rules_of_its_zone_alone() -> None:
    # a walk that asks for the tail alone misses ice on the wings; a nose that nobody asked for has no part in it
    found = outcomes(
        [
            walk({"wing": ("wings", "expected"), "nose-look": ("nose", "possible")}, {"line": "wing", "found": "ice"}),
            walk({"tail-look": ("tail", "possible")}, {"zone": "wings", "found": "ice"}),
        ]
    )
    missed = {rule.id: rule.missed for rule in found.rules}
    assert missed == {"wing": 1, "nose-look": 0, "tail-look": 0}


def test_what_is_not_looked_at_on_a_walk_is_not_counted_until_somebody_answers_it() -> None:
    at = "2027-01-10T06:00:00Z"
    plain = {"status": "expected", "weight": "must", "zone": "", "text": "Text"}
    lines = [{**plain, "id": "gloves", "kind": "gear"}, {**plain, "id": "wing", "kind": "checkpoint", "zone": "wings"}]
    first = following((0, START), at, "opened", opening("w", lines=lines).data)
    silent = read([first])
    said = following((first.seq, first.hash), at, "found", {"walk": "w", "line": "gloves", "found": "damage"})
    answered = read([first, said])
    assert [rule.id for rule in outcomes([silent]).rules] == ["wing"]
    assert [(rule.id, rule.found) for rule in outcomes([answered]).rules] == [("gloves", 1), ("wing", 0)]
