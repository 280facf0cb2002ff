"""Two conditions compared, and whether one can hold: what language.decide says, by the names used elsewhere."""

from __future__ import annotations

from advisor.checklist.language.decide import (
    BOTH_WAYS,
    CANNOT_DECIDE,
    LOOSENED,
    SAME,
    TIGHTENED,
    WORK,
    can_fail,
    can_hold,
    decide,
)
from advisor.checklist.language.nodes import Node


def compare(old: Node, new: Node, *, work: int = WORK) -> str:
    """What a change from old to new does, wherever physics allows a difference."""
    return decide(old, new, work=work, places=1).change


__all__ = [
    "BOTH_WAYS",
    "CANNOT_DECIDE",
    "LOOSENED",
    "SAME",
    "TIGHTENED",
    "WORK",
    "can_fail",
    "can_hold",
    "compare",
]
