"""Whether a condition can ever be yes, and whether it ever is anything else."""

from __future__ import annotations

from advisor.checklist.compare import can_hold
from advisor.checklist.language.nodes import Node, Not


def always_holds(node: Node) -> bool:
    """Whether no values make a node no, what is missing apart."""
    return not can_hold(Not(node))


__all__ = ["always_holds", "can_hold"]
