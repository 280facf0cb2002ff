"""The laws between quantities, held against what physics gives for many invented situations.

The comparison of rules leaves out what the laws exclude: a law that some situation breaks would hide a difference.
"""

from __future__ import annotations

import drawn
import numpy as np
import pytest

from advisor.brief import inputs
from advisor.checklist.language import physical
from advisor.checklist.language.condition import compile_condition
from advisor.errors import AdvisorError
from advisor.quantities import FLAG, QUANTITIES

SITUATIONS = 90


@pytest.fixture(scope="module")
def tables():
    """Derived conditions of the situations from now on, history left out."""
    made = []
    kept = inputs.conditions

    def keep(*args, **named):
        found = kept(*args, **named)
        made.append(found.between(found.now_s, found.unix_s[-1]))
        return found

    inputs.conditions = keep
    try:
        for number in range(SITUATIONS):
            try:
                drawn.night(11, number).brief()
            except AdvisorError:
                continue
    finally:
        inputs.conditions = kept
    assert len(made) > SITUATIONS / 2
    return made


def test_no_situation_breaks_a_law(tables):
    held = 0
    for law in physical.LAWS:
        if law.definition:
            continue
        when, then = compile_condition(law.when), compile_condition(law.then)
        for table in tables:
            yes, _ = when.evaluate(table.columns, table.shape)
            kept, _ = then.evaluate(table.columns, table.shape)
            held += int((yes & kept).sum())
            # yes, and never missing either
            assert not (yes & ~kept).any(), (law.when, law.then)
    assert held > 100_000


def test_no_situation_breaks_an_order(tables):
    for order in physical.ORDERS:
        seen = 0
        for table in tables:
            lower, higher = table.number(order.lower), table.number(order.higher)
            known = ~np.isnan(lower) & ~np.isnan(higher)
            most = np.where(higher > 0, higher, order.below_zero * higher)
            seen += int(known.sum())
            assert not (lower[known] > most[known] + 1e-9).any(), (order.lower, order.higher)
        assert seen > 100, (order.lower, order.higher)


def test_no_value_lies_outside_its_range_and_what_is_always_known_is_never_missing(tables):
    for table in tables:
        for name, (low, high) in physical.RANGES.items():
            values = table.number(name)
            values = values[~np.isnan(values)]
            assert not values.size or (values.min() >= low and values.max() <= high), name
        for name in physical.ALWAYS_KNOWN:
            assert not table.unknown(name).any(), name


def test_a_value_is_absent_just_where_the_law_says(tables):
    for absence in physical.ABSENCES:
        flag = QUANTITIES[absence.quantity].absent
        condition = compile_condition(absence.when)
        for table in tables:
            yes, no = condition.evaluate(table.columns, table.shape)
            gone = table.flag(flag) == 1
            missing = table.unknown(absence.quantity) & ~gone
            assert (yes == gone).all(), absence.quantity
            assert ((~yes & ~no) == missing).all(), absence.quantity


def test_every_law_names_quantities_of_the_table_and_gives_its_reason():
    named = [name for order in physical.ORDERS for name in (order.lower, order.higher)]
    named += [*physical.RANGES, *physical.ALWAYS_KNOWN]
    assert set(named) <= set(QUANTITIES)
    for law in physical.LAWS:
        assert law.reason, law
        compile_condition(law.when), compile_condition(law.then)


def test_what_is_a_kind_of_a_kind_is_one():
    """Laws between flags are closed: where one leads to a second and that to a third, the first leads to the third."""
    flags = {name for name, row in QUANTITIES.items() if row.kind == FLAG}
    leads = {(law.when, law.then) for law in physical.LAWS if {law.when, law.then} <= flags}
    missing = {(one, last) for one, middle in leads for start, last in leads if middle == start} - leads
    assert not missing
