"""The drawings: equal to the numbers and to the words, legible, safe. Read back from the SVG, not from the code."""

import re
from datetime import UTC, datetime

import msgspec
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from advisor.render.picture import chart, describe, drawing, stand
from advisor.render.picture import data as picture

from . import samples
from .reading import SVG, meets, number, overlap, points, segments, shapes, texts, tree

BOTH = [(name, which) for name in samples.ALL for which in ("timeline", "stand")]


def drawn(made, which, **more):
    if which == "timeline":
        return chart.timeline_svg(picture.timeline(made), **more)
    return chart.stand_svg(stand.stand(made), **more)


def described(made, which):
    return describe.sentences(picture.timeline(made)) if which == "timeline" else stand.sentences(stand.stand(made))


PANELS = {
    "Skin below where frost forms, °C": ("frost", "frost_margin_c"),
    "Gust against door limits, kt": ("gust", "gust_kt"),
}


def panel_scale(root, title):
    """From y to a value, by the numbers written on the panel's own axis; and the axis' upper and lower end."""
    said = [(text, node) for node in root.iter(f"{SVG}text") if (text := node.text)]
    top = next(float(node.get("y")) for text, node in said if text == title)
    bottom = min(y for text, node in said if text in (*PANELS, "UTC") and (y := float(node.get("y"))) > top)
    ticks = [
        (float(node.get("y")) - 5, number(text))
        for text, node in said
        if node.get("text-anchor") == "end" and top < float(node.get("y")) < bottom
    ]
    places, values = np.array(ticks).T
    slope, start = np.polyfit(places, values, 1)
    return lambda y: slope * y + start, top, bottom


@pytest.mark.parametrize("name", ["worst", "night"])
@pytest.mark.parametrize("title", PANELS)
def test_the_line_and_the_band_are_the_numbers_of_the_brief_by_the_picture_s_own_axis(name, title):
    made = samples.ALL[name]()
    root = tree(drawn(made, "timeline"))
    value, top, bottom = panel_scale(root, title)
    times = np.array([datetime.fromisoformat(row["at"]).timestamp() for row in made.timeline])
    look, key = PANELS[title]
    (line,) = [node for node in shapes(root, f"line-{look}") if node.tag == f"{SVG}path"]
    way = np.array(points(line))
    assert ((way[:, 1] > top) & (way[:, 1] < bottom)).all()
    # the whole width is the whole time
    share = (way[:, 0] - way[0, 0]) / (way[-1, 0] - way[0, 0])
    assert share == pytest.approx((times - times[0]) / (times[-1] - times[0]), abs=1e-3)
    expected = np.array([row[key]["central"] for row in made.timeline])
    assert np.array([value(y) for y in way[:, 1]]) == pytest.approx(expected, abs=0.12)
    # hours after a report the wind has no upper end, and a band over some cases only is not drawn
    banded = [row for row in made.timeline if row[key]["low"] is not None]
    (area,) = shapes(root, f"band-{look}")
    edge = np.array(points(area))
    high, low = edge[: len(banded), 1], edge[len(banded) :, 1][::-1]
    for track, edge_name in ((low, "low"), (high, "high")):
        numbers = [row[key][edge_name] for row in banded]
        assert [value(y) for y in track] == pytest.approx(numbers, abs=0.12)


def test_beyond_a_limit_lies_above_its_line():
    """60 kt of gust against the jet's 40 kt (its profile): what is too much is drawn higher."""
    root = tree(drawn(samples.worst(), "timeline"))
    (line,) = [node for node in shapes(root, "line-gust") if node.tag == f"{SVG}path"]
    _, top, bottom = panel_scale(root, "Gust against door limits, kt")
    limits = [y for node in shapes(root, "level") if top < (y := float(node.get("y1"))) < bottom]
    assert len(limits) == 2
    assert max(y for _, y in points(line)) < min(limits)


