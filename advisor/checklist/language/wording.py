"""Conditions in words: "gust 28 kt or more" for gust_kt >= 28. What a manual prints and what a comparison names."""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import inf

import msgspec

from advisor.checklist.language.cells import ABSENT, KNOWN, MISSING, Cell
from advisor.checklist.language.nodes import Always, And, Atom, Node, Not, Or, Span
from advisor.checklist.language.physical import RANGES
from advisor.quantities import FLAG, NUMBER, QUANTITIES

# a number's name in a sentence, where it is not its own without the unit
NOUNS: dict[str, str] = {
    "sun_elevation_deg": "height of the sun",
    "sun_azimuth_deg": "direction of the sun",
    "sun_off_nose_deg": "sun off the nose by",
    "moon_elevation_deg": "height of the moon",
    "moon_illuminated_fraction": "lit part of the moon",
    "illuminance_lx": "natural light",
    "relative_humidity_pct": "relative humidity",
    "cloud_fraction": "covered part of the sky",
    "cloud_base_m": "base of the cloud",
    "wind_kt": "mean wind",
    "gust_kt": "gust",
    "relative_wind_deg": "wind from the nose by",
    "door_margin_kt": "gust below the lowest door limit by",
    "door_stay_open_margin_kt": "gust below the lowest stay-open limit by",
    "wing_skin_temperature_c": "wing skin",
    "tank_skin_temperature_c": "skin over the tanks",
    "panel_skin_temperature_c": "skin of a thin panel",
    "metal_skin_temperature_c": "bare metal skin",
    "frost_margin_c": "skin below where frost forms by",
    "tank_frost_margin_c": "skin over the tanks below where frost forms by",
    "dew_margin_c": "skin below the dew point by",
    "frost_growth_g_m2_h": "growth of frost",
    "fuel_temperature_c": "fuel temperature",
    "snow_rate_mm_h": "snow as water",
    "snow_accumulated_mm": "snow gathered, as water,",
    "rain_rate_mm_h": "rain",
    "rain_accumulated_mm": "rain gathered",
    "frostbite_min": "time to frostbite",
    "ahead_min": "time from now",
    "off_block_in_min": "time to off-block",
    "parked_h": "time parked",
    "gust_while_parked_kt": "strongest gust since parked",
    "report_age_min": "age of the report",
    "station_distance_km": "distance to the station",
    "station_height_difference_m": "height off the station's by",
}
# a flag as a sentence has it: where it holds, and where it does not
FLAGS: dict[str, tuple[str, str]] = {
    "dark": ("legal night", "not legal night"),
    "fuel_temperature_assumed": ("fuel temperature not stated", "fuel temperature stated"),
    "frost_refuted": ("a look that saw no frost", "no look that saw no frost"),
    "deposit_seen": ("a deposit seen on the aircraft", "no deposit seen on the aircraft"),
    "deposit_possible": ("a deposit may lie on the aircraft", "no deposit may lie on the aircraft"),
    "deposit_lies": ("a deposit lies on the aircraft", "no deposit lies on the aircraft"),
    "treated": ("treated against ice", "not treated against ice"),
    "rain": ("rain or drizzle", "neither rain nor drizzle"),
    "hail": ("hail", "no hail"),
    "unknown_precipitation": ("precipitation of unknown kind", "no precipitation of unknown kind"),
    "precipitation_any": ("anything falling", "nothing falling"),
    "frozen_precipitation": ("anything frozen or freezing falling", "nothing frozen or freezing falling"),
    "thunderstorm": ("a thunderstorm at the aerodrome or near it", "no thunderstorm at the aerodrome or near it"),
    "lightning": ("lightning or storm cloud", "neither lightning nor storm cloud"),
    "cumulonimbus": ("storm cloud (CB)", "no storm cloud (CB)"),
    "towering_cumulus": ("towering cloud (TCU)", "no towering cloud (TCU)"),
    "blowing_snow": ("blowing or drifting snow", "no blowing or drifting snow"),
    "patchy_fog": ("fog in patches or shallow", "no fog in patches"),
    "dust_or_sand": ("dust or sand in the air", "neither dust nor sand in the air"),
    "squall": ("a squall", "no squall"),
    "funnel_cloud": ("a funnel cloud", "no funnel cloud"),
    "heavy_precipitation": ("heavy rain, snow or shower", "no heavy rain, snow or shower"),
    "recent_freezing": ("freezing precipitation within two hours", "no freezing precipitation within two hours"),
    "recent_frozen": ("anything frozen or freezing within two hours", "nothing frozen or freezing within two hours"),
    "recent_precipitation": ("anything fallen within two hours", "nothing fallen within two hours"),
    "recent_rain": ("rain or drizzle within two hours", "no rain or drizzle within two hours"),
    "recent_hail": ("hail seen within two hours", "no hail seen within two hours"),
    "recent_thunderstorm": ("a storm at the station within two hours", "no storm at the station within two hours"),
    "ice_reported": ("ice built up at the station", "no ice built up at the station"),
    "frost_reported": ("frost seen at the station", "no frost seen at the station"),
    "moisture": ("anything wet", "nothing wet"),
    "freezing_after_wet": ("wet, then 0 °C or less", "not wet before 0 °C or less"),
    "slippery_surface": ("ground that may be slippery", "no slippery ground"),
    "snow_on_aircraft": ("snow on the aircraft", "no snow on the aircraft"),
    "snow_on_ground": ("snow on the ground", "no snow on the ground"),
    "aerodrome_closed": ("closed by snow", "not closed by snow"),
    "hail_while_parked": ("hail since parked", "no hail since parked"),
    "thunderstorm_while_parked": ("a storm since parked", "no storm since parked"),
    "squall_while_parked": ("a squall since parked", "no squall since parked"),
    "frozen_precipitation_while_parked": (
        "anything frozen or freezing since parked",
        "nothing frozen or freezing since parked",
    ),
}
ALWAYS = "always"
# margins whose sign says it all: above 0, and at or below it
SIGNS: dict[str, tuple[str, str]] = {
    "frost_margin_c": ("skin cold enough for frost", "skin not cold enough for frost"),
    "tank_frost_margin_c": (
        "skin over the tanks cold enough for frost",
        "skin over the tanks not cold enough for frost",
    ),
    "dew_margin_c": ("skin below the dew point", "skin not below the dew point"),
    "door_margin_kt": ("gust under every door's operating limit", "gust at a door's operating limit or over it"),
    "door_stay_open_margin_kt": (
        "gust under every door's stay-open limit",
        "gust at a door's stay-open limit or over it",
    ),
}
BELOW: dict[str, tuple[str, str]] = {
    "door_margin_kt": ("gust over a door's operating limit", "gust not over any door's operating limit"),
    "door_stay_open_margin_kt": ("gust over a door's stay-open limit", "gust not over any door's stay-open limit"),
}


