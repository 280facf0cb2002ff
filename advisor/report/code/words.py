"""The words of the codes: weather, cloud, directions and stations, as a pilot would say them.

Tables only, and the functions that put their words together. Nothing here decides what a report means for the walk.
Source: wmo-306-table-4678 and fmh-1 (chapter 12).
"""

from __future__ import annotations

from functools import lru_cache

INTENSITY = {"-": "light", "+": "heavy", "": "moderate"}
DESCRIPTORS = {
    "MI": "shallow",
    "BC": "patches of",
    "PR": "partial",
    "DR": "low drifting",
    "BL": "blowing",
    "SH": "showers of",
    "TS": "thunderstorm with",
    "FZ": "freezing",
}
PRECIPITATION = {
    "DZ": "drizzle",
    "RA": "rain",
    "SN": "snow",
    "SG": "snow grains",
    "IC": "ice crystals",
    "PL": "ice pellets",
    "PE": "ice pellets",
    "GR": "hail",
    "GS": "small hail or snow pellets",
    "UP": "unknown precipitation",
}
OTHER = {
    "BR": "mist",
    "FG": "fog",
    "FU": "smoke",
    "VA": "volcanic ash",
    "DU": "dust",
    "SA": "sand",
    "HZ": "haze",
    "PY": "spray",
    "PO": "dust or sand whirls",
    "SQ": "squalls",
    "FC": "funnel cloud",
    "SS": "sandstorm",
    "DS": "duststorm",
}
WHOLE = {
    "FZFG": "freezing fog",
    "MIFG": "shallow fog",
    "BCFG": "patches of fog",
    "PRFG": "fog over part of the aerodrome",
    "VCFG": "fog in the vicinity",
    "TS": "thunderstorm",
    "VCTS": "thunderstorm in the vicinity",
    "VCSH": "showers in the vicinity",
    "SH": "showers",
    "+FC": "tornado or waterspout",
    "NSW": "no significant weather any more",
    "IC": "ice crystals (diamond dust)",
    "UP": "precipitation that the automatic station could not name",
    "FZUP": "freezing precipitation that the automatic station could not name",
}
COVER = {
    "FEW": "few clouds (1 to 2 oktas)",
    "SCT": "scattered cloud (3 to 4 oktas)",
    "BKN": "broken cloud (5 to 7 oktas)",
    "OVC": "overcast (8 oktas)",
    "///": "cloud of unknown amount",
}
SKY = {
    "CAVOK": "visibility 10 km or more, no cloud below 5000 ft or the highest minimum sector altitude, no CB or TCU, "
    "no significant weather; high cloud is not reported",
    "NSC": "no cloud of operational significance; high cloud is not reported",
    "NCD": "the automatic station detected no cloud; high cloud is beyond its reach",
    "CLR": "no cloud seen below the automatic station's reach, about 12,000 ft",
    "SKC": "sky clear",
}
CLOUD_TYPES = {"CB": "cumulonimbus", "TCU": "towering cumulus", "///": "convective cloud not detectable"}
SIGHTS = {"CB": "cumulonimbus", "TCU": "towering cumulus", "TS": "thunderstorm"}
GENERA = {
    "CI": "cirrus",
    "CC": "cirrocumulus",
    "CS": "cirrostratus",
    "AC": "altocumulus",
    "AS": "altostratus",
    "NS": "nimbostratus",
    "SC": "stratocumulus",
    "ST": "stratus",
    "CU": "cumulus",
    "CB": "cumulonimbus",
    "TCU": "towering cumulus",
    "SF": "stratus fractus",
    "CF": "cumulus fractus",
    "ACC": "altocumulus castellanus",
    "FG": "fog",
    "SN": "snow",
    "IC": "ice crystals",
    "BLSN": "blowing snow",
    "HZ": "haze",
    "FU": "smoke",
    "RA": "rain",
    "VA": "volcanic ash",
    "SG": "snow grains",
    "DZ": "drizzle",
}
COMPASS = {
    "N": "north",
    "NNE": "north-north-east",
    "NE": "north-east",
    "ENE": "east-north-east",
    "E": "east",
    "ESE": "east-south-east",
    "SE": "south-east",
    "SSE": "south-south-east",
    "S": "south",
    "SSW": "south-south-west",
    "SW": "south-west",
    "WSW": "west-south-west",
    "W": "west",
    "WNW": "west-north-west",
    "NW": "north-west",
    "NNW": "north-north-west",
}
TENDENCY = {"U": "rising", "D": "falling", "N": "steady"}
MODIFIERS = {
    "AUTO": "made by an automatic station with nobody checking",
    "COR": "a correction",
    "CORR": "a correction",
    "RTD": "sent late",
    "NIL": "no report: the station sent none",
    "FINO": "no report: the station sent none",
    "TEST": "a test message",
    "AMD": "amended",
}
_US_SECOND = frozenset("AFGHJKMOPTW")


