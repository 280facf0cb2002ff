"""The aerodrome itself: runways, the sea beside it, colour states, rainfall.

Source: wmo-306-fm-15; colour states and rainfall by common practice.
"""

from __future__ import annotations

import re
from math import isnan

from advisor.report.code import words as w
from advisor.report.code.entries import LedgerEntry, entry, number
from advisor.report.model import DECODED, NOTED

_DEPOSITS = (
    "none, dry",
    "damp",
    "wet or water patches",
    "rime or frost",
    "dry snow",
    "wet snow",
    "slush",
    "ice",
    "compacted or rolled snow",
    "frozen ruts or ridges",
)
_EXTENT = {"1": "10 % or less", "2": "11 to 25 %", "5": "26 to 50 %", "9": "51 to 100 %"}
_SEPARATE = "the runway condition report is separate"


def runway_state(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read runway state in eight figures or CLRD, noted only."""
    runway, state = m[1], m[2]
    name = "all runways" if runway == "88" else "runway " + runway if runway != "99" else "last report repeated"
    if state.startswith("CLRD"):
        state_text = "contamination has gone"
    elif state == "D":
        state_text = "dry"
    elif len(state) == 6:
        state_text = "deposit " + (_DEPOSITS[int(state[0])] if state[0] != "/" else "not reported")
        if state[1] in _EXTENT:
            state_text += f" over {_EXTENT[state[1]]}"
        depth = state[2:4]
        if depth.isdigit() and 0 < int(depth) <= 90:
            state_text += f", {int(depth)} mm deep"
        elif depth.isdigit() and 92 <= int(depth) <= 98:
            state_text += f", {(int(depth) - 90) * 5} cm deep"
        elif depth == "99":
            state_text += ", runway not in use"
    else:
        state_text = "braking reported, deposit not"
    return entry(m[0], "runway state", NOTED, f"{name}: {state_text}; {_SEPARATE}", None, (runway, state))


def closed(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read SNOCLO."""
    runway = m[1]
    if runway is None or runway == "88":
        return entry(m[0], "runway state", DECODED, "aerodrome closed by snow", None, ("SNOCLO",))
    return entry(m[0], "runway state", NOTED, f"runway {runway} closed by snow; {_SEPARATE}", None, (runway, "SNOCLO"))


_WAVES = {"S": "state of the sea", "H": "wave height"}


def no_runway_state(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read a runway state of slashes only."""
    return entry(m[0], "runway state", NOTED, f"runway state not reported; {_SEPARATE}")


def no_sea(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read a sea group of slashes only."""
    return entry(m[0], "sea state", NOTED, "sea temperature and state of the sea not reported")


def sea(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read sea temperature with state of the sea or wave height."""
    water, kind, value = number(m[1]), m[2], m[3]
    meaning = "sea temperature " + ("not reported" if isnan(water) else f"{w.signed(water)} °C")
    if "/" in value or not value:
        meaning += f", {_WAVES[kind]} not reported"
    else:
        meaning += f", {_WAVES[kind]} " + (f"{int(value) / 10:.1f} m" if kind == "H" else f"code {value}")
    return entry(m[0], "sea state", NOTED, meaning)


_COLOURS = {"BLU": "blue", "WHT": "white", "GRN": "green", "YLO": "yellow", "AMB": "amber", "RED": "red"}


def _colours(text: str) -> str:
    """Say the colours; black means that the runway cannot be used for another reason than weather."""
    colours = ["black, runway not usable"] if text.startswith("BLACK") else []
    for part in text.removeprefix("BLACK").split("/"):
        if part:
            colours.append(_COLOURS[part[:3]] + (" " + part[3:] if part[3:] else ""))
    return ", then ".join(colours)


def colour(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read military colour state."""
    return entry(m[0], "colour state", NOTED, "military colour state of cloud base and visibility: " + _colours(m[0]))


def rainfall(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read rainfall of 10 minutes and of the day."""
    short, day = (float(text.replace("/", ".")) for text in m.groups())
    meaning = f"rainfall {short:g} mm in 10 minutes, {day:g} mm since 9 local time"
    return entry(m[0], "rainfall", NOTED, meaning)
