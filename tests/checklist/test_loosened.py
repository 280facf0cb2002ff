"""Nothing is loosened in silence: every way in which a folder says less than what is shipped is named."""

from __future__ import annotations

import msgspec
import pytest
from folders import HEAD, PROFILE, advice, write

from advisor import advise
from advisor.checklist import loosened, revision
from advisor.checklist.loosened import limit
from advisor.checklist.revision import inherited
from advisor.checklist.rules import Override
from advisor.conditions import Door, Sector

REQUEST = {"kind": '"request"', "when": '"snow or rain"', "during": '["parked", "take_off"]', "zone": '"wings"'}
CLASS = '[advice.class.glider]\ntext = "Dry it."\nmore = "By hand."\n'
RULES = (
    advice("torch")
    + advice("call", **REQUEST, stop="true", lead_min="60", more='"More."')
    + CLASS
    + advice("wind", kind='"caution"', when='"gust_kt >= 28"', weight='"should"', must_when='"gust_kt >= 40"')
)
WINDOWS = "[windows.jet]\nwalk_round = [{}, {}]\ndoors_open = [{}, {}]\ntake_off = {}\ntake_off_treated = {}\n"
SECTOR = "[[door.sector]]\nfrom_deg = 0\nto_deg = 5\noperate = 50\nstay_open = 50\n"
JET = (revision.aircraft.SHIPPED / "single-aisle-jet.toml").read_text(encoding="utf-8")


@pytest.fixture
def shipped(tmp_path):
    return write(tmp_path / "shipped", head=HEAD, rules=RULES)


@pytest.fixture
def losses(tmp_path, shipped):
    def found(text: str, profile: str = "") -> set[tuple[str, str, bool]]:
        folder = write(tmp_path / "own", own=text)
        if profile:
            write(folder / "aircraft", own=profile)
        return {(loss.about, loss.what, loss.must) for loss in revision.load(folder, shipped=shipped).losses}

    return found


def call(**fields: str | None) -> str:
    given = {**REQUEST, "stop": "true", "lead_min": "60", "more": '"More."'}
    return advice("call", **{**given, **fields})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "what"),
    [
        (call(when='"snow"'), "when"),
        (call(during='"parked"'), "during"),
        (call(classes='["glider"]'), "classes"),
        (call(weight='"should"'), "weight"),
        (call(lead_min="59"), "lead_min"),
        (call(lead_min=None), "lead_min"),
        (call(stop=None), "stop"),
        (call(kind='"caution"', lead_min=None), "kind"),
        (call(months="[12, 1]"), "months"),
        (call(stations='["ZZZA"]'), "stations"),
        (call(aircraft='["glider"]'), "aircraft"),
        (call(lead_by_station="{ ZZZA = 30 }"), "lead_min"),
        (call(inherit="false"), "text"),
        (call() + "[advice.class.glider]\nlead_min = 30\n", "lead_min"),
        ('remove = ["call"]\n', "removed"),
    ],
)
def test_each_way_in_which_a_must_says_less_is_named(losses, text: str, what: str) -> None:
    assert {(about, one) for about, one, must in losses(text) if must} == {("call", what)}


@pytest.mark.parametrize(
    "text",
    [
        call(),
        call(when='"snow or rain or hail"'),
        call(during='["parked", "walk_round", "take_off"]'),
        call(lead_min="90", lead_by_station="{ ZZZA = 75 }"),
        call(text='"Other words."'),
        call() + "[advice.class.glider]\ntext = 'Ours.'\n",
        advice("new", months="[1]"),
        "[checklist]\ncall_lead_min = 60\n",
        WINDOWS.format(-60, -25, -50, -5, 15, 35),
    ],
)
def test_what_says_as_much_or_more_is_no_loss(losses, text: str) -> None:
    assert losses(text) == set()


def test_a_second_sentence_that_is_gone_is_said_but_no_must_is_lost(losses) -> None:
    assert losses(call(more=None)) == {("call", "text", False)}


@pytest.mark.parametrize(
    ("must_when", "found"),
    [
        ('"gust_kt >= 50"', {("wind", "when", True)}),
        (None, {("wind", "weight", True)}),
        # asked only where gust_kt >= 28 is yes: what lies outside is never reached, and hail alone says nothing
        ('"gust_kt >= 40 or hail"', {("wind", "when", True)}),
        ('"gust_kt >= 35"', set()),
    ],
)
def test_the_part_that_is_a_must_is_looked_at_by_itself(losses, must_when: str | None, found: set) -> None:
    text = advice("wind", kind='"caution"', when='"gust_kt >= 28"', weight='"should"', must_when=must_when)
    assert losses(text) == found


