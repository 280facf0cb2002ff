"""How fast pictures and sheets are made, against making the brief they show in the same run; the figures are printed.

The aims are 5 ms a chart and 150 ms a PDF. A ratio gates, so that a slow machine does not fail it, and
processor time is taken, so that a busy one does not.
"""

from time import process_time

from advisor import advise
from advisor.conditions import Place
from advisor.render.html import render_html
from advisor.render.pdf import render_pdf
from advisor.render.picture import chart, stand
from advisor.render.picture import data as picture

PLACE = Place("Invented apron", "ZZZA", 60.0, 10.0, 200.0, "Europe/Oslo")
ROUNDS = 5


def make(gust=42):
    """A brief of a snowy morning; another gust makes another brief."""
    return advise(
        f"METAR ZZZA 100520Z 24018G{gust}KT 1500 SN BKN008 M01/M02 Q0998",
        off_block="0800Z",
        now="2027-01-10T05:30:00Z",
        place=PLACE,
        heading=270,
    )


def best(work, repeats):
    """Shortest time of one call, s."""
    times = []
    for _ in range(ROUNDS):
        start = process_time()
        for _ in range(repeats):
            work()
        times.append((process_time() - start) / repeats)
    return min(times)


def test_pictures_and_sheets_keep_their_ratio_to_making_the_brief(capsys):
    made = make()
    brief = best(make, 10)
    line = best(lambda: chart.timeline_svg(picture.timeline(made)), 20)
    plan = best(lambda: chart.stand_svg(stand.stand(made)), 20)
    page = best(lambda: render_html(made), 10)
    # each of these is another brief, so that nothing is taken from the typesetter's memory of the last one
    others = iter([make(gust) for gust in range(25, 25 + ROUNDS * 5 + 1)])
    render_pdf(next(others))
    sheet = best(lambda: render_pdf(next(others)), 5)
    with capsys.disabled():
        print(
            f"\n  brief {1e3 * brief:.1f} ms, timeline {1e3 * line:.1f} ms, stand {1e3 * plan:.1f} ms, "
            f"HTML {1e3 * page:.1f} ms, PDF {1e3 * sheet:.0f} ms"
        )
    assert line < 2 * brief
    assert plan < 1 * brief
    assert page < 3 * brief
    assert sheet < 60 * brief
