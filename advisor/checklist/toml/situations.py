"""The shipped weather situations: a hazard each, and beside it the same without it."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import msgspec
import tomli

from advisor.checklist.rules import Situation
from advisor.conditions import Place

SHIPPED = Path(__file__).parents[2] / "data" / "situations.toml"


class Hazard(msgspec.Struct, frozen=True):
    """A weather situation. beside: the hazard of the situation that has all but this, "" for one that stands alone."""

    name: str
    beside: str
    situation: Situation


class _Station(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    indicator: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float


@lru_cache(maxsize=1)
def shipped() -> tuple[tuple[Hazard, ...], dict[str, Place]]:
    """The situations in the order of the file, and where their invented stations lie, by indicator."""
    data = tomli.loads(SHIPPED.read_text(encoding="utf-8"))
    hazards = []
    for row in data["situation"]:
        name, beside = row.pop("hazard"), row.pop("beside", "")
        hazards.append(Hazard(name, beside, msgspec.convert(row, Situation)))
    stations = msgspec.convert(data["station"], tuple[_Station, ...])
    return tuple(hazards), {
        one.indicator: Place(one.indicator, one.indicator, one.latitude_deg, one.longitude_deg, one.elevation_m)
        for one in stations
    }
