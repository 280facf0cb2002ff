"""The data behind the pictures: crossings by hand, gaps, weather that never reassures."""

from datetime import UTC, datetime

import pytest

from advisor.render.picture import data as picture
from advisor.render.picture import describe

from . import samples


def band(*values):
    return [{"low": value, "central": value, "high": value} if value is not None else None for value in values]


def lane(made, key):
    return next(lane for lane in picture.timeline(made).lanes if lane.key == key)


def minutes(made, one):
    return (one.at_s - datetime.fromisoformat(made.timeline[0]["at"]).timestamp()) / 60


@pytest.fixture
def short():
    """Three rows, five minutes apart, in the dark and dry."""
    return samples.cut(
        samples.brief(samples.CLEAR_NIGHT, off_block="2027-01-10T19:30:00Z", now="2027-01-10T17:30:00Z"), 3
    )


def test_light_crosses_20_lx_half_way_in_time_where_it_is_half_way_in_its_logarithm(short):
    # 5, 20 and 80 lx are equal steps of log: from 5 to 80 in five minutes, 20 comes after two and a half
    made = samples.with_rows(short, illuminance_lx=band(5.0, 80.0, 80.0))
    crossings = lane(made, "light").crossings
    assert {(one.edge, one.rises, round(minutes(made, one), 6)) for one in crossings} == {
        (edge, True, 2.5) for edge in ("low", "central", "high")
    }


def test_air_crosses_0_c_where_a_straight_line_does(short):
    # 1 to -4: zero after a fifth of five minutes; then -4 to 1: after four fifths of the next five
    made = samples.with_rows(short, air_temperature_c=band(1.0, -4.0, 1.0))
    central = [one for one in lane(made, "air").crossings if one.edge == "central"]
    assert [(one.rises, round(minutes(made, one), 6), one.said) for one in central] == [
        (False, 1.0, "air below 0 °C"),
        (True, 9.0, "air above 0 °C"),
    ]


def test_frost_can_form_where_the_margin_passes_zero(short):
    # margin -1 to 3: zero after a quarter of five minutes
    made = samples.with_rows(short, frost_margin_c=band(-1.0, 3.0, 3.0))
    one = next(one for one in lane(made, "frost").crossings if one.edge == "central")
    assert (minutes(made, one), one.value, one.said) == (pytest.approx(1.25), 0.0, "frost can form")


def test_the_highest_frost_margin_is_the_adverse_one(short):
    margin = [{"low": -9.0, "central": -5.0, "high": -1.0}] * 2 + [{"low": -9.0, "central": -5.0, "high": 1.0}]
    made = samples.with_rows(short, frost_margin_c=margin)
    (one,) = lane(made, "frost").crossings
    assert (one.edge, one.rises) == ("high", True)
    # -1 to 1 in the second five minutes: half of them
    assert "Frost possible from 1737Z" in describe.answers(picture.timeline(made))
    sure = samples.with_rows(short, frost_margin_c=[{"low": 0.5, "central": 2.0, "high": 3.0}] * 3)
    assert "Frost can form from now" in describe.answers(picture.timeline(sure))


def test_the_side_at_the_start_is_said_and_the_adverse_one_where_cases_differ(short):
    for values, said in (
        ((1.0, 2.0, 3.0), "air above 0 °C, in every case"),
        ((-1.0, 2.0, 3.0), "air below 0 °C, in some cases"),
        ((-3.0, -2.0, -1.0), "air below 0 °C, in every case"),
        ((None, 2.0, None), None),
    ):
        band = dict(zip(("low", "central", "high"), values, strict=True))
        starts = lane(samples.with_rows(short, air_temperature_c=[band] * 3), "air").starts
        assert list(starts) == ([] if said is None else [said])


def test_a_skin_above_freezing_is_not_said_to_be_above_a_frost_point_that_is_higher_still(short):
    # fog in summer: skin 9, dew and frost point 10; frost needs 0 °C, so the margin is 0 less 9
    made = samples.with_rows(
        short,
        wing_skin_temperature_c=band(9.0, 9.0, 9.0),
        frost_point_c=band(10.0, 10.0, 10.0),
        frost_margin_c=band(-9.0, -9.0, -9.0),
    )
    assert lane(made, "frost").starts[-1] == "skin above where frost forms, in every case"