@lru_cache(maxsize=4096)
def united_states(station: str) -> bool:
    """Whether a station follows the United States coding rules (FMH-1), told from its indicator.

    Source: fmh-1; the list of indicator prefixes is common practice.
    """
    first, second = station[:1], station[1:2]
    return (
        first == "K" or (first == "P" and second in _US_SECOND) or station[:2] in ("TJ", "TI") or station[:4] == "NSTU"
    )


def beginning(text: str) -> str:
    """The beginning of a text in one printable line, to name it in an error."""
    start = " ".join(text[:200].split())[:40]
    return "".join(c if c.isprintable() else "?" for c in start) or "(nothing)"


def signed(value: float, decimals: int = 0) -> str:
    """Write a number with a true minus sign."""
    return f"{value:.{decimals}f}".replace("-", "−")


def listed(parts: list[str]) -> str:
    """Join words as in "rain, snow and hail"."""
    return parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1]


def split_weather(code: str) -> tuple[str, str, tuple[str, ...]]:
    """Split a weather code into sign ("", "-", "+" or "VC"), descriptors and phenomena, all as written."""
    sign = ""
    if code[:1] in "+-":
        sign, code = code[:1], code[1:]
    if code[:2] == "VC":
        sign, code = "VC", code[2:]
    pairs = [code[at : at + 2] for at in range(0, len(code), 2)]
    descriptor = "".join(pair for pair in pairs if pair in DESCRIPTORS)
    return sign, descriptor, tuple(pair for pair in pairs if pair not in DESCRIPTORS)


def weather(code: str, us: bool) -> str:
    """Say a weather code in plain words. us: United States rules (GS is snow pellets, GR any hail)."""
    if code in WHOLE:
        return WHOLE[code]
    sign, descriptor, phenomena = split_weather(code)
    names = [PRECIPITATION.get(p) or OTHER.get(p) or p for p in phenomena]
    if us:
        names = ["snow pellets" if p == "GS" else name for p, name in zip(phenomena, names, strict=True)]
    falls = any(p in PRECIPITATION and p not in ("GR", "GS", "IC", "UP") for p in phenomena)
    words = [DESCRIPTORS[descriptor[at : at + 2]] for at in range(0, len(descriptor), 2)]
    if not names and words:
        words[-1] = words[-1].removesuffix(" of").removesuffix(" with")
    strength = ""
    if sign in "+-" and sign and not (sign == "-" and not phenomena):
        strength = INTENSITY[sign]
    elif not sign and falls and descriptor not in ("BL", "DR"):
        strength = "moderate"
    storm = words[:1] == ["thunderstorm with"]
    parts = [words[0], strength, *words[1:]] if storm else [strength, *words]
    text = " ".join(part for part in [*parts, listed(names) if names else ""] if part)
    return text + " in the vicinity" if sign == "VC" else text


def unmeasured(code: str, us: bool) -> str:
    """Say a weather code that carries no intensity, as in recent weather and in begin and end times."""
    return weather(code, us).removeprefix("moderate ").replace("with moderate", "with")


def compass(code: str) -> str:
    """Say directions such as "NE", "SE-S" or "E-OHD-W" in words; other words stay as they are."""
    return " to ".join(COMPASS.get(part, "overhead" if part == "OHD" else part) for part in code.split("-"))
