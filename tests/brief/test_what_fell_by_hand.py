"""What fell on an aircraft that stood outside is the reason that is given, with the time of the report that began it.

Nights of an invented place, each small enough to say by hand what lies there at five. That what fell frozen or froze
stays in air below zero, and that a treatment takes it off, is common practice, with no source.
"""

from __future__ import annotations

import pytest

from advisor import advise
from advisor.render.headline import headline
from advisor.render.reasons import reason

COLD = "METAR ZZZA 010450Z 35005KT 9999 OVC030 M03/M06 Q1010"
CLEAR = "METAR ZZZA 010450Z 35005KT 9999 SKC M08/M10 Q1010"
FREEZING = "METAR ZZZA 312320Z 05010KT 4000 -FZRA OVC009 M01/M01 Q1001"
SNOW = "METAR ZZZA 010020Z 03012KT 1500 SN OVC006 M02/M03 Q1003"
ON = "METAR ZZZA 312350Z 05010KT 3000 -FZRA OVC009 M01/M01 Q1001"
RAIN = "METAR ZZZA 312320Z 05010KT 4000 RA OVC009 01/01 Q1001"
MILD = tuple(f"METAR ZZZA 01{hour:02d}20Z 20015KT 9999 SCT030 08/02 Q1003" for hour in range(5))
PARKED = {"parked_since": "2026-12-31T21:00Z"}


def night(*reports: str, **more: str):
    asked = {"now": "2027-01-01T05:00Z", "off_block": "0615Z", "place": "61.4,9.8", **PARKED, **more}
    return advise(list(reports), **{name: value for name, value in asked.items() if value})


def call(brief) -> str:
    line = next((one for one in brief.advice if one.id == "de-icing-request"), None)
    return "" if line is None else reason(line, brief)


@pytest.mark.parametrize(
    ("reports", "said"),
    [
        ((FREEZING, COLD), "freezing rain fell from 31/2320Z"),
        # one spell over two reports, from its first
        ((FREEZING, ON, COLD), "freezing rain fell from 31/2320Z"),
        ((SNOW, COLD), "snow fell from 0020Z"),
        # the graver of the two
        ((FREEZING, SNOW, COLD), "freezing rain fell from 31/2320Z"),
    ],
)
def test_what_fell_while_it_stood_there_is_the_reason(reports, said):
    assert call(night(*reports)) == said


def test_what_fell_is_said_before_the_frost_that_forms_beside_it():
    brief = night(SNOW, CLEAR)
    first, _, second = call(brief).partition("; ")
    assert first == "snow fell from 0020Z" and second.startswith("skin about")
    assert {"frost", "lying-snow"} <= {one.key for one in brief.hazards}
    assert "snow from before expected throughout" in " ".join(headline(brief)).lower()


@pytest.mark.parametrize(
    ("reports", "more"),
    [
        # it came later
        ((FREEZING, COLD), {"parked_since": "2027-01-01T03:00Z"}),
        # it was treated since
        ((FREEZING, COLD), {"treated_at": "0400Z"}),
        # hours at 8 °C: it melted, and frost alone is left
        ((FREEZING, *MILD, CLEAR), {}),
        # rain is wet, and freezes; it fell as nothing frozen
        ((RAIN, COLD), {}),
    ],
)
def test_what_did_not_fall_on_it_or_has_gone_is_no_reason(reports, more):
    brief = night(*reports, **more)
    assert "fell" not in call(brief)
    assert not any("fell" in item.cause for line in brief.advice for item in line.because)


def test_where_nobody_said_since_when_it_stood_outside_it_may_have_fallen_on_it():
    brief = night(FREEZING, COLD, parked_since="")
    assert [one.status for one in brief.advice if one.id == "de-icing-request"] == ["possible"]
    assert call(brief) == "freezing rain fell from 31/2320Z"


def test_of_a_spell_that_had_begun_when_it_was_parked_the_report_that_began_it_is_named():
    brief = night(FREEZING, ON, COLD, parked_since="2026-12-31T23:40Z")
    assert call(brief) == "freezing rain fell from 31/2320Z"


def test_rain_that_froze_is_still_called_wet():
    assert call(night(RAIN, COLD)).startswith("wet, then at or below 0 °C")


def test_of_what_is_due_now_the_call_for_de_icing_is_named_first():
    """Half an hour before off-block: water should have been drained hours ago, and the truck decides the flight."""
    brief = night(FREEZING, SNOW.replace("010020Z", "010450Z"), off_block="0530Z")
    due = {line.id: line.by for line in brief.advice if line.part == "call" and line.weight == "must" and line.by}
    assert due["water-drain"] < due["de-icing-request"] < brief.now
    assert "First call now: de-icing." in " ".join(headline(brief))
    # with the truck still ahead what is due now comes first
    assert "First call now: water and waste drained; by 0530Z: de-icing." in " ".join(headline(night(FREEZING, COLD)))
