"""Remarks on the station itself: its kind, what it cannot tell, and words that stand for themselves.

Source: fmh-1 chapter 12; the rest by common practice.
"""

from __future__ import annotations

import re

from advisor.report.code.entries import LedgerEntry
from advisor.report.code.remark.making import Say, remark, where
from advisor.report.model import DECODED, NOTED

FIXED = {
    "SLPNO": ("sea-level pressure", NOTED, "sea-level pressure not available"),
    "FZRANO": ("sensor out", DECODED, "freezing rain sensor out: no freezing rain reported does not mean none"),
    "PWINO": ("sensor out", DECODED, "precipitation identifier out: precipitation may fall unreported"),
    "TSNO": ("sensor out", DECODED, "thunderstorm sensor out: no thunderstorm reported does not mean none"),
    "PNO": ("sensor out", NOTED, "precipitation amount not available"),
    "RVRNO": ("sensor out", NOTED, "runway visual range not available"),
    "VISNO": ("sensor out", NOTED, "visibility at a second place not available"),
    "CHINO": ("sensor out", NOTED, "cloud height at a second place not available"),
    "$": ("maintenance", DECODED, "the station asks for maintenance"),
    "PRESRR": ("pressure change", DECODED, "pressure rising rapidly"),
    "PRESFR": ("pressure change", DECODED, "pressure falling rapidly"),
    "FROIN": ("frost", DECODED, "frost seen on the indicator"),
    "NOSPECI": ("routine", NOTED, "no special reports are made at this station"),
    "LAST": ("routine", NOTED, "last report before the station closes"),
    "FIRST": ("routine", NOTED, "first report after the station opened"),
    "BINOVC": ("cloud remark", NOTED, "breaks in overcast"),
    "HZY": ("weather remark", NOTED, "hazy"),
    "CONTRAILS": ("cloud remark", NOTED, "condensation trails"),
    "FROPA": ("wind shift", NOTED, "front passed"),
}
_STATIONS = {
    "1": "automatic station that cannot tell rain from snow: weather may go unreported",
    "2": "automatic station that can tell rain from snow",
}


def station_type(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read AO1 or AO2."""
    meaning = _STATIONS[m[1]] + (", attended" if m[2] else "")
    return remark(m, "station type", NOTED, meaning, (m[1],))


_MISSED = {
    "ICE": "icing sensor",
    "T": "temperature",
    "DP": "dew point",
    "CLD": "cloud",
    "WX": "weather",
    "PRES": "pressure",
    "VIS": "visibility",
    "WIND": "wind",
    "WND": "wind",
    "DENSITY ALT": "density altitude",
    "RVR": "runway visual range",
    "SKY": "sky",
}


def missing(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read MISG behind what is missing."""
    return remark(m, "missing", NOTED, f"{_MISSED[m[1]]} missing", (m[1],))


def sensor_out(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read CHINO or VISNO with its place."""
    what = "cloud height" if m[1] == "CHINO" else "visibility"
    return remark(m, "sensor out", NOTED, f"{what} {where(m[2])} not available")


def always(kind: str, meaning: str) -> Say:
    """Read as one meaning whatever stands there."""

    def say(m: re.Match[str], us: bool) -> LedgerEntry:
        return remark(m, kind, NOTED, meaning)

    return say
