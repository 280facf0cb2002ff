"""Variants of a plan side by side: a pad fewer, longer treatment, the forecast's temporary groups, the worst. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from msgspec import structs

from advisor.conditions import Case
from advisor.slots.demand import STATUS_ORDER, Need
from advisor.slots.plan import Effort, Night, look, make
from advisor.slots.result import Plan, VariantOut

LONGER = 1.2


def with_variants(night: Night, plan: Plan, effort: Effort) -> Plan:
    """The plan with its variants; each is solved anew, from the same moment, with the same effort."""
    found = [_row("as planned", plan)]
    needs = look(night)
    for name, changed, these, note in _variants(night, needs):
        if effort.stop():
            break
        found.append(_row(name, make(changed, effort, needs=these), note))
    notes = plan.notes
    if not _lanes(needs):
        notes = (*notes, "The reports hold no temporary or probable group: that what-if is left out.")
    return structs.replace(plan, variants=tuple(found), notes=notes)


def _variants(night: Night, needs: Sequence[Need]) -> Iterator[tuple[str, Night, Sequence[Need], str]]:
    pads = night.pads
    if len(pads.pads) > 1:
        # the pad that takes most is the one that is missed most: the last that takes every size
        lost = next((pad for pad in reversed(pads.pads) if pad.size == "any" and pad.place == "remote"), pads.pads[-1])
        closures = tuple(
            structs.replace(one, pads=names)
            for one in pads.closures
            if (names := tuple(name for name in one.pads if name != lost.name))
        )
        fewer = structs.replace(pads, pads=tuple(pad for pad in pads.pads if pad.name != lost.name), closures=closures)
        yield f"without {lost.name}", replace(night, pads=fewer), needs, ""
    yield f"treatment {100 * (LONGER - 1):.0f} % longer", night, [_longer(need) for need in needs], ""
    if _lanes(needs):
        yield "forecast's temporary groups come true", night, _come_true(night, needs), ", ".join(_lanes(needs))
    sure = [replace(need, status="expected") if need.steps else need for need in needs]
    yield "every possible treatment needed", night, sure, ""


def lane(case: Case) -> str:
    """The temporary and probable groups that a case of the outlook lays over its base case; "" for none."""
    return case.name.partition("; ")[2]


def _lanes(needs: Sequence[Need]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(lane(case) for need in needs[:1] for case in need.conditions.cases if lane(case)))


def _come_true(night: Night, needs: Sequence[Need]) -> list[Need]:
    """What each departure needs if every temporary and probable group comes about at its time: the most of them."""
    found = list(needs)
    for label in _lanes(needs):

        def these(case: Case, label: str = label) -> bool:
            return lane(case) == label

        for at, need in enumerate(look(night, these)):
            if STATUS_ORDER.index(need.status) < STATUS_ORDER.index(found[at].status):
                found[at] = need
    return found


def _longer(need: Need) -> Need:
    return replace(
        need, removal_min=-int(-need.removal_min * LONGER // 1), anti_icing_min=-int(-need.anti_icing_min * LONGER // 1)
    )


def _row(name: str, plan: Plan, note: str = "") -> VariantOut:
    treated = [one for one in plan.departures if one.start is not None]
    delays = [one.delay_min or 0 for one in plan.departures if one.take_off is not None]
    return VariantOut(
        name,
        plan.objective,
        plan.bound,
        plan.gap,
        len(treated),
        len(plan.unplanned),
        sum(delays),
        max(delays, default=0),
        sum(1 for one in plan.departures if one.window_missed),
        sum(1 for one in treated if one.holdover_broken),
        note,
    )