def noun(name: str) -> str:
    """A quantity's name in a sentence."""
    if name in NOUNS:
        return NOUNS[name]
    row = QUANTITIES[name]
    if row.kind == FLAG:
        return FLAGS.get(name, (name.replace("_", " "),))[0]
    bare = name.rsplit("_", 1)[0] if row.kind == NUMBER and row.unit else name
    return bare.replace("_", " ")


def in_words(node: Node, turned: bool = False) -> str:
    """A condition as one sentence without its verb. turned: of what it is not."""
    if isinstance(node, Always):
        return "never" if turned else ALWAYS
    if isinstance(node, Atom):
        return _atom(node, turned)
    if isinstance(node, Not):
        return in_words(node.part, not turned)
    # not (a or b) is not a and not b
    joined = isinstance(node, And) != turned
    said = [_inner(part, turned, joined) for part in node.parts]
    return (" and " if joined else " or ").join(said)


def alternatives(node: Node) -> tuple[str, ...]:
    """A condition as the parts of which one is enough, each a sentence; one part where there is no "or" on top."""
    if isinstance(node, Or):
        return tuple(in_words(part) for part in node.parts)
    return (in_words(node),)


def _inner(part: Node, turned: bool, joined: bool) -> str:
    phrase = in_words(part, turned)
    bare = part
    while isinstance(bare, Not):
        bare, turned = bare.part, not turned
    mixed = isinstance(bare, (And, Or)) and (isinstance(bare, And) != turned) != joined
    # "snow and rain or drizzle" would read two ways
    choice = joined and not isinstance(bare, (And, Or)) and _CHOICE.search(phrase) is not None
    # and "no snow or rain" as well
    denied = not joined and phrase.startswith("no ")
    return f"({phrase})" if mixed or choice or denied else phrase


# an "or" between two things, and not the one after a number
_CHOICE = re.compile(r" or (?!more\b|less\b)")


