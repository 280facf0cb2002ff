"""What an aircraft profile is, however it was read: the numbers of a type and the order of its walk. Pure."""

from __future__ import annotations

from typing import Annotated

import msgspec

from advisor.checklist.fields import APART
from advisor.conditions import Airframe, Door

# words that rules use for a place, and the zones that may stand for it, the nearest first
GROUPINGS: dict[str, tuple[str, ...]] = {
    "wings": ("right-wing", "left-wing", "rotor", "body"),
    "gear": ("nose-gear", "left-main-gear", "right-main-gear", "skids", "body"),
    "engines": ("right-engine", "left-engine", "engine", "rotor", "body"),
    "fuselage": ("left-forward-fuselage", "right-forward-fuselage", "right-rear-fuselage", "left-rear-fuselage"),
    "probes": ("nose", "left-forward-fuselage", "body"),
    "propeller": ("propeller", "left-engine", "right-engine", "nose", "body"),
    "rotor": ("rotor", "body"),
    "canopy": ("canopy", "flight-deck", "nose"),
    "flight-deck": ("flight-deck", "canopy", "nose", "body"),
    "body": ("body", "left-forward-fuselage"),
    "doors": ("left-forward-fuselage", "canopy", "body"),
    "tanks": ("right-wing", "left-wing", "body"),
    "tail": ("tail",),
}
FIRST, LAST = -1, 10_000


class Profile(msgspec.Struct, frozen=True):
    """One aircraft. windows: the name of a group, "jet", "small" or an operator's own; walk: zones in walking order.

    class_id: whose rules hold.
    """

    id: str
    name: str
    class_id: str
    size: str
    windows: str
    limits_note: str
    walk: tuple[str, ...]
    wing_height_m: float
    emissivity: float
    tank_skin: bool
    fuel_stays_cold: bool
    doors: tuple[Door, ...]
    origin: Annotated[str, APART] = "shipped"

    def airframe(self) -> Airframe:
        """The numbers that physics and doors need."""
        return Airframe(self.wing_height_m, self.emissivity, self.tank_skin, self.fuel_stays_cold, self.doors)

    def position(self, zone: str) -> int:
        """Where a rule's zone comes in the walk: an index, LAST where the words name no zone of this aircraft.

        zone: a zone, a grouping such as "wings", or several words with commas or spaces, the first known one counts;
        "apron" comes first and "all" last.
        """
        for word in zone.replace(",", " ").split():
            if word == "apron":
                return FIRST
            for name in (word, *GROUPINGS.get(word, ())):
                if name in self.walk:
                    return self.walk.index(name)
        return LAST
