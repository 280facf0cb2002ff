"""What changed in a brief that goes on being looked at, in a sentence a line. Pure."""

from __future__ import annotations

from advisor.brief.changes import changes
from advisor.brief.model import Brief
from advisor.render import text, words


def sentences(before: Brief, after: Brief) -> tuple[str, ...]:
    """Each must-line, and each door, that came, went or changed its status, the graver changes first."""
    musts = {line.id for brief in (before, after) for line in brief.advice if line.weight == "must"}
    said = []
    for change in changes(before, after):
        if change.what == "moved" or not (change.id in musts or change.id.startswith("door: ")):
            continue
        name = change.id.removeprefix("door: ") if change.id.startswith("door: ") else words.rule_name(change.id)
        said.append(f"{name[:1].upper()}{name[1:]}: {text.change_said(change)}")
    return tuple(said)
