"""Whether a condition can ever be yes, and whether it ever is anything else, within what physics allows."""

from __future__ import annotations

from advisor.checklist.compare import can_fail, can_hold
from advisor.checklist.language.nodes import Node


def always_holds(node: Node) -> bool:
    """Whether nothing that physics allows makes a node no, what is missing apart."""
    return not can_fail(node)


__all__ = ["always_holds", "can_hold"]