def test_what_comes_near_no_limit_has_no_panel_but_its_numbers_in_words():
    made = samples.quiet()
    root = tree(drawn(made, "timeline"))
    assert not shapes(root, "frame")
    said = " ".join(text for text, _ in texts(root))
    rows = made.timeline
    margin = max(row["frost_margin_c"]["high"] for row in rows)
    gust = max(row["gust_kt"]["high"] for row in rows)
    # 18 °C on a dry summer's day, and a wind of 6 kt: far from frost and from the jet's 35 kt (its profile)
    assert f"Skin {-margin:.0f} °C or more above where frost forms." in said
    assert f"Gust to {gust:.0f} kt; lowest door limit 35 kt." in said


@pytest.mark.parametrize(
    ("column", "values", "look"),
    [
        # 3 °C of frost and 10 kt of the jet's lowest limit, 35 kt, are near
        ("frost_margin_c", -3.2, None),
        ("frost_margin_c", -2.8, "line-frost"),
        ("gust_kt", 24.0, None),
        ("gust_kt", 26.0, "line-gust"),
    ],
)
def test_a_panel_is_drawn_where_something_comes_near_its_limit(column, values, look):
    made = samples.quiet()
    changed = samples.with_rows(made, **{column: [values] * len(made.timeline)})
    root = tree(drawn(changed, "timeline"))
    assert len(shapes(root, "frame")) == (look is not None)
    if look:
        assert shapes(root, look)


def bars(root, look):
    """Left and right end of each bar of a look."""
    return [(x := float(node.get("x")), x + float(node.get("width"))) for node in shapes(root, look)]


@pytest.mark.parametrize("name", samples.ALL)
def test_walk_and_doors_are_bars_at_their_times_on_the_one_axis(name):
    made = samples.ALL[name]()
    line = picture.timeline(made)
    root = tree(drawn(made, "timeline"))
    # the axis, from two of the times that are written on it
    ticks = [
        (float(node.get("x")), node.text)
        for node in root.iter(f"{SVG}text")
        if re.fullmatch(r"\d{4}", node.text or "") and node.get("text-anchor") == "middle"
    ]
    (x1, first), (x2, last) = ticks[0], ticks[-1]
    minutes = lambda text: int(text[:2]) * 60 + int(text[2:])  # noqa: E731
    span = (minutes(last) - minutes(first)) % 1440
    for look, (start, end) in (("bar", line.walk_s), ("doors", line.doors_s)):
        day = minutes(datetime.fromtimestamp(start, tz=UTC).strftime("%H%M"))
        x = x1 + ((day - minutes(first) + 720) % 1440 - 720) / span * (x2 - x1)
        wide = (end - start) / 60 / span * (x2 - x1)
        found = bars(root, look)
        assert any(
            left == pytest.approx(x, abs=0.2) and right - left == pytest.approx(max(3, wide), abs=0.2)
            for left, right in found
        )


@pytest.mark.parametrize(("name", "which"), BOTH)
def test_the_description_is_what_the_sentences_say_and_names_the_picture(name, which):
    made = samples.ALL[name]()
    root = tree(drawn(made, which))
    assert root.get("role") == "img"
    title, desc = (root.find(f"{SVG}{tag}") for tag in ("title", "desc"))
    assert root.get("aria-labelledby").split() == [title.get("id"), desc.get("id")]
    assert title.text
    assert desc.text == " ".join(described(made, which))


