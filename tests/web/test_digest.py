"""The first view's four answers say what the brief says, and never more."""

from __future__ import annotations

from datetime import datetime

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import advisor
from advisor.render import door_words, listing
from advisor.web import digest
from tests.web.site import NOW, PLACE, POOR, QUIET, WORST


def brief(report: str, **more: object):
    return advisor.advise([report], off_block="0640Z", now=datetime.fromisoformat(NOW), place=PLACE, **more)


@pytest.fixture(scope="module")
def worst():
    return brief(WORST)


def words(answer) -> str:
    rows = (f"{row.lead}: " + ", ".join(said for said, _ in row.items) for row in answer.rows)
    return f"{answer.verdict} | " + " | ".join(rows)


def test_heavy_snow_says_stop_with_the_reason_in_full(worst) -> None:
    answer = digest.stop(worst)
    assert (answer.verdict, answer.tone) == ("yes", digest.GRAVE)
    line = next(line for line in worst.advice if line.id == "no-holdover")
    assert line.text in words(answer)


def test_a_quiet_day_does_not_claim_that_nothing_can_happen() -> None:
    answer = digest.stop(brief(QUIET))
    assert (answer.verdict, answer.tone, answer.rows) == ("no reason given", digest.PLAIN, ())


def test_missing_groups_make_the_answer_cannot_tell_never_calm() -> None:
    made = brief(POOR)
    for answer in (digest.stop(made), digest.doors(made)):
        assert (answer.verdict, answer.tone) == ("cannot tell", digest.UNKNOWN)
    assert "thunderstorm" in words(digest.stop(made))


def test_the_call_is_the_one_for_de_icing_and_all_else_stands_under_its_latest_time(worst) -> None:
    # the checklist's own lead time: 45 min before off-block at 0640Z
    answer = digest.calls(worst, NOW)
    assert (answer.verdict, answer.by) == ("de-icing by 0555Z", "2027-01-10T05:55:00Z")
    rows = {row.lead: [said for said, _ in row.items] for row in answer.rows}
    assert answer.rows[0].lead == "Late, now"
    assert "wing and logo lights" in rows["0555Z"] and "de-icing" not in rows["0555Z"]


@pytest.mark.parametrize(
    ("status", "before", "after"),
    [
        ("expected", "de-icing by 0555Z", "de-icing now"),
        ("likely", "de-icing likely, by 0555Z", "de-icing likely, now"),
        ("possible", "de-icing possible, by 0555Z", "de-icing possible, now"),
    ],
)
def test_the_call_says_how_sure_it_is_and_when_its_time_has_passed(worst, status, before, after) -> None:
    made = with_status(worst, "de-icing-request", status)
    first, then = digest.calls(made, "2027-01-10T05:30:00Z"), digest.calls(made, "2027-01-10T05:56:00Z")
    assert (first.verdict, first.tone, first.late) == (before, digest.MIND, after)
    assert (then.verdict, then.tone) == (after, digest.GRAVE)


def with_status(brief, name: str, status: str):
    lines = [msgspec.structs.replace(line, status=status) if line.id == name else line for line in brief.advice]
    return msgspec.structs.replace(brief, advice=tuple(lines))


def test_without_a_de_icing_line_no_call_is_claimed_needless(worst) -> None:
    lines = tuple(line for line in worst.advice if line.id != "de-icing-request")
    without = msgspec.structs.replace(worst, advice=lines)
    assert digest.calls(without, NOW).verdict == "no de-icing named"
    loosened = msgspec.structs.replace(without, loosened=("de-icing-request",))
    assert "operator" in digest.calls(loosened, NOW).verdict


def test_what_is_not_sure_says_so_in_every_answer(worst) -> None:
    for status in ("likely", "possible"):
        assert f"torch ({status})" in words(digest.take(with_status(worst, "torch", status)))
    only = msgspec.structs.replace(worst, advice=tuple(line for line in worst.advice if line.id == "no-holdover"))
    assert digest.stop(with_status(only, "no-holdover", "likely")).verdict == "likely"