def test_gust_crosses_the_limit_of_each_group_of_doors(short):
    # the jet's limits are 35 kt for its cargo doors and 40 kt for the four others (its profile): 30 to 40 passes 35
    # half way and never exceeds 40
    made = samples.with_rows(short, gust_kt=band(30.0, 40.0, 40.0))
    wind = lane(made, "wind")
    assert [level.label for level in wind.levels] == ["35 kt cargo", "40 kt 4 doors"]
    assert {round(minutes(made, one), 6) for one in wind.crossings} == {2.5}
    assert wind.crossings[0].said == "gust above 35 kt (cargo)"


def test_a_gust_at_the_limit_is_not_above_it(short):
    made = samples.with_rows(short, gust_kt=band(35.0, 35.0, 35.0))
    assert lane(made, "wind").crossings == ()


def test_nothing_is_interpolated_across_a_gap(short):
    made = samples.with_rows(short, air_temperature_c=band(1.0, None, -1.0))
    air = lane(made, "air")
    assert not [one for one in air.crossings if one.quantity == "air_temperature_c"]
    assert [gap for gap in air.gaps if gap.startswith("air")] == ["air not known 1735Z"]


def test_a_band_known_in_some_cases_only_is_said(short):
    half = [{"low": None, "central": 2.0, "high": None}] * 3
    made = samples.with_rows(short, air_temperature_c=half)
    assert "air not known in some cases" in lane(made, "air").gaps


def test_the_adverse_edge_is_marked_and_says_that_it_is_of_some_cases(short):
    falling = [{"low": 1.0 - 2 * at, "central": 3.0 - at, "high": 5.0} for at in range(3)]
    made = samples.with_rows(short, air_temperature_c=falling)
    line = picture.timeline(made)
    marked = picture.headline(next(lane for lane in line.lanes if lane.key == "air"))
    assert [picture.marked_text(line, one) for one in marked] == ["1732Z air below 0 °C, in some cases"]


def test_the_better_side_is_reached_when_every_case_has_reached_it(short):
    rising = [{"low": -1.5 + at, "central": -0.5 + at, "high": 1.0 + at} for at in range(3)]
    made = samples.with_rows(short, air_temperature_c=rising)
    line = picture.timeline(made)
    marked = picture.headline(next(lane for lane in line.lanes if lane.key == "air"))
    assert [picture.marked_text(line, one) for one in marked] == [
        "1732Z air above 0 °C, middle estimate",
        "1737Z air above 0 °C, in every case",
    ]


def test_dark_and_frosty_air_lie_between_their_crossings(short):
    """5 to 80 lx by its logarithm passes 20 lx half way; 2 to -2 °C passes zero half way."""
    made = samples.with_rows(short, illuminance_lx=band(5.0, 80.0, 80.0), air_temperature_c=band(2.0, -2.0, -2.0))
    line = picture.timeline(made)
    start = line.times_s[0]
    spans = [(one.cases, (one.start_s - start) / 60, (one.end_s - start) / 60) for one in line.dark]
    assert spans == [("all", 0.0, pytest.approx(2.5)), ("none", pytest.approx(2.5), 10.0)]
    spans = [(one.cases, (one.start_s - start) / 60) for one in line.freezing]
    assert spans == [("none", 0.0), ("all", pytest.approx(2.5))]


def test_what_some_cases_only_allow_is_neither_sure_nor_absent(short):
    mixed = [{"low": -1.0, "central": 1.0, "high": 2.0}] * 3
    for values, cases in ((mixed, "some"), ([None] * 3, "unknown"), ([{**mixed[0], "low": None}] * 3, "unknown")):
        line = picture.timeline(samples.with_rows(short, air_temperature_c=values))
        assert [one.cases for one in line.freezing] == [cases]