def test_a_should_that_says_less_is_named_as_a_should(losses) -> None:
    text = advice("wind", kind='"caution"', when='"gust_kt >= 30"', weight='"should"', must_when='"gust_kt >= 40"')
    assert losses(text) == {("wind", "when", False)}


@pytest.mark.parametrize(
    "window", [(-44, -25, -50, -5, 15, 35), (-45, -26, -50, -5, 15, 35), (-45, -25, -50, -5, 14, 35)]
)
def test_a_narrower_window_is_a_loss(losses, window: tuple[int, ...]) -> None:
    assert losses(WINDOWS.format(*window)) == {("windows", "windows", True)}


@pytest.mark.parametrize(
    "head", ["call_lead_min = 44", "call_lead_by_class = { glider = 30 }", "call_lead_by_station = { ZZZA = 44 }"]
)
def test_a_shorter_call_lead_is_a_loss(losses, head: str) -> None:
    assert losses(f"[checklist]\n{head}\n") == {("call lead", "lead_min", True)}


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("operate = 35", "operate = 36", {"doors"}),
        ("stay_open = 50", "stay_open = 51", {"doors"}),
        ("operate = 35", "operate = 34", set()),
        ('name = "cargo door, right front"', 'name = "hold door"', {"doors"}),
        # a sector that allows more than the door did, from one side only
        ("stay_open = 50\n", f"stay_open = 50\n{SECTOR}", {"doors"}),
        ("tank_skin = true", "tank_skin = false", {"surfaces"}),
        ("wing_height_m = 3.2", "wing_height_m = 3.3", {"surfaces"}),
        ('size = "medium"', 'size = "medium"\nclass = "glider"', {"classes"}),
        ('windows = "jet"', 'windows = "small"', {"windows"}),
    ],
)
def test_a_shipped_profile_that_allows_more_is_a_loss(losses, old: str, new: str, found: set[str]) -> None:
    assert old in JET
    assert {(about, what) for about, what, _ in losses("", JET.replace(old, new, 1))} == {
        ("single-aisle-jet", what) for what in found
    }


def test_class_tables_are_inherited_and_may_be_cleared(tmp_path, shipped) -> None:
    kept = revision.load(write(tmp_path / "own", own=call(text='"Ours."')), shipped=shipped).rule("call")
    assert (kept.for_class("glider").text, kept.for_class("helicopter").text) == ("Dry it.", "Ours.")
    own = call() + "[advice.class.glider]\ntext = 'Ours.'\n"
    merged = revision.load(write(tmp_path / "own", own=own), shipped=shipped).rule("call").for_class("glider")
    assert (merged.text, merged.more) == ("Ours.", "By hand.")
    cleared = revision.load(write(tmp_path / "own", own=call(inherit="false")), shipped=shipped).rule("call")
    assert cleared.overrides == {}
    fewer = revision.load(write(tmp_path / "own", own=call(classes='["helicopter"]')), shipped=shipped).rule("call")
    assert fewer.overrides == {}


def test_a_latest_time_is_said_as_it_was_and_as_it_is(tmp_path, shipped) -> None:
    for lead, said in (("59", "59 min"), (None, "as the window or the call lead says")):
        made = revision.load(write(tmp_path / "own", own=call(lead_min=lead)), shipped=shipped)
        assert [(one.was, one.now) for one in made.losses if one.what == "lead_min"] == [("60 min", said)]


def test_words_of_a_class_of_its_own_do_not_go_with_those_of_the_other_by_status() -> None:
    old = msgspec.structs.replace(
        revision.load().rules[0], overrides={"glider": Override(text="Theirs.", likely_text="Likely.", weight="must")}
    )
    plain = msgspec.structs.replace(old, overrides={})
    # what was not changed stays whole; with a text of its own what the other says by status would not fit
    assert inherited(old, plain).overrides["glider"] == old.overrides["glider"]
    own = msgspec.structs.replace(old, overrides={"glider": Override(text="Ours.")})
    assert inherited(old, own).overrides["glider"] == Override(text="Ours.", weight="must")


def test_a_limit_of_a_sector_all_round_holds_from_anywhere() -> None:
    def door(*sectors: tuple[float, float, float]) -> Door:
        made = tuple(Sector(start, end, kt, kt) for start, end, kt in sectors)
        return Door("canopy", 0.0, 30.0, 20.0, sectors=made)

    for bearing in (-180, -1, 0, 90):
        assert limit(door((0.0, 360.0, 10.0)), bearing, "operate_kt") == 10
        assert limit(door(), bearing, "operate_kt") == 30 and limit(door(), bearing, "stay_open_kt") == 20
    # from one bearing to itself is that bearing
    alone = door((90.0, 90.0, 10.0))
    assert [limit(alone, bearing, "operate_kt") for bearing in (89, 90, 91)] == [30, 10, 30]
    # over the nose: the lower of two where both hold
    two = door((350.0, 10.0, 12.0), (0.0, 40.0, 15.0))
    assert [limit(two, bearing, "operate_kt") for bearing in (-11, -10, 0, 10, 11, 41)] == [30, 12, 12, 12, 15, 30]


