"""What the night is about, in three lines at most: hazards with their times, what decides, the first call. Pure."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from advisor.brief.hazards import PAST
from advisor.brief.model import Advice, Brief, HazardOut
from advisor.brief.order import TREATMENT_RULE
from advisor.render import reasons, words

MOST_HAZARDS = 4
# of a brief for planning, which lists them all by time
MOST_AHEAD = 2
# hazards that no weather code tells
FOLLOWS = (
    *PAST,
    "frost",
    "tank-frost",
    "seen",
    "lying-snow",
    "deposit",
    "refreezing",
    "slippery",
    "gust",
    "heat",
    "cold",
)
# what is said with no time, or with its own
TIMELESS = (*PAST, "seen")
# what nobody reported, worked out only: also where every case has it, it is said to be expected
ESTIMATED = ("frost", "tank-frost", "lying-snow", "deposit", "refreezing", "slippery", "heat", "cold")
# further ahead than this a brief is for planning (ours)
NIGHT_BEFORE = timedelta(hours=3)
NO_REASON = "No reason for de-icing is indicated; only a look tells."
_SURE = ("expected", "likely", "possible")


def headline(brief: Brief) -> tuple[str, ...]:
    """At most three sentences or groups of sentences, the gravest first."""
    decides, calls = _decides(brief), _calls(brief)
    if decides == NO_REASON:
        # on a quiet day one line says both
        decides, calls = f"{decides} {calls}".strip(), ""
    hazards = _hazards(brief, MOST_AHEAD if night_before(brief) else MOST_HAZARDS)
    return tuple(said for said in (hazards, decides, calls) if said)


def night_before(brief: Brief) -> bool:
    """Whether a brief is for planning, more than three hours ahead: its hazards have a part of their own, by time."""
    ahead = datetime.fromisoformat(brief.windows.off_block) - datetime.fromisoformat(brief.now)
    return ahead > NIGHT_BEFORE


def hazard_said(hazard: HazardOut, brief: Brief) -> str:
    """A hazard with how sure it is and when, as "snow likely 0610–0700Z"."""
    groups = f" (by {', '.join(hazard.groups)})" if hazard.groups else ""
    return f"{named(hazard)}{_when(hazard, brief)}{groups}"


def named(hazard: HazardOut) -> str:
    """A hazard with how sure it is; what was reported and holds in every case needs no such word."""
    told = hazard.key == "seen" or (hazard.key in PAST and hazard.status == "likely")
    plain = told or (hazard.status == "expected" and hazard.key not in ESTIMATED)
    return hazard.words if plain else f"{hazard.words} {hazard.status}"


def _when(hazard: HazardOut, brief: Brief) -> str:
    """When it is there in the central case, and in any where that is a longer time."""
    if hazard.key in TIMELESS:
        return ""
    surer, widest = (
        _stretch(begins, ends, brief)
        for begins, ends in ((hazard.surer_from, hazard.surer_until), (hazard.from_, hazard.until))
    )
    return surer if surer == widest else f"{surer}, possible{widest}"


def _stretch(first: str, last: str, brief: Brief) -> str:
    begins, ends = first <= brief.now, last >= brief.windows.take_off
    if begins and ends:
        return " throughout"
    if begins:
        return f" until {words.moment(last, brief.now)}"
    if ends:
        return f" from {words.moment(first, brief.now)}"
    return f" {words.span(first, last, brief.now)}"


def _hazards(brief: Brief, most: int) -> str:
    left = [one for one in brief.hazards if one.key != "dark" or one.until > brief.now]
    ranked = sorted(left, key=lambda one: _SURE.index(one.status) if one.key == "dark" else 0)
    grave = [one for one in ranked if one.key not in ("dark", "rain", "drizzle", "fog")][:most]
    mild = [one for one in ranked if one not in grave and one.key in ("dark", "rain", "drizzle", "fog")]
    told = [*grave, *mild[: max(1, most - len(grave))]] if most == MOST_HAZARDS or not grave else grave
    unknown = [name for name in ("precipitation", "air_temperature_c", "wind_kt") if name in brief.missing]
    if any(one.key not in FOLLOWS for one in grave):
        # what falls or blows is told; of what else it may be the lines speak
        unknown = [name for name in unknown if name != "precipitation"]
    if any(one.key == "gust" and one.status != "possible" and one.surer_from <= brief.now for one in grave):
        # what blows now is told; of a gust that a forecast brings later it is not
        unknown = [name for name in unknown if name != "wind_kt"]
    phrases = [hazard_said(one, brief) for one in told]
    if not grave and not unknown:
        # of what a lost sky or wind may hide nothing is claimed
        stormy = " or freezing" if _storm_untold(brief) else ", freezing or stormy"
        phrases.insert(0, f"nothing frozen{stormy} {_told_by(brief)} for this time")
    lacking = [f"{_untold(name, brief)} not known" for name in unknown]
    blows = any(one.key == "gust" and one.surer_from <= brief.now for one in grave)
    if "gust_kt" in brief.missing and not blows and (gust := _gust_untold(brief)):
        lacking.append(gust)
    if "obscuration" in brief.missing:
        lacking.append("fog not ruled out")
    return _sentence("; ".join([*lacking, *phrases]))


def _untold(name: str, brief: Brief) -> str:
    when = words.untold_when(name, brief)
    bare = "weather" if name == "precipitation" and when else words.INPUTS[name]
    return f"{when} {bare}".lstrip()


def _gust_untold(brief: Brief) -> str:
    """A gust that is not known beside a wind that is; "" where the wind says it."""
    wind_lost, when = "wind_kt" in brief.missing, words.untold_when("gust_kt", brief)
    if wind_lost and (when or not words.untold_when("wind_kt", brief)):
        return ""
    return f"{when} gust not known".lstrip()


def _storm_untold(brief: Brief) -> bool:
    """Whether a reason to wait or stop cannot be told for anything but weather that nobody foresaw."""
    return any(line.stop and line.status == "cannot tell" and {*line.missing} - {"forecast"} for line in brief.advice)


# a trend or a forecast tells of what comes
_AHEAD = re.compile(r"(?<!\S)(NOSIG|BECMG|TEMPO)(?!\S)")


def _told_by(brief: Brief) -> str:
    """Whether somebody reported, forecast, or both."""
    used = [report for report in brief.reports if report.used]
    reported = any(report.kind != "TAF" for report in used)
    forecast = any(report.kind == "TAF" or _AHEAD.search(report.raw) for report in used)
    return " or ".join(word for word, there in (("reported", reported), ("forecast", forecast)) if there)


def _decides(brief: Brief) -> str:
    stops = [line for line in brief.advice if line.part == "stop"]
    untold = next((line for line in brief.advice if line.stop and line.status == "cannot tell" and line.missing), None)
    sentences = []
    treatment = next((line for line in brief.advice if line.id == TREATMENT_RULE), None)
    if untold is not None and not stops:
        lacking = _inputs(untold, brief)
        both = treatment is not None and treatment.status == "cannot tell" and _inputs(treatment, brief) == lacking
        what = "to wait or stop, and whether de-icing is needed," if both else "to wait or stop"
        sentences.append(f"Whether {what} cannot be told without {lacking}.")
        if both:
            return sentences[0]
    if stops:
        sentences.append(f"Wait or stop: {'; '.join(_short(line) for line in stops[:3])}.")
    sentences.append(_treatment(treatment, brief))
    return " ".join(sentences)


def _treatment(line: Advice | None, brief: Brief) -> str:
    if line is None:
        untold = next((one for one in brief.advice if one.part == "walk" and one.status == "cannot tell"), None)
        if untold is None:
            return NO_REASON
        lacking = f"{untold.short} cannot be told without {_inputs(untold, brief)}"
        return f"No reason for de-icing is indicated, but {lacking}."
    if line.status == "cannot tell":
        return f"Whether de-icing is needed cannot be told without {_inputs(line, brief)}."
    why = reasons.reason(line, brief)
    lead = {"expected": "De-icing expected", "likely": "De-icing likely", "possible": "De-icing possible"}[line.status]
    return f"{lead}: {why}." if why else f"{lead}."


def _inputs(line: Advice, brief: Brief) -> str:
    """The first input whose lack leaves a line untold."""
    return words.lacking(line.missing[0], brief) if line.missing else "more"


def _calls(brief: Brief) -> str:
    calls = [line for line in brief.advice if line.part == "call" and line.status != "cannot tell" and line.by]
    musts = [line for line in calls if line.weight == "must" and not words.too_late(line, brief.now)]
    sentences = []
    if musts:
        # of what is due now that which decides the flight, however long ago the other was due
        first = min(musts, key=lambda line: (max(line.by or "", brief.now), line.id != TREATMENT_RULE))
        due = words.due(first, brief.now)
        # what may be left undone is called for first where it is due before
        sooner = min((line for line in calls if line.by and line.by < (first.by or "")), key=_by, default=None)
        called = f"{due[0].lower()}{due[1:]}: {first.short}."
        if sooner is not None and not first.by_passed and not sooner.by_passed:
            called = f"by {words.moment(sooner.by or '', brief.now)}: {sooner.short}; {called}"
        treatment = next((line for line in musts if line.id == TREATMENT_RULE), first)
        if treatment is not first:
            # whatever has to be called for before it, that is the call which decides the flight
            called = f"{called[:-1]}; {_lower(words.due(treatment, brief.now))}: {treatment.short}."
        sentences.append(f"First call {called}")
    again = next((line for line in brief.advice if line.part == "start" and line.kind == "request" and line.by), None)
    if again is not None:
        due = words.due(again, brief.now)
        sentences.append(f"Brief again {due[0].lower()}{due[1:]}.")
    return " ".join(sentences)


def _lower(said: str) -> str:
    return f"{said[:1].lower()}{said[1:]}"


def _by(line: Advice) -> str:
    return line.by or ""


def _short(line: Advice) -> str:
    return line.short if line.status == "expected" else f"{line.short} ({line.status})"


def _sentence(said: str) -> str:
    return f"{said[:1].upper()}{said[1:]}." if said else ""
