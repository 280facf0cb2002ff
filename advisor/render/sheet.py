"""The sheet to take along, as data: what the HTML file and the PDF both show. Pure."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from advisor.brief.changes import changes
from advisor.brief.model import Advice, Brief, DoorAdvice
from advisor.render import text, words
from advisor.render.picture import data as picture
from advisor.render.picture import describe

TICKED = (text.ASK, text.TAKE, text.WALK, text.LATER)
TITLES = {
    text.STOP: "Wait or stop",
    text.ASK: "Ask for",
    text.TAKE: "Take and wear",
    text.DOORS: "Doors",
    text.OUT: "Out on the apron",
    text.WALK: "On the walk",
    text.LATER: "Before off-block",
}


class Item(msgspec.Struct, frozen=True):
    """A line. due: its latest time; must: heavier; zone: where on the walk; box: can be ticked."""

    text: str
    reason: str = ""
    due: str = ""
    zone: str = ""
    must: bool = False
    box: bool = False
    possible: bool = False


class Part(msgspec.Struct, frozen=True):
    """A titled part of the sheet."""

    key: str
    title: str
    items: tuple[Item, ...]


class Sheet(msgspec.Struct, frozen=True):
    """Everything on the sheet, in reading order."""

    title: str
    place: str
    off_block: str
    off_block_local: str
    ahead: str
    made: str
    times: tuple[tuple[str, str], ...]
    outlook: str
    reports: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    since: str
    changed: tuple[str, ...]
    parts: tuple[Part, ...]
    untold: tuple[str, ...]
    unread: str
    loosened: str
    loosened_how: tuple[str, ...]
    cautions: tuple[str, ...]
    checklist: str
    heads: tuple[tuple[str, str, str], ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


def sheet(brief: Brief, line: picture.Timeline, before: Brief | None = None) -> Sheet:
    """The sheet of a brief. line: its timeline; before: an earlier brief, what changed since is said first."""
    windows, zone = brief.windows, brief.place.time_zone
    grid = describe.table(line)
    indicator = f"{brief.place.indicator} " if brief.place.indicator else ""

    def span(pair: tuple[str, str]) -> str:
        first, last = (words.moment(at, brief.now) for at in pair)
        there = [words.local(at, zone) for at in pair]
        return f"{first} to {last}" + (f" ({there[0]} to {there[1]} local)" if all(there) else "")

    return Sheet(
        title=brief.aircraft.name,
        place=f"{indicator}{brief.place.name}",
        off_block=f"{windows.off_block[:10]} {words.clock(windows.off_block)}",
        off_block_local=words.local(windows.off_block, zone),
        ahead=text.duration(text.minutes(brief.now, windows.off_block)),
        made=text.with_local(brief.made_at, brief),
        times=(
            ("Walk", span(windows.walk_round)),
            ("Doors open", span(windows.doors_open)),
            ("Off-block", text.with_local(windows.off_block, brief)),
            ("Take-off", text.with_local(windows.take_off, brief)),
        ),
        outlook=text.picture(brief),
        reports=tuple(_report(brief, index) for index, report in enumerate(brief.reports) if report.used),
        notes=brief.notes,
        since="" if before is None else words.moment(before.now, brief.now),
        changed=() if before is None else _changed(before, brief),
        parts=tuple(part for part in (_part(brief, key) for key in text.SECTIONS) if part.items),
        untold=tuple(_untold(brief)),
        unread=", ".join(brief.not_decoded),
        loosened=text.loosened(brief) if brief.loosened or brief.loosened_how else "",
        loosened_how=brief.loosened_how,
        cautions=brief.cautions,
        checklist=f"{brief.checklist.name}, revision {brief.checklist.revision} ({brief.checklist.fingerprint})",
        heads=grid.heads,
        rows=grid.rows,
    )


def _report(brief: Brief, index: int) -> tuple[str, str]:
    report = brief.reports[index]
    age = text.duration(abs(report.age_min))
    name = "Forecast" if report.kind == "TAF" else "Report"
    told = f"{age} old" if report.age_min >= 0 else f"{age} after now"
    return f"{name} {words.moment(report.issued, brief.now)}, {told}", report.raw


def _changed(before: Brief, brief: Brief) -> tuple[str, ...]:
    found = changes(before, brief)
    said = tuple(f"{change.id.replace('-', ' ')}: {text.change_said(change)}" for change in found)
    return said or ("nothing changed in the lines below",)


def _part(brief: Brief, key: str) -> Part:
    items: list[Item] = []
    if key == text.DOORS:
        items += _doors(brief.doors)
    if not items:
        told = [line for line in brief.advice if line.status != "cannot tell" and text.section(line) == key]
        items += [_item(line, brief, box=key in TICKED) for line in told]
    return Part(key.lower().replace(" ", "-"), TITLES[key], tuple(items))


def _item(line: Advice, brief: Brief, *, box: bool) -> Item:
    due = ""
    if line.by is not None:
        there = words.local(line.by, brief.place.time_zone)
        due = words.due(line, brief.now)
        due += f" ({there})" if there and not line.by_passed else ""
    said = line.text.removesuffix(".") + (" [operator]" if line.origin == "operator" else "")
    zone = line.zone.replace("-", " ").capitalize() if line.kind == "checkpoint" and line.zone else ""
    zone = "" if zone == "All" else zone
    return Item(
        said,
        words.reason(line, text.falling(line, brief), most=2),
        due,
        zone,
        line.weight == "must",
        box,
        line.status == "possible",
    )


def _doors(doors: Sequence[DoorAdvice]) -> list[Item]:
    """Doors by status, the worst first; what reads the same stands together."""
    return [
        Item(
            f"{name}: {text.door_said(*states, group[0].beyond)}", text.gust(group), must=states != ("within", "within")
        )
        for name, states, group in text.door_groups(doors)
    ]


def _untold(brief: Brief) -> list[str]:
    """One line a missing input, and what nobody stated."""
    out = []
    for name, lines in words.folded(brief):
        out.append(f"Without {name}: {', '.join(words.rule_name(line.id) for line in lines)}. Take each as possible.")
    if unstated := words.unstated(brief):
        out.append(unstated)
    return out