REPORT = "METAR ZZZA 100520Z 36018G30KT 9999 -SN OVC030 M05/M09 Q1010"
WHEN = {"now": "2027-01-10T05:25:00Z", "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}


def brief(folder, **asked: str):
    return advise(REPORT, **WHEN, checklist=folder, **asked)


def test_the_brief_names_what_concerns_its_aircraft_with_the_reason(tmp_path) -> None:
    own = 'remove = ["thunderstorm"]\n[reason]\nthunderstorm = "Said by the tower."\n' + WINDOWS.format(
        -30, -25, -50, -5, 15, 35
    )
    folder = write(tmp_path / "own", own=own)
    write(folder / "aircraft", own=JET.replace("operate = 35", "operate = 45", 1))
    made = brief(folder)
    assert made.loosened == ("thunderstorm",)
    assert made.loosened_how == (
        "thunderstorm (Said by the tower): removed",
        "windows: jet walk-round −45 to −25 min, now −30 to −25 min",
        "single-aisle-jet: doors: cargo door, right front operate 35 kt, now 45 kt",
    )
    said = str(made)
    assert "loosened or removed: thunderstorm." in said
    assert "cargo door, right front operate 35 kt, now 45 kt" in " ".join(said.split())
    # its windows and its doors are others
    assert brief(folder, aircraft="glider").loosened_how == made.loosened_how[:1]


def test_a_rule_that_says_less_gives_its_own_reason_where_the_folder_gives_none(tmp_path) -> None:
    less = advice("torch", when='"illuminance_lx < 2"', reason='"Lamps on every stand."')
    assert any(
        "torch (Lamps on every stand): when" in how for how in brief(write(tmp_path / "a", own=less)).loosened_how
    )
    # what the folder says of it goes before
    both = '[reason]\ntorch = "Asked of the station."\n' + less
    [how] = [how for how in brief(write(tmp_path / "b", own=both)).loosened_how if how.startswith("torch")]
    assert how.startswith("torch (Asked of the station): when")


def test_a_long_condition_is_cut_in_a_brief_and_whole_in_a_check(tmp_path) -> None:
    own = advice("de-icing-request", kind='"request"', when='"snow"', during='"take_off"')
    folder = write(tmp_path / "own", own=own)
    [how] = [how for how in brief(folder).loosened_how if how.startswith("de-icing-request: ")]
    first = how.partition("; ")[0]
    assert len(first) < 160 and first.endswith(" …, now snow")
    whole = revision.load().rule("de-icing-request").when
    assert any(loss.was == whole for loss in revision.load(folder).losses)


def test_a_shipped_checklist_loses_nothing() -> None:
    whole = revision.load()
    assert whole.losses == () and loosened.losses(whole, whole) == ()


@pytest.mark.parametrize(
    ("was", "now", "lost"),
    [
        # a station that had 75 min and is not named any more has the rule's own 60
        ("{ ZZZA = 75 }", None, ["75 min at ZZZA, now 60 min"]),
        ("{ ZZZA = 75 }", "{ ZZZA = 70, ZZZB = 90 }", ["75 min at ZZZA, now 70 min"]),
        ("{ ZZZA = 60 }", None, []),
        ("{ ZZZA = 45 }", None, []),
        (None, "{ ZZZA = 60 }", []),
        (None, "{ ZZZA = 59 }", ["60 min, now 59 min at ZZZA"]),
    ],
)
def test_a_station_s_own_lead_counts_against_the_rule_s(tmp_path, was, now, lost) -> None:
    shipped = write(tmp_path / "shipped", head=HEAD, rules=call(lead_by_station=was))
    own = write(tmp_path / "own", own=call(lead_by_station=now))
    found = revision.load(own, shipped=shipped).losses
    assert [loosened.in_words(loss).removeprefix("latest call: ") for loss in found] == lost


def test_a_profile_that_is_gone_is_a_loss(tmp_path) -> None:
    shipped = write(tmp_path / "shipped", head=HEAD, rules=RULES)
    write(shipped / "aircraft", own=PROFILE.replace('id = "glider"', 'id = "ours"\nclass = "glider"'))
    old, new = revision.load(shipped, shipped=shipped), revision.load(shipped=shipped)
    assert "ours" in old.profiles
    new = msgspec.structs.replace(old, profiles={name: one for name, one in old.profiles.items() if name != "ours"})
    found = [(loss.about, loosened.in_words(loss), loss.must) for loss in loosened.losses(old, new)]
    assert found == [("ours", "removed", True)]
