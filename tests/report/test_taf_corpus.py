"""Real forecasts: every group accounted for, periods and changes as avwx-engine has them, but for its faults.

Faults of avwx-engine, each seen in these forecasts or made up to show it:
- a bare PROB30 or PROB40 is taken as a period that prevails (FROM with a probability);
- FM256300 (no such minute) is taken as FM2515, and becomes a second period from that time;
- the minutes of an FM are left out: FM201030 becomes 10:00;
- 11/2SM is read as wind;
- groups behind an amendment number (AMD 1014) are lost.
"""

import json
import re
from datetime import UTC, date, datetime
from functools import cache
from math import isnan
from pathlib import Path

import pytest
from avwx.current.taf import parse

from advisor.report import taf
from advisor.report.forecast import spans

FILE = Path(__file__).parents[3] / "shared" / "corpus" / "tafs.jsonl"


def corpus(test):
    """Mark a test that needs the folder of real reports."""
    missing = pytest.mark.skipif(not FILE.exists(), reason="the folder of real reports is not beside the checkout")
    return pytest.mark.corpus(missing(test))


UNTIMED = "FM256300"


def known_time(raw):
    """A time just after the issue, in a month that has the day and 30 days where the forecast crosses its end."""
    day = int(re.search(r"\b(\d\d)\d{4}Z", raw)[1])
    return datetime(2022, 10 if day == 31 else 11, day, 23, 59, tzinfo=UTC)


@cache
def forecasts():
    rows = [json.loads(line)["raw"] for line in FILE.read_text(encoding="utf-8").splitlines()]
    return [(raw, taf.read(raw, now=known_time(raw))) for raw in rows]


def stamp(moment):
    return None if moment is None else f"{moment:%d%H%M}"


def ours(forecast):
    """Kind, start of the change, start, end and percent of each period and change, as avwx-engine names them."""
    found = [("FROM", None, stamp(one.start), None, None) for one in forecast.periods]
    for one in forecast.changes:
        percent = None if isnan(one.probability) else round(one.probability * 100)
        if one.certain == "becoming":
            found.append((one.indicator, stamp(one.start), stamp(one.end), None, None))
        else:
            found.append((one.indicator, None, stamp(one.start), stamp(one.end), percent))
    return sorted(found, key=str)


def theirs(raw, now):
    station = re.search(r"\b[A-Z]{4}\b(?= \d{6}Z)", raw)[0]
    data = parse(station, raw, issued=now.date())[0]
    found = []
    for line in data.forecast:
        start, end, change = (t.dt if t else None for t in (line.start_time, line.end_time, line.transition_start))
        percent = line.probability.value if line.probability else None
        # named fault: a bare probability is called FROM
        kind = f"PROB{percent}" if line.type == "FROM" and percent else line.type
        # avwx ends a period or a BECMG where the next one begins; we keep what is written
        end = None if kind in ("FROM", "BECMG") else end
        found.append((kind, stamp(change), stamp(start), stamp(end), percent))
    return sorted(found, key=str)


@corpus
def test_every_group_of_every_forecast_is_accounted_for_once():
    assert len(forecasts()) == 83
    for raw, forecast in forecasts():
        assert " ".join(group.text for group in forecast.groups) == forecast.raw == " ".join(raw.split())


@corpus
def test_only_broken_groups_are_not_decoded():
    left = {g.text for _, forecast in forecasts() for g in forecast.groups if g.status in ("conflict", "not decoded")}
    assert left == {
        # cut off by whoever stored them
        "[rest",
        "of",
        "string",
        "was",
        "truncated]&quot",
        "35025G35",
        # no such minute; an intensity that was not text
        UNTIMED,
        "?RA",
    }


@corpus
def test_periods_and_changes_are_those_of_a_second_reader():
    compared = with_minutes = 0
    for raw, forecast in forecasts():
        if forecast.nil:
            continue
        mine, other = ours(forecast), theirs(raw, known_time(raw))
        if UNTIMED in raw:
            mine.remove(("FM", "250600", "250900", None, None))
            other.remove(("FROM", None, "261500", None, None))
        bare = [row for row in mine if re.fullmatch(r"PROB\d\d", row[0])]
        if bare:
            # its end is lost with its kind
            other = [(*row[:3], None, row[4]) if row[0] == bare[0][0] else row for row in other]
            mine = [(*row[:3], None, row[4]) if row in bare else row for row in mine]
        with_minutes += sum(not row[2].endswith("00") for row in mine)
        mine = sorted(((*row[:2], f"{row[2][:4]}00", *row[3:]) for row in mine), key=str)
        assert mine == other, raw
        compared += 1
    assert (compared, with_minutes) == (78, 1)


@corpus
def test_prevailing_spans_cover_every_validity():
    for raw, forecast in forecasts():
        settled = [one for one in spans(forecast) if one.certain == "prevailing"]
        length = (forecast.valid_to - forecast.valid_from).total_seconds()
        assert sum(one.end_s - one.start_s for one in settled) == (0 if forecast.nil else length), raw


FAULTS = {
    "11/2SM is read as wind": ("24010KT 11/2SM BR OVC010", lambda lines: lines[0].visibility is None),
    "a bare probability prevails": (
        "24010KT P6SM OVC010 PROB40 1008/1010 1SM SN",
        lambda lines: [line.type for line in lines] == ["FROM", "FROM"],
    ),
    "groups behind an amendment number are lost": (
        "24010KT P6SM OVC010 AMD 1014 BECMG 1008/1010 24020KT 1SM SN",
        lambda lines: len(lines) == 1,
    ),
    "minutes of an FM are left out": (
        "24010KT P6SM OVC010 FM101030 24020KT 1SM SN",
        lambda lines: lines[1].start_time.dt.minute == 0,
    ),
}


@pytest.mark.parametrize(("text", "holds"), FAULTS.values(), ids=FAULTS)
def test_a_named_fault_of_the_second_reader_is_still_there(text, holds):
    # when one of these fails, its exception above can go
    assert holds(parse("KZZA", f"TAF KZZA 100500Z 1006/1112 {text}", issued=date(2026, 1, 10))[0].forecast)