def test_the_torch_is_named_first_as_a_must_at_night(worst) -> None:
    answer = digest.take(worst)
    assert answer.rows[0].items[0] == ("torch", True)
    assert answer.verdict.startswith(str(sum(line.kind == "gear" for line in worst.advice)))


@pytest.mark.parametrize(
    ("wind", "verdict"),
    [("24004KT", "below the limits"), ("24028G45KT", "leave shut"), ("24024KT", None), ("/////KT", "cannot tell")],
)
def test_doors_answer_by_the_worst_door(wind, verdict) -> None:
    made = brief(f"METAR ZZZA 100520Z {wind} 9999 FEW020 05/02 Q1013")
    answer = digest.doors(made)
    if verdict is not None:
        assert answer.verdict == verdict
    worst = min((door.status for door in made.doors), key=door_words.DOOR_ORDER.index)
    assert (answer.tone == digest.PLAIN) == (worst == "within")


def test_doors_of_several_statuses_are_counted_and_all_of_them_appear() -> None:
    made = brief("METAR ZZZA 100520Z 24028G37KT 9999 FEW020 05/02 Q1013")
    mixed = tuple(
        msgspec.structs.replace(door, status=status)
        for door, status in zip(made.doors, ("exceeded",) * 3 + ("within", "cannot tell", "possible"), strict=True)
    )
    answer = digest.doors(msgspec.structs.replace(made, doors=mixed))
    assert answer.verdict == "leave some shut"
    assert len(answer.rows) == 4
    assert "3 of 6 doors: above" in words(answer)


def test_a_door_that_may_be_opened_but_not_left_is_not_called_below_its_limits() -> None:
    made = brief(QUIET)
    doors = tuple(msgspec.structs.replace(door, stay_open_status="exceeded") for door in made.doors)
    answer = digest.doors(msgspec.structs.replace(made, doors=doors))
    assert (answer.verdict, answer.tone) == ("not to be left open", digest.MIND)
    assert "above the limit for staying open" in words(answer)


def test_a_profile_without_doors_says_so() -> None:
    assert digest.doors(brief(WORST, aircraft="uncrewed")).verdict == "none in the profile"


@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(
    wind=st.sampled_from(["/////KT", "24004KT", "24018G30KT", "24045G65KT", "VRB02KT"]),
    weather=st.sampled_from(["", "//", "+TSSN", "FZRA", "VCTS", "+SN FZFG", "-RA", "VA"]),
    sky=st.sampled_from(["CAVOK", "//////", "BKN010CB", "VV001"]),
    air=st.sampled_from(["M03/M04", "/////", "14/06", "02/01", "35/20"]),
)
def test_no_line_of_the_four_questions_is_lost_on_the_first_view(wind, weather, sky, air) -> None:
    visibility = "" if sky == "CAVOK" else " 0400"
    made = brief(f"METAR ZZZA 100520Z {wind}{visibility} {weather} {sky} {air} Q1000")
    shown = {answer.id: words(answer) for answer in digest.answers(made, NOW)}
    for line in made.advice:
        where = "stop" if line.stop else {"request": "calls", "gear": "take"}.get(line.kind)
        if where is not None:
            assert line.part == "start" or line.short in shown[where] or line.text in shown[where]


def test_what_cannot_be_told_is_folded_by_the_input_that_is_missing() -> None:
    made = brief(POOR)
    folded = dict(listing.folded(made))
    untold = [line for line in made.advice if line.status == "cannot tell"]
    # what hangs on something that nobody stated is named in the line that says so
    asked = listing.unstated(made).count(",") + listing.unstated(made).count("(")
    assert sum(len(lines) for lines in folded.values()) + asked >= len(untold)
    assert any("wind" in inputs for inputs in folded)
