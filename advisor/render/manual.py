"""A checklist printed as a chapter of a manual: text, HTML and PDF, each the same byte for byte for the same content.

No date of making stands in it unless one was given; the fingerprint on every page is the one that briefs carry.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from functools import lru_cache

import msgspec
from markupsafe import Markup

from advisor.checklist.desk.manual import MARKED, Chapter, Item, Manual
from advisor.render import design
from advisor.render.pdf import breakable, typeset
from advisor.render.picture import drawing

WIDTH, PAGE_LINES = 84, 60
# what a file says of its making where nobody gave a date
FIXED_DATE = "2000-01-01T00:00:00Z"
_BAR, _PLAIN = "| ", "  "


def render_html(manual: Manual) -> str:
    """The print as one HTML file: no script, nothing fetched; the fingerprint at the foot of every printed page."""
    return (
        drawing.environment()
        .get_template("manual.html.jinja")
        .render(manual=manual, marked=_marked(manual), sheets=_sheets(manual), style=_style())
    )


def render_pdf(manual: Manual) -> bytes:
    """The print as PDF, A4. Raises AdvisorError where the extra `pdf` is not installed."""
    data = msgspec.to_builtins(manual) | {"marked": _marked(manual)}
    inputs = {
        "data": msgspec.json.encode(breakable(data)).decode(),
        "sizes": msgspec.json.encode(design.PAPER_PT).decode(),
    }
    return typeset("manual.typ", inputs, manual.made or _dated(manual.effective) or FIXED_DATE)


def _dated(effective: str) -> str:
    return f"{effective}T00:00:00Z" if effective else ""


def _marked(manual: Manual) -> str:
    return MARKED.format(since=manual.since) if manual.since else ""


@lru_cache(maxsize=1)
def _style() -> Markup:
    return Markup(drawing.css() + drawing.source("manual.css"))


def _sheets(manual: Manual) -> list[tuple[str, str, str]]:
    """What the list of effective parts names in a file without pages: part, revision, date."""
    date = manual.effective or "not stated"
    return [(f"{one.number} {one.title}", manual.revision, date) for one in manual.chapters]


def render_text(manual: Manual) -> str:
    """The print as plain text in pages of sixty lines, the fingerprint at the foot of each, a form feed between."""
    cover, body = _cover(manual), list(_body(manual))
    bodies = _paged(body)
    # the list of pages has a line a page and may itself need more than one
    lists = 1
    while True:
        count = 1 + lists + len(bodies)
        listed = _paged(_effective(manual, bodies, 1 + lists, count))
        if len(listed) == lists:
            break
        lists = len(listed)
    pages = [cover, *listed, *bodies]
    return "\f".join(_page(manual, page, at, len(pages)) for at, page in enumerate(pages, 1))


def _page(manual: Manual, lines: list[str], number: int, count: int) -> str:
    foot = f"{manual.name}, revision {manual.revision}"
    right = f"page {number} of {count}"
    filled = lines + [""] * (PAGE_LINES - 4 - len(lines))
    rows = [*filled, "", "-" * WIDTH, f"{foot[: WIDTH - len(right) - 1]:<{WIDTH - len(right)}}{right}"]
    rows.append(f"fingerprint {manual.fingerprint}, effective {manual.effective or 'not stated'}")
    return "\n".join(row.rstrip() for row in rows) + "\n"


def _cover(manual: Manual) -> list[str]:
    lines = [
        "",
        "",
        manual.name,
        "=" * min(len(manual.name), WIDTH),
        "",
        "Checklist of the walk round the aircraft",
        "",
    ]
    for title, said in manual.facts:
        lines += _wrapped(f"{title:<16}", said, " " * 16)
    lines += ["", *textwrap.wrap(manual.promise, WIDTH)]
    if manual.since:
        lines += ["", *textwrap.wrap(_marked(manual), WIDTH)]
    lines += ["", "Contents"]
    return lines + [f"  {one.number:>2}  {one.title}" for one in manual.chapters]


def _effective(manual: Manual, bodies: list[list[str]], before: int, count: int) -> list[str]:
    date = manual.effective or "not stated"
    lines = ["List of effective pages", "-----------------------", "", f"{'page':<8}{'revision':<14}{'effective':<14}"]
    for number in range(1, count + 1):
        changed = number > before and any(line.startswith(_BAR) for line in bodies[number - before - 1])
        note = "changed" if changed else ""
        lines.append(f"{number:<8}{manual.revision[:12]:<14}{date:<14}{note}".rstrip())
    return lines


def _body(manual: Manual) -> Iterator[str]:
    for chapter in manual.chapters:
        yield from _chapter(chapter)


def _chapter(chapter: Chapter) -> Iterator[str]:
    title = f"{chapter.number}  {chapter.title}"
    yield from ("", f"{_PLAIN}{title}", f"{_PLAIN}{'=' * len(title)}", "")
    for said in chapter.words:
        yield from (f"{_PLAIN}{line}" for line in textwrap.wrap(said, WIDTH - 2))
    for item in chapter.items:
        yield from _item(item)


def _item(item: Item) -> Iterator[str]:
    bar = _BAR if item.mark else _PLAIN
    head = f" ({item.head})" if item.head else ""
    mark = f" [{item.mark}]" if item.mark else ""
    for line in textwrap.wrap(f"{item.title}{head}{mark}", WIDTH - 2, subsequent_indent="    "):
        yield f"{bar}{line}"
    for part in item.lines:
        for at, sentence in enumerate(part.said):
            title = part.title if at == 0 else "or"
            lead = f"    {title:<10} " if len(title) <= 10 else f"    {title}: "
            for line in _wrapped(lead, sentence, " " * 15, WIDTH - 2):
                yield f"{bar}{line}"
    yield ""


def _wrapped(lead: str, said: str, indent: str, width: int = WIDTH) -> list[str]:
    return textwrap.wrap(f"{lead}{said}", width, subsequent_indent=indent, break_on_hyphens=False) or [lead]


def _paged(lines: list[str]) -> list[list[str]]:
    """Lines in pages; an item that fits on one page is not broken over two."""
    room = PAGE_LINES - 4
    blocks: list[list[str]] = [[]]
    for line in lines:
        blocks[-1].append(line)
        if not line:
            blocks.append([])
    pages: list[list[str]] = [[]]
    for block in blocks:
        if len(pages[-1]) + len(block) > room and pages[-1]:
            pages.append([])
        for line in block:
            if len(pages[-1]) >= room:
                pages.append([])
            if pages[-1] or line:
                pages[-1].append(line)
    return [page for page in pages if page]
