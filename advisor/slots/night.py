"""Everything that a plan is made from, read and checked: data only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from advisor.brief.inputs import Weather
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist
from advisor.slots.files.actuals import Actual
from advisor.slots.files.holdover import Holdover
from advisor.slots.files.pads import Pads
from advisor.slots.files.schedule import Row
from advisor.slots.result import Plan


@dataclass(frozen=True, slots=True)
class Night:
    """Everything a plan is made from, read and checked."""

    rows: tuple[Row, ...]
    weather: Weather
    pads: Pads
    checklist: Checklist
    fleet: Mapping[str, Profile]
    table: Holdover | None = None
    previous: Plan | None = None
    actuals: Mapping[str, Actual] = field(default_factory=dict)