def test_calls_reports_and_parking_are_moments_of_the_night():
    made = samples.brief(samples.SNOW, parked_since="2027-01-09T20:30:00Z")
    line = picture.timeline(made)
    assert (line.parked_s - line.times_s[0]) / 3600 == -9.0
    assert [(one.said, (one.at_s - line.times_s[0]) / 60) for one in line.reports] == [("report", -10.0)]
    told = {max(one.by, made.now) for one in made.advice if one.by and one.status != "cannot tell"}
    assert {datetime.fromtimestamp(one.at_s, tz=UTC).strftime("%Y-%m-%dT%H:%M:%SZ") for one in line.calls} == told
    said = " ".join(describe.sentences(line))
    assert "Parked since 09/2030Z." in said and "Made: report 0520Z." in said
    assert "Parked since: not stated." in " ".join(describe.sentences(picture.timeline(samples.worst())))


FLAGS = (
    "freezing_precipitation",
    "snow",
    "ice_pellets",
    "hail",
    "rain",
    "unknown_precipitation",
    "thunderstorm",
    "blowing_snow",
    "freezing_fog",
    "fog",
)


@pytest.mark.parametrize("flag", FLAGS)
def test_what_some_case_allows_is_never_drawn_as_nothing(short, flag):
    dry = samples.with_rows(short, precipitation="none reported", **dict.fromkeys(FLAGS, False))
    assert [(one.kind, one.said) for one in picture.timeline(dry).spells] == [("none", "none reported")]
    for value, kind in ((True, "possible"), (None, "unknown")):
        made = samples.with_rows(dry, **{flag: value})
        assert {one.kind for one in picture.timeline(made).spells} == {kind}


def test_codes_that_name_it_already_are_not_followed_by_may_be(short):
    made = samples.with_rows(
        short,
        **{
            **dict.fromkeys(FLAGS, False),
            "precipitation": "-FZRA SN",
            "snow": True,
            "freezing_precipitation": True,
            "rain": True,
        },
    )
    assert [one.said for one in picture.timeline(made).spells] == ["-FZRA SN"]
    more = samples.with_rows(made, thunderstorm=True)
    assert [one.said for one in picture.timeline(more).spells] == ["-FZRA SN; may be thunderstorm"]


def test_weather_not_reported_and_not_known_is_not_nothing(short):
    for text in ("not reported", "not forecast (at the report: SN)", None):
        made = samples.with_rows(short, precipitation=text, **dict.fromkeys(FLAGS))
        assert {one.kind for one in picture.timeline(made).spells} == {"unknown"}


def test_spells_cover_the_time_from_now_to_take_off_without_a_gap():
    for make in samples.ALL.values():
        made = make()
        line = picture.timeline(made)
        edges = [line.times_s[0]]
        for spell in line.spells:
            assert spell.start_s == edges[-1]
            edges.append(spell.end_s)
        assert edges[-1] == datetime.fromisoformat(made.windows.take_off).replace(tzinfo=UTC).timestamp()


def stamp_row(made, at):
    return next(row for row in made.timeline if row["at"] == at)


@pytest.mark.parametrize("name", samples.ALL)
def test_every_cell_of_the_table_is_the_band_of_the_brief(name):
    made = samples.ALL[name]()
    grid = describe.table(picture.timeline(made))
    keys = (
        "illuminance_lx",
        "air_temperature_c",
        "dew_point_c",
        "wing_skin_temperature_c",
        "frost_point_c",
        "frost_margin_c",
        "wind_kt",
        "gust_kt",
    )
    windows = made.windows
    whole = sorted({made.now, *windows.walk_round, windows.off_block, windows.take_off})
    assert len(grid.heads) == len(whole)
    for key, (_, cells) in zip(keys, grid.rows, strict=False):
        for at, cell in zip(whole, cells, strict=True):
            value = stamp_row(made, at)[key]
            if value is None:
                assert cell == "not known"
                continue
            low, high = (value["low"], value["high"])
            if low is None:
                # hours after a report the wind has no upper end
                assert cell.endswith(", not known in some cases")
                continue
            read = [part.replace("−", "-") for part in cell.split(" to ")]
            for text, number in zip((read[0], read[-1]), (low, high), strict=True):
                if text == "under 0.1":
                    assert number < 0.1
                else:
                    # one decimal for °C, none for kt, two digits for bright light
                    room = {"lx": max(0.51, 0.05 * number), "kt": 0.51}.get(key.rsplit("_", 1)[1], 0.051)
                    assert float(text) == pytest.approx(number, abs=room)
