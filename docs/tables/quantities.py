"""The page of quantities: the vocabulary of rules and outputs."""

from __future__ import annotations

import math

from advisor.checklist import revision
from advisor.quantities import CODE, COLUMNS, FLAG, NUMBER, QUANTITIES, Quantity
from tables.markdown import code, plain, table

HEAD = """# Quantities

Every quantity that a rule may test or an output may show, from the one table of them (`advisor/quantities.py`). A
number that is not known is missing, never zero; a flag that is not known is neither yes nor no. In a brief's timeline
each number stands as low, central and high over all cases that the reports allow.
"""
INNER = """
## Columns that only physics needs

No rule tests them and no timeline shows them; [stages](stages.md) read and give them.
"""
TITLES = {NUMBER: "Numbers", FLAG: "Flags", CODE: "Codes"}


def pages() -> dict[str, str]:
    """quantities.md."""
    used = _used()
    parts = [HEAD]
    for kind, title in TITLES.items():
        rows = [one for one in QUANTITIES.values() if one.kind == kind]
        parts.append(f"\n## {title}\n")
        if kind == CODE:
            parts += [f"\n{code(one.name)}: {plain(one.meaning)}. One of: {', '.join(one.values)}.\n" for one in rows]
            continue
        heads = ["name", "unit", "range", "meaning", "in a brief", "rules"]
        keep = [at for at in range(6) if kind == NUMBER or at not in (1, 2)]
        full = [
            (code(one.name), plain(one.unit), _range(one), _meaning(one), _shown(one), _rules(used, one.name))
            for one in rows
        ]
        parts.append(table([heads[at] for at in keep], [[row[at] for at in keep] for row in full]))
    parts.append(INNER)
    rows = [one for name, one in COLUMNS.items() if name not in QUANTITIES]
    parts.append(table(("name", "unit", "meaning"), [(code(one.name), plain(one.unit), _meaning(one)) for one in rows]))
    return {"quantities.md": "\n".join(parts)}


def _meaning(one: Quantity) -> str:
    """What it is, what the trade calls it, and when it has no value."""
    also = f" Also called {', '.join(one.also_called)}." if one.also_called else ""
    without = f" No value: {one.no_value}." if one.no_value else ""
    return plain(one.meaning + ("." if also or without else "") + also + without)


def _used() -> dict[str, list[str]]:
    """Which shipped rules test a quantity."""
    used: dict[str, list[str]] = {}
    for rule in revision.load().rules:
        for name in rule.condition.quantities:
            used.setdefault(name, []).append(rule.id)
    return used


def _rules(used: dict[str, list[str]], name: str) -> str:
    return ", ".join(f"[{rule}](rules/{rule}.md)" for rule in used.get(name, ()))


def _shown(one: Quantity) -> str:
    return "yes" if one.shown else ""


def _range(one: Quantity) -> str:
    if math.isinf(one.low) and math.isinf(one.high):
        return ""
    return f"{one.low:g} to {one.high:g}".replace("-", "−")
