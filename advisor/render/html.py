"""The sheet as one HTML file: nothing is fetched from elsewhere, no script, light, dark and printed."""

from __future__ import annotations

from functools import lru_cache

from markupsafe import Markup

from advisor.brief.model import Brief
from advisor.render import sheet as sheets
from advisor.render.picture import chart, describe, drawing
from advisor.render.picture import data as picture
from advisor.render.picture import stand as stands


@lru_cache(maxsize=1)
def _style() -> Markup:
    return Markup(drawing.css() + drawing.source("sheet.css"))


def render_html(brief: Brief, *, before: Brief | None = None) -> str:
    """The brief as an HTML document that stands alone. Whatever comes from a report or a checklist is escaped.

    before: an earlier brief; what changed since comes first.
    """
    line, view = picture.timeline(brief), stands.stand(brief)
    return (
        drawing.environment()
        .get_template("sheet.html.jinja")
        .render(
            sheet=sheets.sheet(brief, line, before),
            style=_style(),
            timeline=Markup(chart.timeline_svg(line)),
            stand=Markup(chart.stand_svg(view)),
            timeline_said=describe.sentences(line),
            stand_said=stands.sentences(view),
        )
    )
