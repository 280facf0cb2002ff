"""The first view of the page: four questions, each with a short answer and what it rests on. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import msgspec

from advisor.brief.model import Advice, Brief, DoorAdvice
from advisor.brief.order import TREATMENT_RULE
from advisor.checklist.evaluate import STATUSES
from advisor.render import door_words, text, words

GRAVE, MIND, UNKNOWN, PLAIN = "grave", "mind", "unknown", "plain"
MARKS = {"must": ("!", "must"), "should": ("–", "should"), "cannot tell": ("?", "cannot tell")}


@dataclass(frozen=True)
class Piece:
    """One row under an answer. lead: a time or a status said first, by: that time; items: (words, is a must)."""

    lead: str
    items: tuple[tuple[str, bool], ...]
    grave: bool = False
    by: str = ""


@dataclass(frozen=True)
class Verdict:
    """A question, the verdict in a few words, its tone (also shown by shape), and the rows beneath.

    part: key of the part that says it in full, "" where only "could not be told" does. by, late: when the verdict is
    over, and what it is then.
    """

    id: str
    question: str
    verdict: str
    tone: str
    rows: tuple[Piece, ...]
    part: str = ""
    by: str | None = None
    late: str = ""


def answers(brief: Brief, view: str) -> tuple[Verdict, ...]:
    """The four answers. view: the stamp of the time at which somebody looks."""
    return stop(brief), calls(brief, view), take(brief), doors(brief)


def _items(lines: Sequence[Advice], *, whole: bool = False) -> tuple[tuple[str, bool], ...]:
    return tuple((line.text if whole else _named(line), line.weight == "must") for line in lines)


def _named(line: Advice) -> str:
    """A line in a word or two; what is not sure says so."""
    return line.short + (f" ({line.status})" if line.status in ("likely", "possible") else "")


def anchor(part: str) -> str:
    """Where a part stands on the page. part: its key."""
    return f"part-{part}"


def _untold(lines: Sequence[Advice]) -> tuple[Piece, ...]:
    found = [line for line in lines if line.status == "cannot tell"]
    return (Piece("Cannot tell", tuple((line.short, False) for line in found)),) if found else ()


def stop(brief: Brief) -> Verdict:
    """Must I wait or stop."""
    lines = [line for line in brief.advice if line.stop]
    told = [line for line in lines if line.status != "cannot tell"]
    told.sort(key=lambda line: STATUSES.index(line.status))
    rows = [
        Piece("" if line.status == "expected" else line.status.capitalize(), _items([line], whole=True), True)
        for line in told[:2]
    ]
    if told[2:]:
        lead = "Also" if all(line.status == "expected" for line in told[2:]) else "Also, some not certain"
        rows.append(Piece(lead, _items(told[2:]), True))
    rows += _untold(lines)
    if told:
        verdict = "yes" if told[0].status == "expected" else told[0].status
        tone = MIND if verdict == "possible" else GRAVE
        return Verdict("stop", "Wait or stop", verdict, tone, tuple(rows), "stop")
    if rows:
        return Verdict("stop", "Wait or stop", "cannot tell", UNKNOWN, tuple(rows))
    return Verdict("stop", "Wait or stop", "no reason given", PLAIN, ())


DE_ICING = TREATMENT_RULE


def calls(brief: Brief, view: str) -> Verdict:
    """Must I call for de-icing, and by when; what else there is to ask for stands beneath."""
    lines = [line for line in brief.advice if line.kind == "request" and not line.stop and line.part != "start"]
    call = next((line for line in lines if line.id == DE_ICING), None)
    others = [line for line in lines if line is not call]
    rows = _requests([line for line in others if line.status != "cannot tell"], brief, view)
    rows += _untold(others)
    part = "call" if any(line.status != "cannot tell" for line in lines) else ""
    if call is None:
        said = "de-icing: see the operator’s list" if DE_ICING in brief.loosened else "no de-icing named"
        return Verdict("calls", "Call", said, PLAIN, tuple(rows), part)
    latest = f"by {words.moment(call.by, brief.now)}" if call.by else ""
    if call.status == "cannot tell":
        return Verdict("calls", "Call", f"de-icing cannot be told{latest and ', '}{latest}", UNKNOWN, tuple(rows), part)
    if late(call, view):
        return Verdict("calls", "Call", _LATE[call.status], GRAVE, tuple(rows), part)
    verdict = {
        "expected": f"de-icing {latest}",
        "likely": f"de-icing likely, {latest}",
        "possible": f"de-icing possible, {latest}",
    }[call.status]
    return Verdict("calls", "Call", verdict.rstrip(", "), MIND, tuple(rows), part, by=call.by, late=_LATE[call.status])


_LATE = {
    "expected": "de-icing now",
    "likely": "de-icing likely, now",
    "possible": "de-icing possible, now",
}


def _requests(told: Sequence[Advice], brief: Brief, view: str) -> list[Piece]:
    """What else there is to ask for, by its latest time; what is late first."""
    groups: dict[str, list[Advice]] = {}
    for line in sorted(told, key=lambda line: (not late(line, view), line.by or "9", line.weight != "must")):
        named = f"{line.short}, if time" if words.too_late(line, view) else line.short
        said = msgspec.structs.replace(line, short=named)
        groups.setdefault("now" if late(line, view) else line.by or "", []).append(said)
    rows = []
    for by, group in groups.items():
        lead = "Late, now" if by == "now" else text.with_local(by, brief) if by else "Any time"
        must = any(line.weight == "must" for line in group)
        rows.append(Piece(lead, _items(group), by == "now" and must, by="" if by == "now" else by))
    return rows


def late(line: Advice, view: str) -> bool:
    """Whether a request's latest time has passed, when it was made or since."""
    return line.by_passed or (line.by is not None and line.by < view)


