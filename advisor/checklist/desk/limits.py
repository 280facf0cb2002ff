"""Limits of doors that cannot be meant, each with its place."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.checklist.aircraft import Fleet
from advisor.checklist.toml.files import Fault
from advisor.conditions import Door, Sector

_WORDS = {"operate": "operate", "stay_open": "stay-open"}


def limit_faults(fleet: Fleet) -> Iterator[Fault]:
    """Stay-open limits below the ones for operating, and sectors that allow more than the door itself."""
    for name, profile in fleet.profiles.items():
        for at, door in enumerate(profile.doors):
            path = ("door", at)
            yield from _order(fleet.files[name], path, door)
            for number, sector in enumerate(door.sectors):
                inner = (*path, "sector", number)
                yield from _order(fleet.files[name], inner, sector)
                for limit, words in _WORDS.items():
                    most, here = getattr(door, f"{limit}_kt"), getattr(sector, f"{limit}_kt")
                    if here > most:
                        what = f"{here:g} kt is above the door's own {words} limit, {most:g} kt"
                        hint = "a sector is where less is allowed"
                        yield Fault(fleet.files[name], (*inner, limit), what, hint, code="door-limit")


def _order(file: str, path: tuple[str | int, ...], row: Door | Sector) -> Iterator[Fault]:
    if row.stay_open_kt < row.operate_kt:
        what = f"{row.stay_open_kt:g} kt is below the limit to operate it, {row.operate_kt:g} kt"
        hint = "a door that may be opened may stand open: are the two exchanged?"
        yield Fault(file, (*path, "stay_open"), what, hint, code="door-limit")
