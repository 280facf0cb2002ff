"""The sheet to take along, as data: what the HTML file and the PDF both show. Pure."""

from __future__ import annotations

import msgspec

from advisor.brief.model import Brief
from advisor.render import listing as listed
from advisor.render import text, words
from advisor.render.changed import changes_said
from advisor.render.headline import headline
from advisor.render.listing import PrintedLine, listing
from advisor.render.picture import data as picture
from advisor.render.picture import describe


class SheetLine(msgspec.Struct, frozen=True):
    """A line. mark: as everywhere; due: its latest time; must: heavier; zone: where on the walk; box: can be ticked."""

    text: str
    reason: str = ""
    due: str = ""
    zone: str = ""
    must: bool = False
    box: bool = False
    mark: str = "-"


class SheetPart(msgspec.Struct, frozen=True):
    """A titled part of the sheet. why: what several of its lines rest on."""

    key: str
    title: str
    items: tuple[SheetLine, ...]
    why: str = ""


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
    headline: tuple[str, ...]
    parts: tuple[SheetPart, ...]
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
        return words.span_with_local(*pair, brief.now, zone)

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
        reports=tuple((text.report_said(report, brief), report.raw) for report in brief.reports if report.used),
        notes=brief.notes,
        since="" if before is None else words.moment(before.now, brief.now),
        changed=() if before is None else tuple(changes_said(before, brief)),
        headline=headline(brief),
        parts=tuple(_part(part, brief) for part in listing(brief)),
        loosened=text.loosened(brief) if brief.loosened or brief.loosened_how else "",
        loosened_how=brief.loosened_how,
        cautions=brief.cautions,
        checklist=f"{brief.checklist.name}, revision {brief.checklist.revision} ({brief.checklist.fingerprint})",
        heads=grid.heads,
        rows=grid.rows,
    )


def _part(part: listed.Part, brief: Brief) -> SheetPart:
    items = tuple(_item(one, brief, box=part.key in listed.TICKED) for one in part.entries)
    return SheetPart(part.key, part.title, items, part.why)


def _item(entry: PrintedLine, brief: Brief, *, box: bool) -> SheetLine:
    by = entry.lines[0].by if entry.due else None
    there = words.local(by, brief.place.time_zone) if by and entry.due != "Now" else ""
    due = f"{entry.due} ({there})" if there else entry.due
    return SheetLine(
        entry.text, entry.reason, due, entry.zone, entry.mark == listed.MUST, box and bool(entry.lines), entry.mark
    )