def _atom(atom: Atom, turned: bool) -> str:
    if atom.kind == FLAG:
        yes, no = FLAGS.get(atom.quantity, (noun(atom.quantity), f"no {noun(atom.quantity)}"))
        return no if turned else yes
    if atom.kind != NUMBER:
        values = QUANTITIES[atom.quantity].values
        chosen = [values[code] for code in range(len(values)) if (code in atom.codes) != turned]
        return f"{noun(atom.quantity)}: {_or(chosen)}"
    spans = _complement(atom.spans) if turned else atom.spans
    signed = _signed(atom.quantity, spans)
    if signed:
        return signed
    said = _or([_span(span, atom.quantity) for span in spans]) if spans else "no number"
    return f"{noun(atom.quantity)} {said}"


def _signed(name: str, spans: Sequence[Span]) -> str:
    """A margin against 0 in words of its own; "" for anything else."""
    above, below = SIGNS.get(name), BELOW.get(name)
    if len(spans) != 1 or above is None:
        return ""
    phrases = {
        (0.0, False, inf, False): above[0],
        (-inf, False, 0.0, True): above[1],
        (-inf, False, 0.0, False): below[0] if below else "",
        (0.0, True, inf, False): below[1] if below else "",
    }
    return phrases.get(spans[0], "")


def _or(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} or {parts[-1]}"


def _span(span: Span, name: str) -> str:
    low, shut, high, end = span
    if low == high:
        return f"exactly {number(low, name)}"
    if high == inf:
        return f"{number(low, name)} or more" if shut else f"over {number(low, name)}"
    if low == -inf:
        return f"{number(high, name)} or less" if end else f"under {number(high, name)}"
    first = _plain(low) if shut else f"over {_plain(low)}"
    last = number(high, name) if end else f"under {number(high, name)}"
    return f"from {first} to {last}" if shut and end else f"{first} to {last}"


def number(value: float, name: str) -> str:
    """A number with its unit as people write it."""
    unit = QUANTITIES[name].unit
    return f"{_plain(value)}{'' if unit in ('', '°') else ' '}{unit}"


def _plain(value: float) -> str:
    return f"{value:.10g}".replace("-", "−")


def _complement(spans: Sequence[Span]) -> tuple[Span, ...]:
    outside: list[Span] = []
    low, shut = -inf, False
    for first, included, last, end in spans:
        # where two stretches touch, the one number between them may be all that is left out
        if first > low or (first == low and shut and not included):
            outside.append((low, shut, first, not included))
        low, shut = last, not end
    if low < inf:
        outside.append((low, shut, inf, False))
    return tuple(outside)


def cell_in_words(cell: Cell) -> str:
    """What a quantity is in a place where two conditions differ."""
    name = cell.quantity
    if cell.state == MISSING:
        return f"{noun(name)} not known"
    if cell.state == ABSENT:
        return f"no {noun(name)}"
    row = QUANTITIES[name]
    if row.kind == FLAG:
        return _atom(Atom(name, FLAG, (), (1,)), turned=cell.code == 0)
    if row.kind != NUMBER:
        return f"{noun(name)}: {row.values[cell.code]}"
    low, shut, high, end = cell.span
    least, most = RANGES.get(name, (-inf, inf))
    # the ends of what there can be are no limits
    low, high = (-inf if low <= least else low), (inf if high >= most else high)
    if low == -inf and high == inf:
        return f"any {noun(name)}"
    signed = _signed(name, [(low, shut and low > -inf, high, end and high < inf)])
    return signed or f"{noun(name)} {_span((low, shut, high, end), name)}"


def merged(places: Sequence[Sequence[Cell]]) -> list[tuple[Cell, ...]]:
    """Places that differ in one stretch of numbers only, and there lie side by side, as one."""
    together: list[tuple[Cell, ...]] = []
    for place in places:
        last = together[-1] if together else ()
        apart = [at for at, (one, other) in enumerate(zip(last, place, strict=False)) if one != other]
        if len(last) == len(place) and len(apart) == 1 and (wider := _joined(last[apart[0]], place[apart[0]])):
            together[-1] = (*last[: apart[0]], wider, *last[apart[0] + 1 :])
        else:
            together.append(tuple(place))
    return together


def _joined(cell: Cell, other: Cell) -> Cell | None:
    if cell.quantity != other.quantity or not (cell.state == other.state == KNOWN) or cell.code >= 0:
        return None
    if cell.span[2] != other.span[0] or not (cell.span[3] or other.span[1]):
        return None
    return msgspec.structs.replace(cell, span=(cell.span[0], cell.span[1], other.span[2], other.span[3]))


def place_in_words(place: Sequence[Cell]) -> str:
    """A place where two conditions differ: what decides, the rest being whatever physics allows."""
    return ", ".join(cell_in_words(cell) for cell in place)
