"""Remarks on what falls, fell and lies: amounts, hail, snow, ice, begins and ends, lightning, storm clouds in sight.

Source: fmh-1 chapter 12; Canadian and Russian remarks by common practice.
"""

from __future__ import annotations

import re
from functools import cache
from math import nan

from advisor.quantities.units import MM_PER_INCH
from advisor.report.code import words as w
from advisor.report.code.entries import LedgerEntry, entry, fraction
from advisor.report.code.groups import ROWS
from advisor.report.code.remark.making import CM_PER_INCH, place, remark
from advisor.report.model import CONFLICT, DECODED, NOT_DECODED, NOTED

# more than ever fell at the ground, with a little room: 305 mm in an hour, 1,825 mm in a day, 1,182 cm lying (world
# records, from memory); ice by common sense
MOST_MM_AN_HOUR, MOST_MM_A_DAY, MOST_ICE_MM = 320.0, 1900.0, 250.0
MOST_CM_AN_HOUR, DEEPEST_CM = 100.0, 1300.0


def _too_much(m: re.Match[str], kind: str) -> LedgerEntry:
    return remark(m, kind, CONFLICT, "more than ever fell or lay, not used")


def _amount(text: str) -> str:
    hundredths = int(text)
    if hundredths == 0:
        return "trace, under 0.25 mm"
    return f"{hundredths / 100:.2f} in ({hundredths * (MM_PER_INCH / 100):.1f} mm)"


