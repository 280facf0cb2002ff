"""The drawings: equal to the numbers and to the words, legible, safe. Read back from the SVG, not from the code."""

import re
from datetime import datetime

import msgspec
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from advisor.render.picture import chart, describe, stand
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


LANES = {
    "Natural light, lx": {"light": "illuminance_lx"},
    "Air, °C": {"air": "air_temperature_c", "dew": "dew_point_c"},
    "Wing skin and frost, °C": {"skin": "wing_skin_temperature_c", "frost": "frost_point_c"},
    "Wind and gust, kt": {"wind": "wind_kt", "gust": "gust_kt"},
}


def lane_scale(root, title):
    """From y to a value, by the numbers written on the lane's own axis; and the axis' upper and lower end."""
    said = [(text, node) for node in root.iter(f"{SVG}text") if (text := node.text)]
    top = next(float(node.get("y")) for text, node in said if text == title)
    titles = [float(node.get("y")) for text, node in said if text in LANES or text == "Weather"]
    below = [y for y in titles if y > top]
    bottom = min(below)
    ticks = [
        (float(node.get("y")) - 5, number(text))
        for text, node in said
        if node.get("text-anchor") == "end" and top < float(node.get("y")) < bottom
    ]
    places, values = np.array(ticks).T
    if title == "Natural light, lx":
        slope, start = np.polyfit(places, np.log10(values), 1)
        return lambda y: 10 ** (slope * y + start), top, bottom
    slope, start = np.polyfit(places, values, 1)
    return lambda y: slope * y + start, top, bottom


@pytest.mark.parametrize("name", ["quiet", "worst", "night"])
@pytest.mark.parametrize("title", LANES)
def test_the_line_and_the_band_are_the_numbers_of_the_brief_by_the_picture_s_own_axis(name, title):
    made = samples.ALL[name]()
    root = tree(drawn(made, "timeline"))
    value, top, bottom = lane_scale(root, title)
    times = np.array([datetime.fromisoformat(row["at"]).timestamp() for row in made.timeline])
    for look, key in LANES[title].items():
        (line,) = [node for node in shapes(root, f"line-{look}") if node.tag == f"{SVG}path"]
        way = np.array(points(line))
        assert ((way[:, 1] > top) & (way[:, 1] < bottom)).all()
        # the whole width is the whole time
        share = (way[:, 0] - way[0, 0]) / (way[-1, 0] - way[0, 0])
        assert share == pytest.approx((times - times[0]) / (times[-1] - times[0]), abs=1e-3)
        expected = np.array([row[key]["central"] for row in made.timeline])
        read = np.array([value(y) for y in way[:, 1]])
        # hours after a report the wind has no upper end, and a band over some cases only is not drawn
        banded = [row for row in made.timeline if row[key]["low"] is not None]
        (area,) = shapes(root, f"band-{look}")
        edge = np.array(points(area))
        high, low = edge[: len(banded), 1], edge[len(banded) :, 1][::-1]
        if look == "light":
            floor = np.maximum
            assert np.log10(read) == pytest.approx(np.log10(floor(expected, 0.1)), abs=0.02)
            for track, edge_name in ((low, "low"), (high, "high")):
                numbers = floor([row[key][edge_name] for row in banded], 0.1)
                assert np.log10([value(y) for y in track]) == pytest.approx(np.log10(numbers), abs=0.02)
        else:
            assert read == pytest.approx(expected, abs=0.06)
            for track, edge_name in ((low, "low"), (high, "high")):
                numbers = [row[key][edge_name] for row in banded]
                assert [value(y) for y in track] == pytest.approx(numbers, abs=0.06)


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
    (frame, *_) = shapes(root, "frame")
    left, wide = float(frame.get("x")), float(frame.get("width"))
    start, end = (datetime.fromisoformat(at).timestamp() for at in (made.now, made.windows.take_off))
    marks = sorted(float(node.get("cx")) for node in shapes(root, "mark"))
    found = [one for lane in line.lanes for one in picture.headline(lane)]
    assert marks == pytest.approx(sorted(left + (one.at_s - start) / (end - start) * wide for one in found), abs=0.02)
    for one in found:
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
    # a door's number stands inside its own sign, which covers what lies under it
    signs = {look for look, _ in segments(root) if look.startswith(("c-sign", "c-body"))}
    for text, box in boxes:
        inside = root.find(f"{SVG}title").text == "The stand from above" and text.isdigit()
        for look, segment in segments(root):
            if inside and (look in signs or look.startswith("c-arrow")):
                continue
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
    air = [row["air_temperature_c"] for row in made.timeline]
    air[10:14] = [None] * 4
    root = tree(drawn(samples.with_rows(made, air_temperature_c=air), "timeline"))
    pieces = [points(node) for node in shapes(root, "line-air") if node.tag == f"{SVG}path"]
    assert [len(piece) for piece in pieces] == [10, len(air) - 14]
    said = " ".join(text for text, _ in texts(root))
    assert "air not known 0620Z to 0635Z" in said
    assert "Air not known 0620Z to 0635Z." in root.find(f"{SVG}desc").text