def take(brief: Brief) -> Verdict:
    """What do I take."""
    lines = [line for line in brief.advice if line.kind == "gear" and not line.stop]
    told = sorted(
        (line for line in lines if line.status != "cannot tell"),
        key=lambda line: (line.weight != "must", STATUSES.index(line.status)),
    )
    rows: list[Piece] = []
    for lead, wanted in (("", True), ("Also", False)):
        group = [line for line in told if (line.weight == "must") is wanted]
        if group:
            rows.append(Piece(lead, _items(group)))
    rows += _untold(lines)
    count = len(told)
    verdict = f"{count} thing{'' if count == 1 else 's'}" if count else "nothing named"
    return Verdict("take", "Take and wear", verdict, PLAIN, tuple(rows), "take" if told else "")


_VERDICTS = {
    "exceeded": ("leave shut", GRAVE),
    "possible": ("possibly too windy", MIND),
    "cannot tell": ("cannot tell", UNKNOWN),
    "within": ("below the limits", PLAIN),
}


def doors(brief: Brief) -> Verdict:
    """May doors be opened."""
    if not brief.doors:
        return Verdict("doors", "Doors", "none in the profile", PLAIN, ())
    alike: dict[str, list[DoorAdvice]] = {}
    for _, states, group in door_words.door_groups(brief.doors):
        alike.setdefault(door_words.group_said(states, group, brief), []).extend(group)
    rows = tuple(
        Piece("", ((f"{_few(group, brief)}: {said}", group[0].status == "exceeded"),)) for said, group in alike.items()
    )
    worst = min(brief.doors, key=lambda door: door_words.DOOR_ORDER.index(door.status))
    verdict, tone = _VERDICTS[worst.status]
    stays = {door.stay_open_status for door in brief.doors}
    if worst.status == "within" and stays != {"within"}:
        verdict, tone = "not to be left open", MIND
    elif worst.status == "exceeded" and any(door.status != "exceeded" for door in brief.doors):
        verdict = "leave some shut"
    return Verdict("doors", "Doors", verdict, tone, rows, "doors")


def _few(group: Sequence[DoorAdvice], brief: Brief) -> str:
    """Doors by number where their names would fill the screen."""
    if len(group) > 2:
        return (
            f"All {len(group)} doors" if len(group) == len(brief.doors) else f"{len(group)} of {len(brief.doors)} doors"
        )
    names = "; ".join(door.door for door in group)
    return f"{names[:1].upper()}{names[1:]}"
