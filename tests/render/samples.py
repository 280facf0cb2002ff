"""Briefs for the tests of pictures and sheets: the weather and the places are invented."""

import functools

import msgspec

from advisor import advise
from advisor.conditions import Place

# an invented apron at 60° north; its station indicator is nobody's
PLACE = Place("Invented apron", "ZZZA", 60.0, 10.0, 200.0, "Europe/Oslo")
QUIET = "METAR ZZZA 100950Z 24006KT 9999 FEW040 18/09 Q1020"
SNOW = "METAR ZZZA 100520Z 24018G42KT 1500 SN BKN008 M01/M02 Q0998"
CLEAR_NIGHT = "METAR ZZZA 101720Z VRB03KT 9999 SKC M01/M02 Q1028"
MISSING = "METAR ZZZA 100520Z /////KT //// // ////// 01/// Q////"
GALE = "METAR ZZZA 100520Z 24045G60KT 0600 +SN BLSN VV003 M08/M10 Q0968"


@functools.lru_cache(maxsize=64)
def brief(report=SNOW, *, off_block="0800Z", now="2027-01-10T05:30:00Z", **more):
    """A brief at the invented apron."""
    return advise(report, off_block=off_block, now=now, place=PLACE, **more)


def quiet():
    """A summer's day on which little is said."""
    return brief(QUIET, off_block="1130Z", now="2027-06-10T10:00:00Z", heading=90)


def worst():
    """A gale with snow at night, the nose across the wind."""
    return brief(GALE, off_block="0730Z", heading=330)


def night():
    """Made in the evening for the next morning."""
    return brief(CLEAR_NIGHT, off_block="2027-01-11T06:30:00Z", now="2027-01-10T17:30:00Z", aircraft="wide-body-jet")


def poor():
    """A report that says next to nothing."""
    return brief(MISSING, off_block="0700Z")


ALL = {"quiet": quiet, "worst": worst, "night": night, "poor": poor}


def with_rows(made, **columns):
    """The brief with columns of its timeline replaced; a list has one value a row, anything else goes to all."""
    rows = []
    for index, row in enumerate(made.timeline):
        changes = {name: value[index] if isinstance(value, list) else value for name, value in columns.items()}
        rows.append({**row, **changes})
    return msgspec.structs.replace(made, timeline=tuple(rows))


def cut(made, count):
    """The brief with the first rows of its timeline only, take-off at the last."""
    rows = made.timeline[:count]
    windows = msgspec.structs.replace(
        made.windows,
        take_off=rows[-1]["at"],
        off_block=rows[-1]["at"],
        walk_round=(rows[0]["at"], rows[-1]["at"]),
        doors_open=(rows[0]["at"], rows[-1]["at"]),
    )
    return msgspec.structs.replace(made, timeline=rows, windows=windows)