def test_what_nothing_is_known_of_is_hatched_and_said_and_has_no_line():
    root = tree(drawn(samples.poor(), "timeline"))
    said = " ".join(text for text, _ in texts(root))
    for look, words in (("wind", "wind not known"), ("gust", "gust not known"), ("skin", "wing skin not known")):
        assert not [node for node in shapes(root, f"line-{look}") if node.tag == f"{SVG}path"]
        assert not shapes(root, f"band-{look}")
        assert words in said
    # two lanes of which nothing is known, each hatched over the whole time
    frame = shapes(root, "frame")[0]
    hatched = [float(node.get("width")) for node in shapes(root, "unknown") if float(node.get("height")) > 50]
    assert sum(hatched) == pytest.approx(2 * float(frame.get("width")), rel=0.01)


@pytest.mark.parametrize(("name", "which"), BOTH)
def test_the_printed_variant_has_plain_attributes_only(name, which):
    svg = drawn(samples.ALL[name](), which, printed=True)
    assert "var(" not in svg and "class=" not in svg and "style=" not in svg
    colours = set(re.findall(r'"(#[0-9a-f]{6})"', svg))
    assert colours and all(colour[1:3] == colour[3:5] == colour[5:7] for colour in colours), "greys only"


def test_lines_of_a_lane_differ_without_colour():
    root = tree(drawn(samples.worst(), "timeline", printed=False))
    for looks in LANES.values():
        strokes = set()
        for look in looks:
            node = shapes(root, f"line-{look}")[0]
            strokes.add((node.get("stroke-dasharray"), node.get("stroke-width")))
        assert len(strokes) == len(looks)
        assert len({dash for dash, _ in strokes}) == len(looks)


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
    (tail, tip) = points(shapes(root, "arrow")[0])
    body = np.array(points(shapes(root, "body")[0]))
    middle = (body.max(axis=0) + body.min(axis=0)) / 2
    away = np.array(tail) - middle
    assert {"left": away[0] < -80, "right": away[0] > 80, "above": away[1] < -80, "below": away[1] > 80}[side]
    assert np.linalg.norm(np.array(tip) - middle) < np.linalg.norm(away), "it points at the aircraft"


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


def test_each_status_of_a_door_has_its_own_shape_and_its_own_words():
    made = samples.brief(samples.SNOW, heading=270)
    states = ("exceeded", "possible", "cannot tell", "within")
    doors = tuple(
        msgspec.structs.replace(made.doors[0], door=f"door {state}", status=state, stay_open_status=state)
        for state in states
    )
    view = stand.stand(msgspec.structs.replace(made, doors=doors))
    root = tree(chart.stand_svg(view))
    said = " ".join(text for text, _ in texts(root))
    for words in ("above limit 40 kt", "may be above limit 40 kt", "wind not known; limit 40 kt", "below limit 40 kt"):
        assert words in said
    outlines = [
        (node.tag, len(points(node)) if node.tag == f"{SVG}path" else 0)
        for look in ("sign", "sign-full")
        for node in shapes(root, look)
    ]
    # square, triangle, diamond and circle, each on the plan and in the list, besides the arrow
    kinds = [kind for kind in outlines if kind[1] != 7]
    assert len(kinds) == 8 and len(set(kinds)) == 4


def test_a_door_that_may_be_operated_but_not_left_open_is_not_shown_as_within():
    made = samples.brief(samples.SNOW, heading=270)
    door = msgspec.structs.replace(made.doors[0], status="within", stay_open_status="exceeded")
    (one,) = stand.stand(msgspec.structs.replace(made, doors=(door,))).doors
    assert (one.status, one.said) == ("exceeded", "above stay-open limit 60 kt")


def test_a_sector_s_lower_limit_is_the_one_that_is_drawn():
    # the light helicopter's cabin doors: 30 kt, but 20 kt from behind (its profile's sector)
    made = samples.brief("METAR ZZZA 100520Z 09012KT 9999 SCT030 05/01 Q1010", heading=270, aircraft="helicopter")
    wind = next(lane for lane in picture.timeline(made).lanes if lane.key == "wind")
    assert [level.value for level in wind.levels] == [20.0]


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