def last_hour(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read P and four figures."""
    if "/" in m[1]:
        return remark(m, "hourly precipitation", DECODED, "precipitation of the last hour not reported", mm=nan)
    if int(m[1]) / 100 * MM_PER_INCH > MOST_MM_AN_HOUR:
        return _too_much(m, "hourly precipitation")
    return remark(
        m,
        "hourly precipitation",
        DECODED,
        f"precipitation since the last hourly report: {_amount(m[1])}",
        mm=int(m[1]) / 100 * MM_PER_INCH,
    )


def several_hours(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read 6 or 7 and four figures."""
    span = "3 or 6 hours" if m[1] == "6" else "24 hours"
    if "/" in m[2]:
        return remark(m, "longer precipitation", NOTED, f"precipitation of the last {span} not measurable")
    if int(m[2]) / 100 * MM_PER_INCH > MOST_MM_A_DAY:
        return _too_much(m, "longer precipitation")
    said = f"precipitation of the last {span}: {_amount(m[2])}"
    return remark(m, "longer precipitation", DECODED, said, mm=int(m[2]) / 100 * MM_PER_INCH)


def snow_depth(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read 4/ and three figures."""
    cm = int(m[1]) * MM_PER_INCH / 10
    if cm > DEEPEST_CM:
        return _too_much(m, "snow depth")
    return remark(m, "snow depth", DECODED, f"snow depth {int(m[1])} in ({cm:.0f} cm)", cm=cm)


def snow_of_six_hours(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read 931 or 933 and three figures."""
    tenths = int(m[2])
    if m[1] == "1":
        meaning = f"snow of the last 6 hours {tenths / 10:.1f} in ({tenths * (MM_PER_INCH / 100):.1f} cm)"
    else:
        meaning = f"water in the snow on the ground {tenths / 10:.1f} in ({tenths * (MM_PER_INCH / 10):.0f} mm)"
    return remark(m, "snow remark", NOTED, meaning)


def ice(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read I, hours and hundredths of an inch."""
    mm = int(m[2]) / 100 * MM_PER_INCH
    if mm > MOST_ICE_MM:
        return _too_much(m, "ice accretion")
    amount = "a trace" if mm == 0 else f"{mm:.1f} mm"
    hours = "hour" if m[1] == "1" else f"{m[1]} hours"
    return remark(
        m, "ice accretion", DECODED, f"ice built up over the last {hours}: {amount}", hours=float(m[1]), mm=mm
    )


@cache
def _event() -> re.Pattern[str]:
    """A code with when it began or ended; made when it is first wanted, since most reports have none."""
    return re.compile(
        r"((?:[+-]|VC)?(?:(?:FZ|SH|TS|BL|DR|MI|BC|PR)?"
        r"(?:DZ|RA|SN|SG|IC|PL|PE|GR|GS|UP|FG|BR|HZ|FU|DU|SA|SS|DS|SQ|FC)+|TS))"
        r" ?((?:[BE](?:MM|(?:\d\d){1,2}(?!\d)))+)",
        re.ASCII,
    )


_CHANGE = re.compile(r"([BE])(\d\d)?(\d\d|MM)(?!\d)", re.ASCII)
# an hour of mixed precipitation is told in one group, longer than any other
LONGEST_TIMES = 240


def begins_and_ends(m: re.Match[str], us: bool) -> LedgerEntry:
    """Begin and end of weather; words hold code, B or E, hour or "", minute or MM, four to an event."""
    text, position, phrases, words = m[0], 0, [], []
    event = _event()
    while position < len(text):
        item = event.match(text, position)
        if item is None:
            return entry(text, "", NOT_DECODED, "not understood", None, (), "remarks")
        changes = []
        for letter, hour, minute in _CHANGE.findall(item[2]):
            if minute != "MM" and (int(minute) > 59 or (hour and int(hour) > 23)):
                return entry(text, "weather times", CONFLICT, "no such time of day", None, (), "remarks")
            words += [item[1], letter, hour, minute]
            when = f"at {hour}:{minute}" if hour else f"{minute} min past the hour"
            when = "at a minute not reported" if minute == "MM" else when
            changes.append(("began " if letter == "B" else "ended ") + when)
        name = w.unmeasured(item[1], us)
        phrases.append(f"{name} {', '.join(changes)}")
        position = item.end()
    return entry(text, "weather times", DECODED, "; ".join(phrases), None, tuple(words), "remarks")


def since_last(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read PP."""
    said = "not reported" if "/" in m[1] else "a trace or none" if int(m[1]) in (0, 999) else f"code {m[1]}"
    return remark(m, "longer precipitation", NOTED, f"precipitation since the last report of this kind: {said}")


def snow_by_code(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read snow on the ground by code, Canadian."""
    return remark(m, "snow remark", NOTED, f"snow on the ground, code {m[1]}")


def also_seen(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read a code of weather that stands alone."""
    return remark(m, "weather remark", NOTED, f"also seen: {w.weather(m[0], us)}", (m[0],))


LARGEST_HAIL_IN = 10.0
WEATHER = next(row for row in ROWS if row.kind == "weather")
_LIGHTNING_TYPES = {
    "IC": "in cloud",
    "CC": "cloud to cloud",
    "CG": "cloud to ground",
    "CA": "cloud to air",
    "CW": "cloud to water",
}
_OFTEN = {"OCNL": "occasional ", "FRQ": "frequent ", "CONS": "continuous "}
_PHENOMENA = {
    "TS": "thunderstorm",
    "CBMAM": "cumulonimbus with mamma",
    "CB": "cumulonimbus",
    "TCU": "towering cumulus",
    "ACC": "altocumulus castellanus",
    "ACSL": "lenticular cloud (mountain wave)",
    "CCSL": "lenticular cloud (mountain wave)",
    "SCSL": "lenticular cloud (mountain wave)",
    "VIRGA": "virga (precipitation that does not reach the ground)",
    "HALO": "halo",
}


def lightning(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read lightning with its kind and place."""
    types = w.listed([_LIGHTNING_TYPES[m[2][i : i + 2]] for i in range(0, len(m[2]), 2)]) if m[2] else ""
    often = _OFTEN.get((m[1] or "").strip(), "")
    return remark(m, "lightning", DECODED, f"{often}lightning {types}".rstrip() + place(m[3]))


def in_sight(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read a storm, a storm cloud or the like in sight."""
    meaning = (_PHENOMENA.get(m[1]) or w.weather(m[1], us)) + place(m[2])
    moving = m[3].strip().removeprefix("MOV ")
    if moving:
        meaning += ", hardly moving" if moving in ("LTL", "STNRY") else f", moving {w.compass(moving).lower()}"
    return remark(m, "cloud seen", DECODED, meaning, (m[1],))


def funnel(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read a tornado, funnel cloud or waterspout: when it was seen, how many miles off, where it went."""
    name = m[1].lower()
    times, words = [], []
    for letter, hour, minute in _CHANGE.findall(m[2] or ""):
        words += ["FC", letter, hour, minute]
        when = f"at {hour}:{minute}" if hour else f"{minute} min past the hour"
        times.append(f"{'began' if letter == 'B' else 'ended'} {'' if minute == 'MM' else when}".strip())
    far = f", {int(m[3])} miles off" if m[3] else ""
    moving = m[5].strip().removeprefix("MOV ")
    where_to = f", moving {w.compass(moving).lower()}" if moving and moving not in ("STNRY", "LTL", "UNKNOWN") else ""
    return remark(m, "funnel seen", DECODED, ", ".join([name, *times]) + far + place(m[4]) + where_to, tuple(words))


def snow_increasing(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read SNINCR."""
    meaning = f"snow increasing rapidly: {m[1]} in in the last hour, {m[2]} in on the ground"
    hour_cm, depth_cm = (int(inches) * CM_PER_INCH for inches in m.groups())
    if hour_cm > MOST_CM_AN_HOUR or depth_cm > DEEPEST_CM:
        return _too_much(m, "snow increasing")
    return remark(m, "snow increasing", DECODED, meaning, hour_cm=hour_cm, depth_cm=depth_cm)


def last_hour_in_mm(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read PCPN."""
    mm = float(m[1])
    if mm > MOST_MM_AN_HOUR:
        return _too_much(m, "hourly precipitation")
    return remark(m, "hourly precipitation", DECODED, f"precipitation of the last hour {mm:g} mm", mm=mm)


def hail_size(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read GR and a size in inches."""
    inches = fraction(m[2])
    if not 0 < inches <= LARGEST_HAIL_IN:
        return remark(m, "hail size", CONFLICT, "hailstones of a size that cannot be, not used")
    mm = inches * MM_PER_INCH
    return remark(m, "hail size", DECODED, f"hailstones {'under' if m[1] else 'up to'} {mm:.0f} mm across", mm=mm)


def snow_on_ground(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read SOG."""
    said = f"snow on the ground {int(m[1])}, in a unit that is not known"
    return remark(m, "snow on ground", NOTED, said, cm=float(m[1]))


def present(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read PRESENT WX."""
    said = w.weather(m[1], us) if WEATHER.read(m[1], us) else m[1]
    return remark(m, "weather remark", NOTED, f"also seen: {said}")
