"""Counterexamples made short: whatever can go while the same line still gets lost, and then as text for a test."""

from __future__ import annotations

import re
from typing import Any

from drawn import Night, simpler
from kept import Held, Trial


def reduced(night: Night, trial: Trial, lost_line: str, tries: int = 200) -> tuple[Night, Held]:
    """The situation with whatever can go while the same line still gets lost, and what the trial then comes to."""
    held, left = trial.of(night), tries
    wanted = key(lost_line)
    again = True
    while again and left > 0:
        again = False
        for one in simpler(night):
            if one == night or size(one) > size(night):
                continue
            left -= 1
            if left < 0:
                break
            try:
                found = trial.of(one)
            except Exception:
                continue
            if any(key(line) == wanted for line in found.lost):
                night, held, again = one, found, True
                break
    return night, held


def key(line: str) -> str:
    """What a lost line is called, without its numbers."""
    return re.split(r"[:({]", line)[0].strip()[:40]


def size(night: Night) -> tuple[int, int]:
    """How much there is to read."""
    return len(night.asked), sum(map(len, night.texts))


def pasted(night: Night, held: Held, title: str) -> str:
    """A counterexample as it can be pasted into a test."""
    asked: dict[str, Any] = {"place": night.place, **night.asked}
    shown = {
        name: value if isinstance(value, (str, int)) else f"{value:%Y-%m-%dT%H:%MZ}" for name, value in asked.items()
    }
    said = [f"now={night.now:%Y-%m-%dT%H:%MZ!r}", f"off_block={night.off_block:%Y-%m-%dT%H:%MZ!r}"]
    said += [f"{name}={value!r}" for name, value in shown.items()]
    rows = [f"{title}: loses {'; '.join(held.lost)}", f"  {', '.join(said)}"]
    rows += [f"    {text}" for text in held.before]
    if held.after != held.before:
        rows += [f"  > {text}" for text in held.after if text not in held.before] or ["  > in another order"]
    return "\n".join(rows)
