"""A walk as text. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from advisor.record.chain import Event
from advisor.record.walk import checkpoints, read
from advisor.render import words


def as_text(events: Sequence[Event]) -> str:
    """A walk in reading order: what it is of, what was found where, the treatment, notes, the signature."""
    walk = read(events)
    if walk is None:
        return "What was said on this walk was dropped; its hashes are kept."
    opened = walk.opened
    whose = opened.get("registration") or opened["aircraft"]["name"]
    out = [
        f"Walk of {whose}, {opened['place']}, off-block {words.moment(opened['off_block'], opened['now'])}",
        f"Opened {walk.opened_at} by {opened['by']}; brief {opened['fingerprint'][:16]}, "
        f"checklist {opened['checklist']['name']} {opened['checklist']['revision']}",
    ]
    if walk.begun:
        out.append(f"Looked at from {walk.begun} to {walk.ended}")
    out += ["", "FOUND"]
    lines = checkpoints(opened)
    known = {line["id"] for line in lines}
    for line in lines:
        seen = walk.lines.get(line["id"])
        out.append(f"  {name_of(line)}: {said(seen) if seen else 'not looked at'}")
    others = [(name, seen) for name, seen in walk.lines.items() if name not in known]
    for name, seen in [*others, *walk.zones.items()]:
        out.append(f"  {name.replace('-', ' ')}: {said(seen)}")
    if walk.treatment:
        out += ["", "TREATMENT", *(f"  {step(one)}" for one in walk.treatment)]
    if walk.notes:
        out += ["", "NOTES", *(f"  {one['at']} {one.get('by', '')}: {one['text']}" for one in walk.notes)]
    if walk.photos:
        out += ["", f"{len(walk.photos)} photo{'' if len(walk.photos) == 1 else 's'}"]
    signed = walk.signed
    out += ["", f"Signed by {signed['by']}, {signed['role']}, {signed['at']}" if signed else "Not signed"]
    return "\n".join(out)


def name_of(line: dict[str, Any]) -> str:
    """What a line of a walk is called."""
    return line.get("short") or words.rule_name(line["id"])


def said(seen: object) -> str:
    """What was found, with its note and by whom."""
    finding, note, by, seen_at = (getattr(seen, name) for name in ("found", "note", "by", "at"))
    earlier = getattr(seen, "earlier", ())
    before = f" (before: {', '.join(earlier)})" if earlier else ""
    return f"{finding}{before}{f', {note}' if note else ''}, {words.clock(seen_at)}{f' {by}' if by else ''}"


def step(treatment_step: dict[str, object]) -> str:
    """A step of the treatment in a line."""
    parts = [f"{treatment_step['at']} {treatment_step['step']}"]
    parts += [f"{name} {treatment_step[name]}" for name in ("pad", "slot") if treatment_step.get(name)]
    if treatment_step.get("fluid"):
        parts.append(" ".join(str(treatment_step[name]) for name in ("fluid", "dilution") if treatment_step.get(name)))
    if treatment_step.get("cancel_by"):
        parts.append(f"cancel by {treatment_step['cancel_by']}")
    if treatment_step.get("by"):
        parts.append(f"by {treatment_step['by']}")
    if treatment_step.get("note"):
        parts.append(str(treatment_step["note"]))
    return ", ".join(parts)
