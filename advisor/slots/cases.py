"""What the outlook's cases say of one need, each on its own, and of history that nobody told. Pure."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from advisor.checklist.evaluate import CANNOT_TELL, EXPECTED, NOT_INDICATED, POSSIBLE, evaluate
from advisor.conditions import Case, Conditions, Windows
from advisor.departure import from_unix

CasePick = Callable[[Case], bool]


def only(conditions: Conditions, pick: CasePick) -> Conditions:
    """The same conditions with some of the cases; all of them where none is picked."""
    rows = [at for at, case in enumerate(conditions.cases) if pick(case)]
    return conditions.picked(rows) if rows else conditions


def by_case(
    rule: Any, conditions: Conditions, windows: Windows, since: int, class_id: str, status: str
) -> tuple[bool, ...]:
    """In which cases the rule says yes, each case on its own; empty where it says so in all or in none."""
    if rule is None or status in (EXPECTED, CANNOT_TELL):
        return ()
    says_yes = []
    for at in range(len(conditions.cases)):
        alone = only(conditions, lambda case, name=conditions.cases[at].name: case.name == name)  # type: ignore[misc]
        says_yes.append(evaluate((rule,), alone, windows, since, class_id)[0].status == EXPECTED)
    return tuple(says_yes) if any(says_yes) else ()


def if_it_stood_there(
    rule: Any, lying: Conditions, windows: Windows, now: int, class_id: str, fell: int, reason: str
) -> tuple[str, str]:
    """Status and reason where nobody says since when an aircraft stands there and something frozen fell before.

    lying: conditions as if it had been there all along. What it may then need is possible, never "nothing reported".
    """
    status = evaluate((rule,), lying, windows, now, class_id)[0].status
    if status == NOT_INDICATED:
        return status, reason
    return (CANNOT_TELL if status == CANNOT_TELL else POSSIBLE), untold(fell)


def untold(fell: int) -> str:
    """What has to be said where something frozen fell and nobody says since when an aircraft stands there."""
    return f"something frozen was reported at {from_unix(fell):%H%MZ}, and the time parked is not given"
