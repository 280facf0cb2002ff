"""What a stage is. A column's unit, range and shape stand in its row of the table of quantities."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from msgspec import Struct

from advisor.conditions import Airframe, Columns, Conditions


class Stage(Struct, frozen=True, kw_only=True):
    """One step from columns to columns.

    gives: each column that it gives, and the columns that this one follows from; "heading" and "place" are the
    departure's own. A column that stands on both sides is taken as it was and given as it becomes. work: the columns,
    from conditions and airframe, changing neither. source: keys of the bibliography. over_time: only where the times
    follow each other at one place. carries: what was before counts as well, so that a column may be unknown for want
    of what went before.
    """

    name: str
    meaning: str
    gives: Mapping[str, tuple[str, ...]]
    work: Callable[[Conditions, Airframe], Columns]
    source: tuple[str, ...]
    formula: str = ""
    over_time: bool = False
    carries: bool = False
    looks_back: bool = False
    bounded: tuple[str, ...] = ()

    @property
    def needs(self) -> tuple[str, ...]:
        """Every column that it reads, but for those that it makes itself on the way."""
        named = (name for names in self.gives.values() for name in names)
        own = {name for name in self.gives if name not in self.gives[name]}
        return tuple(dict.fromkeys(name for name in named if name not in own and name not in OF_THE_DEPARTURE))


# what a stage may follow from that is no column
OF_THE_DEPARTURE = ("heading", "place")
