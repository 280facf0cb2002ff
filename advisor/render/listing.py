"""What a brief prints, in which order, and what is folded: decided here once, for every form of output. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import msgspec

from advisor.brief.model import Advice, Brief, DoorAdvice, HazardOut
from advisor.brief.order import PARTS
from advisor.render import door_words, reasons, words
from advisor.render.headline import TIMELESS, named, night_before

TITLES = {
    "stop": "Wait or stop",
    "call": "Call or ask for",
    "take": "Take and wear",
    "doors": "Doors",
    "out": "Out on the apron",
    "walk": "On the walk",
    "start": "Before you start",
    "untold": "Could not be told",
    "unread": "Not understood in the report",
    "by-time": "What comes, by time",
    "count-on": "Count on this, in full in a later brief",
    "come-back": "Come back",
}
# what can be ticked off
TICKED = ("call", "take", "walk", "start")
MUST, SHOULD, UNTOLD = "!", "-", "?"


class PrintedLine(msgspec.Struct, frozen=True):
    """A line as it is printed. text: without its full stop; mark: "!" must, "-" should, "?" cannot be told.

    due: a call's latest time; doubt: "likely" or "possible", "" where it is expected or where the part says it once;
    why: "" where the part says it once, or where it always holds; lines: the advice that it stands for; grave: a door
    above its limit, or a reason to stop.
    """

    text: str
    mark: str = SHOULD
    due: str = ""
    doubt: str = ""
    why: str = ""
    more: str = ""
    zone: str = ""
    grave: bool = False
    lines: tuple[Advice, ...] = ()

    @property
    def reason(self) -> str:
        """Doubt and why in one phrase."""
        return ": ".join(one for one in (self.doubt, self.why) if one)


class Part(msgspec.Struct, frozen=True):
    """A titled part. why: what several of its lines rest on, said once, with how sure that is."""

    key: str
    title: str
    entries: tuple[PrintedLine, ...]
    why: str = ""


def listing(brief: Brief, *, whole: bool = False) -> tuple[Part, ...]:
    """The parts of a brief that have anything in them. whole: standing lines are not folded into one."""
    if night_before(brief) and not whole:
        return _said_once(_night_before(brief))
    return _said_once(part for part in (_part(brief, key, whole) for key in (*PARTS, "unread")) if part is not None)


def _said_once(parts: Iterable[Part]) -> tuple[Part, ...]:
    """The same parts, where a margin that was said in figures before is only referred to."""
    told: set[str] = set()
    shortened = []
    for part in parts:
        why = _referring(part.why, told)
        entries = tuple(msgspec.structs.replace(one, why=_referring(one.why, told)) for one in part.entries)
        shortened.append(msgspec.structs.replace(part, why=why, entries=entries))
    return tuple(shortened)


def _referring(why: str, told: set[str]) -> str:
    """A reason whose margins are in figures only where they are new. told: those that were said, which grow."""
    pieces = []
    for piece in why.split("; "):
        lead, colon, margin = piece.rpartition(": ")
        skin = next((one for one in reasons.SKINS if margin.startswith((f"{one} about ", f"{one} at worst "))), "")
        pieces.append(f"{lead}{colon}{skin} as above" if skin and margin in told else piece)
        if skin:
            told.add(margin)
    return "; ".join(pieces)


def _part(brief: Brief, key: str, whole: bool) -> Part | None:
    """One part, None where there is nothing in it."""
    if key == "unread":
        entries, why = [PrintedLine(", ".join(brief.not_decoded), UNTOLD)] * bool(brief.not_decoded), ""
    elif key == "untold":
        entries, why = _untold(brief), ""
    else:
        entries, why = _shared(_entries(brief, key, whole))
    if key == "doors":
        entries = [*door_entries(brief), *entries]
    return Part(key, TITLES[key], tuple(entries), why) if entries else None


def _night_before(brief: Brief) -> tuple[Part, ...]:
    """Hazards by time, what to decide and by when, what to count on by name, and when to come back."""
    later = sorted(brief.hazards, key=lambda one: (one.surer_from, one.surer_until))
    by_time = tuple(_by_time(one, brief) for one in later)
    count_on = [found for key in ("take", "doors", "out", "walk", "start") for found in _names(brief, key)]
    count_on += _as_always(brief)
    again = [entry(line, brief) for line in brief.advice if line.part == "start" and line.kind == "request"]
    calls = _part(brief, "call", False)
    if calls is not None:
        in_time = sorted(calls.entries, key=lambda one: one.lines[0].by or "9")
        calls = msgspec.structs.replace(calls, entries=tuple(in_time))
    parts = [
        _part(brief, "stop", False),
        Part("by-time", TITLES["by-time"], by_time) if by_time else None,
        calls,
        Part("count-on", TITLES["count-on"], tuple(count_on)) if count_on else None,
        _part(brief, "untold", False),
        _part(brief, "unread", False),
        Part("come-back", TITLES["come-back"], tuple(again)) if again else None,
    ]
    return tuple(part for part in parts if part is not None)


def _by_time(hazard: HazardOut, brief: Brief) -> PrintedLine:
    """A hazard with the time at which it is there in the central case, or in any where it is only possible."""
    when = _stretch(hazard.surer_from, hazard.surer_until, brief)
    wider = (hazard.from_, hazard.until) != (hazard.surer_from, hazard.surer_until)
    why = f"in other cases {_stretch(hazard.from_, hazard.until, brief)}" if wider else ""
    groups = f"by {', '.join(hazard.groups)}" if hazard.groups else ""
    text = named(hazard)
    if hazard.key in TIMELESS:
        return PrintedLine(f"{text[0].upper()}{text[1:]}")
    text = f"{text[0].upper()}{text[1:]}{' ' if when == 'throughout' else ', '}{when}"
    return PrintedLine(text, why="; ".join(part for part in (groups, why) if part))


def _stretch(begins: str, ends: str, brief: Brief) -> str:
    """From when to when; what goes on at take-off does not end there."""
    if ends >= brief.windows.take_off:
        return f"from {words.moment(begins, brief.now)}" if begins > brief.now else "throughout"
    return words.span(begins, ends, brief.now)


def _names(brief: Brief, key: str) -> list[PrintedLine]:
    """A part by the names of its lines, those that are equally sure together."""
    lines = [line for line in brief.advice if line.part == key and line.kind != "request" and not folds(line)]
    entries = []
    if key == "doors":
        entries += door_entries(brief)
    for status in ("expected", "likely", "possible", "cannot tell"):
        alike = [line for line in lines if line.status == status]
        if alike:
            doubt = "" if status == "expected" else "cannot be told" if status == "cannot tell" else status
            mark = UNTOLD if status == "cannot tell" else MUST if any(one.weight == "must" for one in alike) else SHOULD
            text = f"{TITLES[key]}: {'; '.join(line.short for line in alike)}"
            entries.append(PrintedLine(text, mark, doubt=doubt, lines=tuple(alike)))
    return entries


def _entries(brief: Brief, key: str, whole: bool) -> list[PrintedLine]:
    folding = () if whole else tuple(line for line in brief.advice if folds(line))
    found = [entry(line, brief) for line in brief.advice if line.part == key and line not in folding]
    return [*found, *_as_always(brief)] if key == "take" and folding else found


def _as_always(brief: Brief) -> list[PrintedLine]:
    """What holds before every flight, in one line."""
    folding = tuple(line for line in brief.advice if folds(line))
    text = "; ".join(line.short for line in folding)
    mark = MUST if any(line.weight == "must" for line in folding) else SHOULD
    return [PrintedLine(f"As always: {text}", mark, lines=folding)] if folding else []


def folds(line: Advice) -> bool:
    """Whether a line holds before every flight, has nothing to be decided, and needs no words of its own."""
    return line.standing and line.status == "expected" and line.origin == "shipped"


def entry(line: Advice, brief: Brief) -> PrintedLine:
    """One line of advice as it is printed, with its reason."""
    zone = line.zone.replace("-", " ").capitalize() if line.part == "walk" and line.zone not in (None, "all") else ""
    text = line.text.removesuffix(".") + (" [operator]" if line.origin == "operator" else "")
    due = words.due(line, brief.now)
    if line.status == "cannot tell":
        inputs = words.lacking(line.missing[0], brief) if line.missing else "more"
        stated = bool(line.missing) and STATED.get(line.missing[0]) in brief.not_stated
        why = f"{inputs} not given" if stated else f"cannot be told without {inputs}"
        return PrintedLine(text, UNTOLD, due, "", why, line.more, zone, lines=(line,))
    mark = MUST if line.weight == "must" else SHOULD
    doubt = "" if line.status == "expected" else line.status
    why = reasons.reason(line, brief)
    if why.casefold() in text.casefold():
        # a reason that says the line again
        why = ""
    return PrintedLine(text, mark, due, doubt, why, line.more, zone, line.stop, (line,))


def _shared(entries: list[PrintedLine]) -> tuple[list[PrintedLine], str]:
    """Entries without the reason that most of them share, and that reason; "" where none is shared."""
    told = Counter(one.reason for one in entries if one.why and one.mark != UNTOLD)
    if not told:
        return entries, ""
    # the one that saves most words
    reason, often = max(told.items(), key=lambda one: ((one[1] - 1) * len(one[0]), one[1]))
    if often < 2:
        return entries, ""
    shortened = []
    for printed_line in entries:
        if printed_line.reason == reason and printed_line.mark != UNTOLD:
            shortened.append(msgspec.structs.replace(printed_line, doubt="", why=""))
        elif not printed_line.reason and len(printed_line.lines) == 1 and printed_line.lines[0].standing:
            # beside lines that rest on the part's reason
            shortened.append(msgspec.structs.replace(printed_line, why="always"))
        else:
            shortened.append(printed_line)
    return shortened, reason


def door_entries(brief: Brief) -> list[PrintedLine]:
    """Doors by status, the worst first; what reads the same stands together."""
    entries = []
    for name, states, group in door_words.door_groups(brief.doors):
        mark = SHOULD if states == ("within", "within") else MUST
        text = f"{name}: {door_words.group_said(states, group, brief)}"
        entries.append(PrintedLine(text, mark, why=door_words.gust(group, brief), grave=_exceeded(group)))
    return entries


def _exceeded(group: Sequence[DoorAdvice]) -> bool:
    return any("exceeded" in (door.status, door.stay_open_status) for door in group)


def _untold(brief: Brief) -> list[PrintedLine]:
    entries = []
    for inputs, lines in folded(brief):
        text = f"Without {inputs}: {'; '.join(line.short for line in lines)}"
        entries.append(PrintedLine(text, UNTOLD, lines=tuple(lines)))
    if entries:
        entries.append(PrintedLine("Each of these is possible until somebody knows", ""))
    if said := unstated(brief):
        entries.append(PrintedLine(said, UNTOLD))
    return entries


# what a person can state, by the input that is missing where nobody did
STATED = {"parked_h": "parked since", "fuel_temperature_c": "fuel temperature"}


def folded(brief: Brief) -> list[tuple[str, list[Advice]]]:
    """Lines that cannot be told, under the one input that most of them want: (its name, the lines, musts first).

    Those that want something which was not stated stand in the line about that: see unstated.
    """
    return [
        (words.lacking(name, brief), found)
        for name, found in _by_input(brief.advice).items()
        if STATED.get(name) not in brief.not_stated
    ]


def unstated(brief: Brief) -> str:
    """What nobody stated, each with the lines that hang on it, in one sentence; "" where all was."""
    lines_by_statement = {STATED.get(name): lines for name, lines in _by_input(brief.advice).items()}
    phrases = []
    for name in brief.not_stated:
        lines = "; ".join(line.short for line in lines_by_statement.get(name, ()))
        phrases.append(f"{name} (not known: {lines})" if lines else name)
    return f"Not stated, so nothing is claimed: {'; '.join(phrases)}" if phrases else ""


def _by_input(lines: Iterable[Advice]) -> dict[str, list[Advice]]:
    lines_by_input: dict[str, list[Advice]] = {}
    rank = {name: at for at, name in enumerate(words.ORDER)}
    for line in lines:
        if line.part == "untold":
            names = line.missing or ("more about it",)
            lines_by_input.setdefault(min(names, key=lambda name: rank.get(name, len(rank))), []).append(line)
    for lines_of_one in lines_by_input.values():
        lines_of_one.sort(key=lambda line: (not line.stop, line.weight != "must", line.kind != "request"))
    return {name: lines_by_input[name] for name in sorted(lines_by_input, key=lambda name: rank.get(name, len(rank)))}
