"""Where a line stands in a brief: its part, and its place there. Decided here once, for every form of output. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from advisor.brief.model import Advice, Part
from advisor.checklist.rules import Rule

# the parts in reading order
PARTS: tuple[Part, ...] = ("stop", "call", "take", "doors", "out", "walk", "start", "untold")
# the call that everything else waits for
TREATMENT_RULE = "de-icing-request"
# the reminder to brief again is no call for others
AGAIN_RULE = "recheck"
# what nobody may overlook stands in its place even where it cannot be told
STAND_IN_PLACE = frozenset({TREATMENT_RULE, "wing-upper-surface"})
# and what stands there where nothing but this was left unsaid: rain on a wing whose fuel nobody gave is every arrival's
STANDS_WITHOUT = {"cold-soaked-wing": "fuel_temperature_c"}
_BY_KIND: dict[str, Part] = {
    "request": "call",
    "gear": "take",
    "door": "doors",
    "caution": "out",
    "checkpoint": "walk",
}
_SURE = ("expected", "likely", "possible", "cannot tell")


def part_of(rule: Rule, status: str, phase: str, missing: tuple[str, ...] = ()) -> Part:
    """The part of a line. phase: of the deciding time; missing: the inputs that leave it untold."""
    alone = missing == (STANDS_WITHOUT.get(rule.id),)
    if status == "cannot tell" and rule.id not in STAND_IN_PLACE and not alone:
        return "untold"
    if rule.stop:
        return "stop"
    if rule.id == AGAIN_RULE or (phase in ("off_block", "take_off") and rule.kind != "request"):
        return "start"
    return _BY_KIND[rule.kind]


def in_order(lines: Iterable[Advice], position: Callable[[str], int]) -> tuple[Advice, ...]:
    """Lines as people need them: part by part, the call for treatment first, then by time, walking order and weight.

    position: of a zone in the walk.
    """

    def key(line: Advice) -> tuple[object, ...]:
        return (
            PARTS.index(line.part),
            # of two calls that are due now the one for treatment comes first, and before all that has time
            not (line.by_passed and line.weight == "must") if line.part == "call" else False,
            line.id != TREATMENT_RULE,
            line.by or "9" if line.part in ("call", "start") else "",
            position(line.zone or "all") if line.part == "walk" else 0,
            line.weight != "must",
            _SURE.index(line.status),
        )

    return tuple(sorted(lines, key=key))
