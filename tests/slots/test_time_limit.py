"""The time limit covers the starts, the order, who is held back, variants and the rehearsal together."""

from __future__ import annotations

from typing import Any

import pytest
from nights import Ticks, need, night, pad, pads, sky, table

from advisor.slots import execution, holding, order, rehearse, whatif
from advisor.slots.plan import Effort, make
from advisor.slots.steplimit import StepLimit

SECONDS, EACH = 2.0, 0.05
SNOW = sky(falling="light snow")
NEEDS = [need(f"T{at}", 3 * at, window=(3 * at + 45, 3 * at + 70), conditions=SNOW) for at in range(14)]
TWO = pads(pad("P1"), pad("P2"))


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Ticks:
    """A clock on which nothing but carrying an order out takes time, so that no test depends on the machine."""
    made, plain = Ticks(), rehearse.carry_out

    def slow(*words: Any, **named: Any) -> Any:
        made.now += EACH
        return plain(*words, **named)

    for module in (execution, holding, order):
        monkeypatch.setattr(module, "carry_out", slow)
    return made


def test_everything_together_ends_within_the_limit(clock: Ticks) -> None:
    effort = Effort(SECONDS, clock, nights=8, turns=300)
    about = night(NEEDS, TWO, table({"light snow": 25}))
    made = make(about, effort, needs=NEEDS, rehearse=(20, 0), variants=whatif.variants(8, 0))
    # one variant and three ways of the rehearsal are carried out whatever the time
    assert clock.now <= SECONDS + 5 * EACH
    assert made.order is not None and made.order.cut and len(made.variants) == 4 and made.rehearsal is not None
    assert sorted(one.order for one in made.departures) == list(range(1, 15))


def test_with_time_enough_every_order_and_variant_is_tried(clock: Ticks) -> None:
    effort = Effort(1000.0, clock, nights=8, turns=30)
    about = night(NEEDS, TWO, table({"light snow": 25}))
    made = make(about, effort, needs=NEEDS, variants=whatif.variants(8, 0))
    assert made.order is not None and not made.order.cut and order.SEARCHED in made.order.tried
    assert len(made.variants) == 4 and all(not one.note for one in made.variants)


def test_plan_is_made_though_no_time_is_left(clock: Ticks) -> None:
    about = night(NEEDS, TWO, table({"light snow": 25}))
    made = make(about, Effort(0.0, clock, nights=8, turns=300), needs=NEEDS)
    assert made.order is not None and made.order.name == order.LATEST_FINISH and made.order.cut
    assert clock.now <= 3 * EACH and all(one.start for one in made.departures)


def test_nothing_is_begun_that_would_not_fit_by_hand() -> None:
    # asked at 0, 3, 4 and 6 of 10: the longest step took 3, so another fits from 6 (to 9), and none from 7 on
    clock = Ticks()
    over = StepLimit(clock, 10.0, lambda: False)
    for now, expected in ((0.0, False), (3.0, False), (4.0, False), (6.0, False), (7.0, True)):
        clock.now = now
        assert over() is expected
    assert StepLimit(clock, 10.0, lambda: True)() and StepLimit(clock, 7.0, lambda: False)()
