"""What takes long is not worked out for each who asks."""

from __future__ import annotations

import threading

import pytest

from advisor.web.costly import PART, SOON_S, Costly


class Ticks:
    now = 1000.0

    def __call__(self) -> float:
        return self.now


def taking(ticks: Ticks, seconds: float) -> tuple[Costly[int], list[int]]:
    done: list[int] = []

    def work() -> int:
        ticks.now += seconds
        done.append(1)
        return len(done)

    return Costly(work, ticks), done


def test_what_is_worked_out_soon_is_worked_out_for_each_who_asks() -> None:
    costly, _ = taking(Ticks(), SOON_S)
    assert [costly.value() for _ in range(3)] == [1, 2, 3]


def test_what_takes_long_takes_at_most_its_part_of_the_time() -> None:
    # asked every second for two hours: 12 s of work, as 5 % of the time, may come every 240 s
    ticks = Ticks()
    costly, done = taking(ticks, 12.0)
    begun = ticks.now
    while ticks.now < begun + 7200:
        costly.value()
        ticks.now += 1
    assert len(done) * 12.0 <= PART * 7200 + 12.0
    # and it is worked out anew when it may be
    assert len(done) >= 29


def test_who_asks_meanwhile_waits_for_the_same_value() -> None:
    ticks, going, go = Ticks(), threading.Event(), threading.Event()
    done: list[int] = []

    def work() -> int:
        going.set()
        assert go.wait(10)
        ticks.now += 1
        done.append(1)
        return len(done)

    costly = Costly(work, ticks)
    values: list[int] = []
    threads = [threading.Thread(target=lambda: values.append(costly.value())) for _ in range(4)]
    threads[0].start()
    assert going.wait(10)
    for thread in threads[1:]:
        thread.start()
    go.set()
    for thread in threads:
        thread.join(10)
    assert values == [1, 1, 1, 1]


def test_a_value_that_could_not_be_worked_out_is_asked_for_again() -> None:
    ticks, tries = Ticks(), []

    def work() -> int:
        tries.append(1)
        ticks.now += 1
        if len(tries) == 1:
            raise OSError("away")
        return 7

    costly = Costly(work, ticks)
    with pytest.raises(OSError):
        costly.value()
    assert costly.value() == 7