@pytest.mark.parametrize("name", samples.ALL)
def test_every_marked_crossing_stands_in_the_description_and_at_its_time_in_the_picture(name):
    made = samples.ALL[name]()
    line = picture.timeline(made)
    root = tree(drawn(made, "timeline"))
    desc = root.find(f"{SVG}desc").text
    said = " ".join(text for text, _ in texts(root))
    start, end = (datetime.fromisoformat(at).timestamp() for at in (made.now, made.windows.take_off))
    left, right = bars(root, "still")[0][0], 360 - 108.0

    def place(one):
        return left + (one.at_s - start) / (end - start) * (right - left)

    found = chart.marked(line)
    # on a panel a dot, on a row the end of a bar
    dots = sorted(float(node.get("cx")) for node in shapes(root, "mark") if node.tag == f"{SVG}circle")
    assert dots == pytest.approx(sorted(place(one) for key, one in found if key in ("frost", "wind")), abs=0.02)
    ends = [x for look in ("bar", "sparse", "unknown") for pair in bars(root, look) for x in pair]
    for key, one in found:
        if key in ("light", "air") and one.edge != "central":
            assert min(abs(x - place(one)) for x in ends) < 0.05
        assert f"{line.clock(one.at_s)} {one.said}" in said
        sentence = next(part for part in desc.split(". ") if part.lower().startswith(one.said.lower()))
        assert line.clock(one.at_s) in sentence


def assert_legible(root):
    boxes = texts(root)
    width = float(root.get("viewBox").split()[2])
    height = float(root.get("viewBox").split()[3])
    for text, box in boxes:
        assert box[0] >= -0.5 and box[2] <= width + 0.5 and box[1] >= 0 and box[3] <= height, text
    for index, (text, box) in enumerate(boxes):
        for other, more in boxes[index + 1 :]:
            assert not overlap(box, more), f"{text!r} over {other!r}"
    for text, box in boxes:
        for look, segment in segments(root):
            assert not meets(box, segment), f"{text!r} over a line {look} {segment}"


@pytest.mark.parametrize(("name", "which"), BOTH)
def test_no_label_lies_on_a_line_or_on_another_label_at_360_px(name, which):
    root = tree(drawn(samples.ALL[name](), which))
    assert float(root.get("viewBox").split()[2]) == 360
    assert_legible(root)


