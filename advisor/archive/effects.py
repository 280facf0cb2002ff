"""What one group of a report does to the table: found once a distinct group, by the ledger and the assembly of reports.

Nothing is read here by rules of its own: an entry of the ledger is put through the same assembly that builds a Report,
alone, and what it leaves there is noted as numbers. What only several groups together settle is left to tokens.py.
"""

from __future__ import annotations

from datetime import UTC, datetime
from math import isnan, nan
from typing import NamedTuple

from advisor.outlook.seen import FROZEN_DEPOSIT
from advisor.outlook.track import COVERS
from advisor.report.code.assemble import Assembly
from advisor.report.code.entries import LedgerEntry
from advisor.report.code.ledger import ONCE, SLOT_OF
from advisor.report.metar import settled
from advisor.report.model import CONFLICT, DECODED, NOT_DECODED

# bits of what a group says by being there
(
    BIT_NOT_DECODED,
    BIT_USABLE,
    BIT_WEATHER_MISSING,
    BIT_RECENT_MISSING,
    BIT_LIGHTNING,
    BIT_STORM,
    BIT_FREEZING_BLIND,
    BIT_STORM_BLIND,
    BIT_CLOSED,
    BIT_SNOW,
    BIT_FROST,
    BIT_NIL,
    BIT_GUST_LOST,
    BIT_CONFLICT,
) = (1 << at for at in range(14))
# what a group's numbers are, one of each in a report; 0 for those without
NOTHING, WIND, VISIBILITY, BODY_TEMPERATURE, TENTHS, LAYER, SKY, RUNWAY, WEATHER, TOLD, PEAK, ICE, DEPTH, OTHER = range(
    14
)
# groups that a report has once: two of them in one body need a look at the whole
ONCE_CODES = {"wind": 1, "visibility": 2, "CAVOK": 2, "temperature": 3, "wind variation": 4, "pressure": 5}
MOST_NUMBERS = 4
_ISSUED = datetime(2000, 1, 15, 12, tzinfo=UTC)
_SKIES = {"CAVOK": 2.0, "NSC": 2.0, "NCD": 2.0, "CLR": 2.0, "SKC": 1.0}
UNKNOWN_TYPE, TOWERING_TYPE, STORM_TYPE = 1.0, 2.0, 4.0


class Effect(NamedTuple):
    """One group's effect. what: one of the kinds above; numbers: four, by kind; once: of ONCE_CODES, 0 for none.

    slot: the part of the body that it fills; code: the weather that it says, "" for none; entry: as settled.
    numbers of WIND: mean, gust, direction (NaN for variable and calm); VISIBILITY: m; temperatures: air, dew point;
    LAYER: covered fraction (-1 where it is not told), base in feet, type; SKY: 1 wholly clear, 2 clear as far as is
    reported; RUNWAY: visual range; ICE: hours; PEAK: speed, hour, minute.
    """

    bits: int
    what: int
    numbers: tuple[float, float, float, float]
    once: int
    slot: int
    kind: str
    code: str
    entry: LedgerEntry


def effect(entry: LedgerEntry, canada: bool, *, once: bool = False) -> Effect:
    """The effect of one entry of the ledger, whose part of the report is known. once: it stands in the body."""
    entry = settled(entry, canada)
    alone = Assembly(_ISSUED)
    alone.take(entry)
    group = alone.groups[0]
    bits = _bits(alone)
    if group.status == NOT_DECODED:
        bits |= BIT_NOT_DECODED
    if group.status == CONFLICT:
        bits |= BIT_CONFLICT
    if group.status == DECODED and group.part in ("body", "remarks"):
        bits |= BIT_USABLE
    what, numbers, code = _numbers(alone, entry)
    first, second, third, fourth = (*numbers, nan, nan, nan, nan)[:MOST_NUMBERS]
    code_once = ONCE_CODES[entry.kind] if once and entry.kind in ONCE else 0
    slot = SLOT_OF.get(entry.kind, 0) if once else 0
    return Effect(bits, what, (first, second, third, fourth), code_once, slot, entry.kind, code, entry)


def _bits(alone: Assembly) -> int:
    fields, remarks = alone.fields, alone.remarks
    deposits = fields.get("runway_deposits", ())
    there = {
        BIT_WEATHER_MISSING: fields.get("weather_missing") or remarks.get("precipitation_sensor_out"),
        BIT_RECENT_MISSING: fields.get("recent_missing"),
        BIT_LIGHTNING: remarks.get("lightning") or remarks.get("cumulonimbus"),
        BIT_STORM: remarks.get("storm_not_distant"),
        BIT_FREEZING_BLIND: remarks.get("freezing_rain_sensor_out"),
        BIT_STORM_BLIND: remarks.get("thunderstorm_sensor_out"),
        BIT_CLOSED: fields.get("aerodrome_closed"),
        BIT_SNOW: remarks.get("snow_depth_cm", 0) > 0 or max(deposits, default=0) >= FROZEN_DEPOSIT,
        BIT_FROST: remarks.get("frost_on_indicator"),
        BIT_NIL: fields.get("nil"),
        BIT_GUST_LOST: fields.get("gust_lost"),
    }
    return sum(bit for bit, holds in there.items() if holds)


def _numbers(alone: Assembly, entry: LedgerEntry) -> tuple[int, tuple[float, ...], str]:
    """Kind, numbers and code of what an entry left in an assembly."""
    fields, remarks = alone.fields, alone.remarks
    if "wind_kt" in fields:
        kt = fields["wind_kt"]
        pointed = not fields.get("wind_variable") and kt != 0
        return WIND, (kt, fields["gust_kt"], fields["wind_direction_deg"] if pointed else nan), ""
    if fields.get("sky") in _SKIES:
        return SKY, (_SKIES[fields["sky"]], fields.get("visibility_m", nan)), ""
    if "visibility_m" in fields:
        return VISIBILITY, (fields["visibility_m"],), ""
    if alone.body_temperature >= 0:
        return BODY_TEMPERATURE, (entry.numbers["c"], entry.numbers["dew_c"]), ""
    if alone.tenths >= 0:
        return TENTHS, (entry.numbers["c"], entry.numbers["dew_c"]), ""
    if alone.cloud:
        return LAYER, _layer(alone), ""
    if "runway_visual_range_m" in fields:
        return RUNWAY, (fields["runway_visual_range_m"],), ""
    if alone.weather:
        return WEATHER, (), alone.weather[0]
    if alone.recent or "precipitation_events" in remarks or "hail_mm" in remarks:
        return TOLD, (), ""
    if "peak_wind_kt" in remarks:
        return PEAK, tuple(entry.numbers[name] for name in ("kt", "hour", "minute")), ""
    if "ice_accretion_mm" in remarks:
        return ICE, (float(remarks["ice_accretion_mm"][0][0]),), ""
    if "snow_depth_cm" in remarks:
        return DEPTH, (), ""
    return NOTHING, (), ""


def _layer(alone: Assembly) -> tuple[float, ...]:
    """Covered fraction, base, type and whether the layer describes the sky; VV without a height lies on the ground."""
    layer = alone.cloud[0]
    covered = COVERS[layer.cover][1] if layer.cover in COVERS else -1.0
    kinds = {"///": UNKNOWN_TYPE, "TCU": TOWERING_TYPE, "CB": STORM_TYPE}
    base = 0.0 if layer.cover == "VV" and isnan(layer.base_ft) else layer.base_ft
    described = float(layer.cover != "///" or bool(layer.type))
    return covered, base, kinds.get(layer.type, 0.0), described
