"""What a whole brief says, notes and reasons included: spans, terms, and no words that readers stumbled over."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from advisor import advise
from advisor.brief.model import Brief
from advisor.render.text import render

SAMPLES = sorted((Path(__file__).parents[2] / "sample_reports").glob("*/departure.toml"))
WHEN = {"now": "2027-01-10T05:25:00Z", "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}
METAR = "METAR ZZZA 100520Z 24008KT 9999 FEW030 M01/M02 Q1013"
# texts and what is asked: each brings notes of its own
NOTED = {
    "old": (["METAR ZZZA 100050Z 24008KT 9999 FEW030 M01/M02 Q1013"], {}),
    "two stations": ([METAR, METAR.replace("ZZZA", "ZZZB")], {}),
    "parked, with gaps": ([METAR], {"parked_since": "2027-01-08T02:00:00Z"}),
    "another station's forecast": ([METAR, "TAF ZZZB 100500Z 1005/1106 24008KT 9999 FEW030"], {}),
    "cancelled forecast": ([METAR, "TAF AMD ZZZA 100515Z 1005/1106 CNL"], {}),
    "differing forecast": ([METAR, "TAF ZZZA 100500Z 1005/1106 24030KT 2000 -SN BKN010"], {}),
    "short forecast": ([METAR, "TAF ZZZA 092300Z 1000/1006 24008KT 9999 FEW030"], {}),
    "only a forecast": (["TAF ZZZA 100500Z 1005/1106 24008KT 9999 FEW030"], {}),
    "nothing known": (["METAR ZZZA 100520Z AUTO /////KT //// // ////// ///// Q1013"], {}),
    "seen": ([METAR], {"seen": "frost", "treated_at": "2027-01-10T04:50:00Z", "fuel_temperature": -6}),
    "late": ([METAR.replace("0520Z", "0545Z")], {"off_block": "2027-01-10T05:40:00Z"}),
    "gale": (["METAR ZZZA 100520Z 24038G55KT 9999 FEW030 06/02 Q1013"], {"heading": 240}),
}
# by pattern, what is right instead; report texts and the checklist's name do not count
WRONG = {
    r"\d{4}Z?-\d{4}Z|\d{4}Z to \d{4}Z": "a span is 0555–0615Z",
    r"\bunknown\b": "not known",
    r"\bdeposits?\b|\bcontaminat": "frost, snow or ice",
    r"\bperhaps\b|\bmaybe\b": "possible",
    r"\bby −\d|\bto −[\d.]+ °C below|\bbelow [^.;()]* by\b": "words for a sign: over, under, below",
    r"\bwas due\b|\bgravest\b|\bnothing of a report\b|\blies is not known\b": "readers stumbled over it",
    r"\b(?:report not here|hangar out|steps ice|dust sand|re check)\b": "an id is no name",
    r"\bis (?:clean|safe)\b|\bclear of ice\b|\bice-free\b": "nothing is promised",
}


def told(brief: Brief) -> str:
    """The text of a brief in one run, without what the reports themselves say."""
    whole = " ".join(render(brief, full=True).split())
    for raw in sorted((report.raw for report in brief.reports), key=len, reverse=True):
        whole = whole.replace(" ".join(raw.split()), "")
    return whole


def faults(brief: Brief) -> list[str]:
    """What is worded wrongly, with what would be right."""
    said = told(brief)
    return [f"{found[0]}: {right}" for wrong, right in WRONG.items() if (found := re.search(wrong, said))]


@pytest.mark.parametrize("name", NOTED)
def test_notes_and_reasons_keep_to_one_word_for_one_thing(name: str) -> None:
    texts, asked = NOTED[name]
    brief = advise(texts, **{**WHEN, **asked})
    assert faults(brief) == []
    # a note is a sentence, or several
    assert all(note[0].isupper() and note.endswith(".") for note in brief.notes), brief.notes


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.parent.name)
def test_no_sample_is_worded_in_a_way_that_readers_stumbled_over(path: Path) -> None:
    text = (path.parent / "report.txt").read_text(encoding="utf-8")
    assert faults(advise(text, **tomllib.loads(path.read_text(encoding="utf-8"))["ask"])) == []


def test_the_patterns_notice_what_was_said_once() -> None:
    for once in (
        "Walk 0555Z-0615Z",
        "air unknown",
        "a deposit was seen",
        "below the lowest limit by −24 to −19 kt",
        "skin up to −17.1 °C below where frost forms, below it by 3",
        "Now, was due 1015Z",
        "Without the station's position: report not here",
        "Where ZZZE lies is not known",
    ):
        assert any(re.search(wrong, once) for wrong in WRONG), once