value = st.none() | st.floats(-45, 45)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_labels_stay_clear_whatever_the_numbers(data):
    made = samples.brief(samples.SNOW, off_block=data.draw(st.sampled_from(["0640Z", "0800Z", "1200Z"])))
    count = len(made.timeline)
    steps = data.draw(st.integers(2, 8))

    def column(strategy):
        few = data.draw(st.lists(strategy, min_size=steps, max_size=steps))
        bands = []
        for index in range(count):
            middle = few[index * steps // count]
            bands.append(None if middle is None else {"low": middle - 1, "central": middle, "high": middle + 1})
        return bands

    weather = data.draw(
        st.lists(st.sampled_from(["SN", "none reported", "+TSRA FZRA BR", None]), min_size=3, max_size=3)
    )
    changed = samples.with_rows(
        made,
        air_temperature_c=column(value),
        dew_point_c=column(value),
        frost_point_c=column(value),
        wing_skin_temperature_c=column(value),
        frost_margin_c=column(value),
        gust_kt=column(st.floats(1, 90) | st.none()),
        illuminance_lx=column(st.floats(1.0001, 120_000) | st.none()),
        precipitation=[weather[index * 3 // count] for index in range(count)],
    )
    assert_legible(tree(drawn(changed, "timeline")))


def test_a_gap_is_a_gap_and_not_a_zero():
    made = samples.brief(samples.SNOW)
    margin = [row["frost_margin_c"] for row in made.timeline]
    air = [row["air_temperature_c"] for row in made.timeline]
    margin[10:14] = air[10:14] = [None] * 4
    changed = samples.with_rows(made, frost_margin_c=margin, air_temperature_c=air)
    root = tree(drawn(changed, "timeline"))
    pieces = [points(node) for node in shapes(root, "line-frost") if node.tag == f"{SVG}path"]
    assert [len(piece) for piece in pieces] == [10, len(margin) - 14]
    said = " ".join(text for text, _ in texts(root))
    assert "Air not known 0620–0635Z." in said
    assert "Air not known 0620–0635Z." in root.find(f"{SVG}desc").text


def test_what_nothing_is_known_of_is_hatched_and_said_and_has_no_line():
    root = tree(drawn(samples.poor(), "timeline"))
    said = " ".join(text for text, _ in texts(root))
    for look, words in (("gust", "Gust not known"), ("frost", "Frost not known")):
        assert not [node for node in shapes(root, f"line-{look}") if node.tag == f"{SVG}path"]
        assert not shapes(root, f"band-{look}")
        assert words in said
    assert "Wind not known" in said and "Wing skin not known" in said
    # two panels of which nothing is known, each hatched over the whole time
    frame = shapes(root, "frame")[0]
    hatched = [float(node.get("width")) for node in shapes(root, "unknown") if float(node.get("height")) > 50]
    assert sum(hatched) == pytest.approx(2 * float(frame.get("width")), rel=0.01)


@pytest.mark.parametrize(("name", "which"), BOTH)
def test_the_printed_variant_has_plain_attributes_only(name, which):
    svg = drawn(samples.ALL[name](), which, printed=True)
    assert "var(" not in svg and "class=" not in svg and "style=" not in svg
    colours = set(re.findall(r'"(#[0-9a-f]{6})"', svg))
    assert colours and all(colour[1:3] == colour[3:5] == colour[5:7] for colour in colours), "greys only"


def test_a_panel_has_one_line_and_each_limit_its_name_at_its_end():
    """One band a panel, so that no colour has to tell two apart."""
    root = tree(drawn(samples.worst(), "timeline"))
    for look in ("frost", "gust"):
        assert len(shapes(root, f"line-{look}")) == len(shapes(root, f"band-{look}")) == 1
    levels = {round(float(node.get("y1")), 1) for node in shapes(root, "level")}
    leads = shapes(root, "lead")
    # the jet's doors (its profile): cargo doors 35 kt, the others 40 kt; and where frost forms
    assert levels == {round(float(node.get("y1")), 1) for node in leads} and len(leads) == 3
    said = [text for text, _ in texts(root)]
    assert "35 kt cargo" in said and "40 kt 4 doors" in said and "frost can" in said


def test_the_cases_of_a_bar_differ_without_colour():
    looks = drawing.LOOKS
    assert len({looks[look] for look in ("bar", "sparse", "unknown", "falling", "doors", "still")}) == 6


@pytest.mark.parametrize(
    ("wind", "heading", "side"),
    # hand-made: the nose points up; wind from 270 on a nose of 360 meets the left side, and so on round
    [
        ("27020KT", 0, "left"),
        ("09020KT", 0, "right"),
        ("36020KT", 0, "above"),
        ("18020KT", 0, "below"),
        ("27020KT", 270, "above"),
        ("27020KT", 180, "right"),
    ],
)
def test_the_arrow_comes_from_where_the_wind_meets_the_aircraft(wind, heading, side):
    made = samples.brief(f"METAR ZZZA 100520Z {wind} 9999 SCT030 05/01 Q1010", heading=heading)
    root = tree(drawn(made, "stand"))
    way = np.array(points(shapes(root, "arrow")[0]))
    # its broad end, and the one point that lies ahead of both barbs
    tail, tip = (way[0] + way[-1]) / 2, way[3]
    body = np.array(points(shapes(root, "body")[0]))
    middle = (body.max(axis=0) + body.min(axis=0)) / 2
    away = tail - middle
    assert {"left": away[0] < -60, "right": away[0] > 60, "above": away[1] < -60, "below": away[1] > 60}[side]
    assert np.linalg.norm(tip - middle) < np.linalg.norm(away), "it points at the aircraft"
    # the lee side lies opposite
    lee = np.array(points(shapes(root, "lee")[0])).mean(axis=0) - middle
    assert lee @ away < -0.9 * np.linalg.norm(lee) * np.linalg.norm(away)


@pytest.mark.parametrize("heading", [0, 45, 150, 240, 359])
def test_the_plan_and_the_brief_mean_the_same_wind(heading):
    made = samples.brief(samples.SNOW, heading=heading)
    view = stand.stand(made)
    assert (view.relative_deg - made.doors[0].relative_wind_deg) % 360 == pytest.approx(0)
    row = next(row for row in made.timeline if row["at"] == made.doors[0].at)
    assert row["gust_kt"]["high"] == pytest.approx(made.doors[0].worst_kt, abs=0.06)
    assert view.gust.endswith(f"to {made.doors[0].worst_kt:.0f} kt")


def test_no_arrow_is_drawn_for_a_direction_that_is_not_known():
    for made in (
        samples.poor(),
        samples.brief("METAR ZZZA 100520Z VRB04KT 9999 SCT030 05/01 Q1010", heading=90),
        samples.brief("METAR ZZZA 100520Z 27020KT 9999 SCT030 05/01 Q1010"),
    ):
        root = tree(drawn(made, "stand"))
        assert not shapes(root, "arrow")
        said = root.find(f"{SVG}desc").text
        assert "every direction counts" in said or "worst direction counts" in said


@pytest.mark.parametrize(
    ("beyond", "words"), [("", "wind not known"), ("weather", "weather not known"), ("storm", "a storm may be near")]
)
def test_a_door_that_cannot_be_told_says_what_is_not_known(beyond: str, words: str):
    made = samples.brief(samples.SNOW, heading=270)
    untold = {"status": "cannot tell", "stay_open_status": "cannot tell", "beyond": beyond}
    doors = (msgspec.structs.replace(made.doors[0], door="a door", **untold),)
    said = stand.sentences(stand.stand(msgspec.structs.replace(made, doors=doors)))
    assert said[0] == f"{words.capitalize()}: 1 door." and f"a door: {words}; limit 40 kt." in said[-1]


def test_each_status_of_a_door_has_its_own_shape_and_its_own_words():
    made = samples.brief(samples.SNOW, heading=270)
    states = ("exceeded", "possible", "cannot tell", "within")
    doors = tuple(
        msgspec.structs.replace(made.doors[0], door=f"door {state}", status=state, stay_open_status=state, beyond="")
        for state in states
    )
    view = stand.stand(msgspec.structs.replace(made, doors=doors))
    root = tree(chart.stand_svg(view))
    said = " ".join(text for text, _ in texts(root))
    for words in ("above 40 kt", "may pass 40 kt", "limit 40 kt", "below 40 kt"):
        assert words in said
    desc = root.find(f"{SVG}desc").text
    for words in ("above limit 40 kt", "may be above limit 40 kt", "wind not known; limit 40 kt", "below limit 40 kt"):
        assert words in desc
    outlines = [
        (node.tag, len(points(node)) if node.tag == f"{SVG}path" else 0)
        for look in ("sign", "sign-full")
        for node in shapes(root, look)
    ]
    # square, triangle, diamond and circle, and the words that tell them apart
    assert len(outlines) == 4 and len(set(outlines)) == 4
    assert "Square: above, triangle: may pass, diamond: not known, circle: below" in said


def places(made):
    """Where each door is drawn, by its name; the rectangles on the body come in the order of the labels."""
    root = tree(drawn(made, "stand"))
    body = np.array(points(shapes(root, "body")[0]))
    marks = [
        (float(node.get("x")) + 3, float(node.get("y")) + 6, look)
        for look in ("door", "door-low")
        for node in shapes(root, look)
    ]
    return root, body, marks


def test_doors_are_drawn_where_they_are():
    """The jet has its wing amidships: the aft service door lies aft of it, holds low on the right (its profile)."""
    made = samples.brief(samples.SNOW, heading=270)
    root, body, marks = places(made)
    middle = (body[:, 0].max() + body[:, 0].min()) / 2
    # the wing is where the body is widest
    tips = body[np.isclose(body[:, 0], body[:, 0].max())]
    trailing = tips[:, 1].max()
    left, right = ([mark for mark in marks if side * (mark[0] - middle) > 0] for side in (-1, 1))
    assert [look for _, _, look in left] == ["door", "door"]
    assert sorted(look for _, _, look in right) == ["door", "door", "door-low", "door-low"]
    assert max(y for _, y, look in right if look == "door") > trailing
    low = sorted(y for _, y, look in right if look == "door-low")
    assert low[0] < tips[:, 1].min() < trailing < low[1]
    assert "dashed: low" in " ".join(text for text, _ in texts(root))


def test_each_door_s_label_stands_on_its_own_side():
    root, body, _ = places(samples.brief(samples.SNOW, heading=270))
    middle = (body[:, 0].max() + body[:, 0].min()) / 2
    for text, box in texts(root):
        if text in ("passenger", "service", "cargo"):
            assert (box[2] < middle) == (text == "passenger"), text


def test_a_sector_with_a_limit_of_its_own_is_marked_on_the_rose():
    # the helicopter's cabin doors: 20 kt for wind from 135° to -135°, so from behind (its profile)
    made = samples.brief("METAR ZZZA 100520Z 09012KT 9999 SCT030 05/01 Q1010", heading=270, aircraft="helicopter")
    root, body, _ = places(made)
    (arc,) = [np.array(points(node)) for node in shapes(root, "sector")]
    middle = (body.max(axis=0) + body.min(axis=0)) / 2
    turns = np.degrees(np.arctan2(arc[:, 0] - middle[0], middle[1] - arc[:, 1]))
    assert abs(turns).min() == pytest.approx(135, abs=0.2)
    assert "thick arc: limit 20 kt" in " ".join(text for text, _ in texts(root))
    assert "Lower limit 20 kt for wind from 135° to -135°" in root.find(f"{SVG}desc").text
    assert not shapes(tree(drawn(samples.quiet(), "stand")), "sector")


def test_a_door_that_may_be_operated_but_not_left_open_is_not_shown_as_within():
    made = samples.brief(samples.SNOW, heading=270)
    door = msgspec.structs.replace(made.doors[0], status="within", stay_open_status="exceeded")
    (one,) = stand.stand(msgspec.structs.replace(made, doors=(door,))).doors
    assert (one.status, one.said) == ("exceeded", "above stay-open limit 60 kt")


def test_a_sector_s_lower_limit_is_the_one_that_is_drawn():
    # the light helicopter's cabin doors: 30 kt, but 20 kt from behind (its profile's sector)
    made = samples.brief("METAR ZZZA 100520Z 09012KT 9999 SCT030 05/01 Q1010", heading=270, aircraft="helicopter")
    wind = picture.timeline(made).lane("wind")
    # two cabin doors and the baggage door
    assert [(level.value, level.label) for level in wind.levels] == [(20.0, "20 kt 2 doors"), (30.0, "30 kt baggage")]


hostile = st.text(st.characters(codec="utf-8"), min_size=1, max_size=60) | st.sampled_from(
    ["</svg><script>alert(1)</script>", "<b>&amp;", '" onload="x', "\x00\x07\x1b", "]]>", "\ud800"]
)


@settings(max_examples=60, deadline=None)
@given(hostile, hostile)
def test_no_text_gets_out_of_its_place(name, weather):
    made = samples.brief(samples.SNOW, heading=270)
    doors = (msgspec.structs.replace(made.doors[0], door=name),)
    made = samples.with_rows(msgspec.structs.replace(made, doors=doors), precipitation=weather)
    for which in ("timeline", "stand"):
        root = tree(drawn(made, which))
        plain = tree(drawn(samples.brief(samples.SNOW, heading=270), which))
        assert {node.tag for node in root.iter()} <= {node.tag for node in plain.iter()} | {
            f"{SVG}circle",
            f"{SVG}rect",
        }


def test_a_brief_of_a_single_time_is_drawn():
    made = samples.cut(samples.brief(), 1)
    assert_legible(tree(drawn(made, "timeline")))
    assert "not known" not in drawn(made, "stand")
