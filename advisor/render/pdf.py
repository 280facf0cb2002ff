"""The sheet as a PDF: A5, tagged, set in the font that comes with the package. Needs the extra `pdf`."""

from __future__ import annotations

import re
import threading
from datetime import datetime
from functools import lru_cache
from importlib import resources
from typing import Any

import msgspec

from advisor.brief.model import Brief
from advisor.errors import AdvisorError
from advisor.render import design
from advisor.render import sheet as sheets
from advisor.render.picture import chart, describe, drawing
from advisor.render.picture import data as picture
from advisor.render.picture import stand as stands

_LONG = re.compile(r"(\S{24})(?=\S)")
_local = threading.local()


def render_pdf(brief: Brief, *, before: Brief | None = None) -> bytes:
    """The brief as a PDF, the same bytes for the same brief.

    One A5 page where it fits, more where it does not. before: an earlier brief; what changed since comes first.
    Raises AdvisorError where the extra `pdf` is not installed.
    """
    line, view = picture.timeline(brief), stands.stand(brief)
    data = msgspec.to_builtins(sheets.sheet(brief, line, before))
    day, clock = data["off_block"].split(" ")
    data |= {
        "off_block_day": day,
        "off_block_clock": clock,
        "timeline_said": " ".join(describe.sentences(line)),
        "stand_said": " ".join(stands.sentences(view)),
    }
    inputs = {
        "data": msgspec.json.encode(breakable(data)).decode(),
        "first": chart.timeline_svg(line, printed=True, ident="first", parts=("plan",)),
        "second": chart.timeline_svg(line, printed=True, ident="second", parts=("panels", "notes")),
        "stand": chart.stand_svg(view, printed=True),
    }
    return typeset("sheet.typ", inputs | {"sizes": _sizes(inputs)}, brief.made_at)


def _sizes(inputs: dict[str, str]) -> str:
    """The largest sizes that cost neither a page nor a picture against the smallest, as JSON."""
    tried = [msgspec.json.encode(sizes).decode() for sizes in design.PAPERS_PT]
    least = _taken(inputs | {"sizes": tried[-1]})
    for larger in tried[:-1]:
        pages, pictures = _taken(inputs | {"sizes": larger})
        if pages <= least[0] and pictures >= least[1]:
            return larger
    return tried[-1]


def _taken(inputs: dict[str, str]) -> tuple[int, int]:
    """How many pages a sheet takes, and how many pictures find room. What cannot be set says so when it is set."""
    compiler, failure = _compiler()
    asked: dict[str, Any] = {"input": drawing.source("sheet.typ").encode(), "sys_inputs": inputs}
    try:
        svg = compiler.compile(**asked, format="svg")
    except failure:
        return 0, 0
    pages = svg if isinstance(svg, list) else [svg]
    return len(pages), sum(page.count(b"<image") for page in pages)


def typeset(template: str, inputs: dict[str, str], made_at: str) -> bytes:
    """A template with its data as PDF. made_at: RFC 3339, what the file says of itself.

    Raises AdvisorError where the extra `pdf` is not installed, or where it cannot be set.
    """
    compiler, failure = _compiler()
    asked: dict[str, Any] = {
        "input": drawing.source(template).encode(),
        "format": "pdf",
        "sys_inputs": inputs,
        "timestamp": round(datetime.fromisoformat(made_at).timestamp()),
    }
    try:
        pdf = compiler.compile(**asked, pdf_standards="ua-1")
    except failure:
        # a letter that the font lacks is against the standard, but no reason to go without a sheet
        try:
            pdf = compiler.compile(**asked)
        except failure as error:
            reason = str(error).splitlines()[0]
            raise AdvisorError(
                f"the sheet could not be set ({reason})", where="--format pdf", hint="take --format html"
            ) from None
    assert isinstance(pdf, bytes)
    return pdf


def breakable(value: Any) -> Any:
    """Texts in which a long run without spaces may be broken."""
    if isinstance(value, str):
        return _LONG.sub("\\1\u200b", value)
    if isinstance(value, dict):
        return {key: breakable(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [breakable(one) for one in value]
    return value


@lru_cache(maxsize=1)
def _fonts() -> Any:
    import typst

    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[_folder()])


def _folder() -> str:
    return str(resources.files("advisor.render") / "fonts")


def _compiler() -> tuple[Any, type[Exception]]:
    """The compiler of this thread, with its fonts read, and what it raises."""
    try:
        import typst
    except ImportError:
        raise AdvisorError(
            "a PDF needs the extra `pdf`",
            where="--format pdf",
            hint="pip install 'advisor[pdf]', or take --format html",
        ) from None
    if not hasattr(_local, "compiler"):
        # the template reads no file: the root is a folder that holds nothing of anybody's
        _local.compiler = typst.Compiler(root=_folder(), font_paths=_fonts(), ignore_system_fonts=True)
    return _local.compiler, typst.TypstError
