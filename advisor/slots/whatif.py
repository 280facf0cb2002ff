"""Variants of a night: the published order carried out with a pad fewer, longer treatment, the worst of it. Pure.

Nothing is planned anew: what counts is how the order that was given out holds when the night turns out otherwise.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from math import inf

import numpy as np
from msgspec import structs

from advisor.checklist.evaluate import STATUSES
from advisor.conditions import Case
from advisor.slots import execution
from advisor.slots.cases import only
from advisor.slots.demand import Need
from advisor.slots.execution import Execution
from advisor.slots.field import Field
from advisor.slots.files.pads import Closure
from advisor.slots.night import Night
from advisor.slots.plan import Variants, look
from advisor.slots.rehearse import Outcome
from advisor.slots.result import VariantOut
from advisor.slots.scenarios import Draws, draw
from advisor.slots.stops import closures

LONGER = 1.2


def variants(nights: int, seed: int) -> Variants:
    """What-ifs over so many drawn nights, the same nights in each."""

    def made(
        night: Night, shut: Sequence[Closure], needs: Sequence[Need], done: Execution, over: Callable[[], bool]
    ) -> tuple[VariantOut, ...]:
        drawn = draw(done.field.needs, night.pads, nights, seed)
        rows = [_row("as planned", done.order.carried_out(done.field, drawn))]
        for name, field, drawn_then, note in _changed(night, shut, needs, done, drawn):
            if over():
                rows[-1] = structs.replace(rows[-1], note="the time was over before the other variants")
                break
            rows.append(_row(name, done.order.carried_out(field, drawn_then), note))
        return tuple(rows)

    return made


def _changed(
    night: Night, shut: Sequence[Closure], needs: Sequence[Need], done: Execution, drawn: Draws
) -> Iterator[tuple[str, Field, Draws, str]]:
    field, pads = done.field, night.pads
    if len(pads.pads) > 1:
        # the pad that takes most is the one that is missed most: the last that takes every size
        takes_all = [row for row, pad in enumerate(pads.pads) if pad.size == "any" and pad.place == "remote"]
        lost = takes_all[-1] if takes_all else len(pads.pads) - 1
        always = tuple(((-inf, inf),) if row == lost else spans for row, spans in enumerate(field.shut))
        yield f"without {pads.pads[lost].name}", replace(field, shut=always), drawn, ""
    longer = replace(field, remove=np.ceil(field.remove * LONGER), anti=np.ceil(field.anti * LONGER))
    yield f"treatment {100 * (LONGER - 1):.0f} % longer", longer, drawn, ""
    if lanes(needs):
        true = _come_true(night, done.field.needs)
        shut_then = [*shut, *_shut_then(night, needs)]
        then = execution.prepare(true, pads, shut_then, night.table, night.weather.now, {})
        cases = true[0].conditions.cases
        in_lane = next(at for at, case in enumerate(cases) if case.lane)
        sure = np.array([need.steps > 0 and need.status == "expected" for need in true], dtype=np.bool_)
        came = replace(drawn, needed=drawn.needed | sure, case=np.full(drawn.nights, in_lane))
        yield "forecast's temporary groups come true", then, came, ", ".join(lanes(needs))
    every = np.array([need.steps > 0 for need in field.needs], dtype=np.bool_)
    yield "every possible treatment needed", field, replace(drawn, needed=np.tile(every, (drawn.nights, 1))), ""


def lanes(needs: Sequence[Need]) -> tuple[str, ...]:
    """The temporary and probable groups that some case has."""
    cases = (case for need in needs[:1] for case in need.conditions.cases)
    return tuple(dict.fromkeys(case.lane for case in cases if case.lane))


def _shut_then(night: Night, needs: Sequence[Need]) -> Iterator[Closure]:
    """What is shut if every temporary and probable group comes about."""
    for label in lanes(needs):

        def these(case: Case, label: str = label) -> bool:
            return case.lane == label

        yield from closures(only(needs[0].conditions, these), night.pads, night.weather.now)[0]


def _come_true(night: Night, needs: Sequence[Need]) -> list[Need]:
    """What each departure needs if every temporary and probable group comes about at its time: the most of them."""
    most = {need.row.flight: need for need in needs}
    for label in lanes(needs):

        def these(case: Case, label: str = label) -> bool:
            return case.lane == label

        for need in look(night, these):
            known = most.get(need.row.flight)
            if known is not None and STATUSES.index(need.status) < STATUSES.index(known.status):
                most[need.row.flight] = replace(need, conditions=known.conditions)
    return [most[need.row.flight] for need in needs]


def _row(name: str, outcome: Outcome, note: str = "") -> VariantOut:
    figures = {key: round(float(values.mean()), 2) for key, values in outcome.figures().items()}
    return VariantOut(
        name,
        figures["cost"],
        round(float((outcome.pad >= 0).sum(axis=1).mean()), 2),
        round(float(outcome.left_out.sum(axis=1).mean()), 2),
        figures["delay_min"],
        figures["worst_delay_min"],
        figures["missed_windows"],
        figures["broken_holdovers"],
        note,
    )
