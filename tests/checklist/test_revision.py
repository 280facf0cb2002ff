"""Shipped rules, an operator's over them: what is in force, what was loosened, the fingerprint."""

from __future__ import annotations

import msgspec
import pytest
from folders import HEAD, advice, write
from hypothesis import given
from hypothesis import strategies as st

from advisor.checklist.loosened import rule_losses
from advisor.checklist.revision import load, load_all, load_pages
from advisor.checklist.rules import CLASSES, ChecklistFile, Override, Rule, checklist_schema
from advisor.conditions import PHASES
from advisor.departure import windows_of

RULES = (
    advice("torch")
    + "[advice.class.glider]\nweight = 'should'\n"
    + advice("high-visibility", when='"always"', weight='"should"')
    + advice("strong-wind", kind='"caution"', when='"gust_kt >= 28"', during='["walk_round", "doors_open"]')
)


@pytest.fixture
def shipped(tmp_path):
    return write(tmp_path / "shipped", head=HEAD, rules=RULES)


@pytest.fixture
def own(tmp_path, shipped):
    count = iter(range(100))

    def make(**files):
        return load(write(tmp_path / f"own{next(count)}", **files), shipped=shipped)

    return make


def test_the_shipped_checklist_stands_alone(shipped):
    checklist = load(shipped=shipped)
    assert (checklist.name, checklist.revision, checklist.default_aircraft) == ("Invented", "1", "glider")
    assert [rule.id for rule in checklist.rules] == ["torch", "high-visibility", "strong-wind"]
    assert {rule.origin for rule in checklist.rules} == {"shipped"}
    assert (checklist.call_lead_min, checklist.changed, checklist.loosened) == (45, (), ())
    windows = windows_of(36_000, 0, checklist.windows["small"], treated=False)[0]
    assert windows.walk_round == (36_000 - 2400, 36_000 - 900)
    assert windows.doors_open == (36_000 - 1200, 36_000 - 300)
    assert (windows.off_block, windows.take_off) == (36_000, 36_900)
    assert windows_of(36_000, 0, checklist.windows["jet"], treated=True)[0].take_off == 36_000 + 35 * 60


def test_an_operator_s_rule_takes_the_place_of_the_shipped_one(own):
    checklist = own(own=advice("torch", when='"illuminance_lx < 50"') + advice("extra", when='"snow"'))
    assert [(rule.id, rule.origin) for rule in checklist.rules] == [
        ("torch", "operator"),
        ("high-visibility", "shipped"),
        ("strong-wind", "shipped"),
        ("extra", "operator"),
    ]
    assert checklist.changed == ("torch",)
    assert checklist.rule("torch").when == "illuminance_lx < 50"
    assert checklist.loosened == ()


def test_a_rule_written_again_word_for_word_stays_the_shipped_one(own, shipped):
    checklist = own(
        own=advice("strong-wind", kind='"caution"', when='"gust_kt>=28.0"', during='["doors_open", "walk_round"]')
    )
    assert (checklist.changed, checklist.rule("strong-wind").origin) == ((), "shipped")
    assert checklist.fingerprint == load(shipped=shipped).fingerprint


@pytest.mark.parametrize(
    ("fields", "loosened"),
    [
        ({"when": '"gust_kt >= 25"'}, False),
        ({"when": '"gust_kt >= 30"'}, True),
        ({"when": '"gust_kt >= 20 and snow"'}, True),
        ({"when": '"gust_kt >= 28 or wind_kt >= 20"'}, False),
        ({"weight": '"should"'}, True),
        ({"during": '"walk_round"'}, True),
        ({"during": '["parked", "walk_round", "doors_open"]'}, False),
        ({"classes": '["glider"]'}, True),
        ({"text": '"Other words."'}, False),
    ],
)
def test_a_shipped_must_that_says_less_is_named(own, fields, loosened):
    given_ = {"kind": '"caution"', "when": '"gust_kt >= 28"', "during": '["walk_round", "doors_open"]'} | fields
    checklist = own(own=advice("strong-wind", **given_))
    assert checklist.changed == ("strong-wind",)
    assert checklist.loosened == (("strong-wind",) if loosened else ())


def test_a_removed_must_is_gone_and_named_a_removed_should_only_counted(own):
    checklist = own(own='remove = ["strong-wind", "high-visibility"]\n')
    assert [rule.id for rule in checklist.rules] == ["torch"]
    assert checklist.changed == ("high-visibility", "strong-wind")
    assert checklist.loosened == ("strong-wind",)


def test_loosening_for_one_class_is_named_for_that_class_only(own):
    text = (
        advice("torch")
        + "[advice.class.helicopter]\nwhen = 'illuminance_lx < 5'\n[advice.class.glider]\nweight = 'should'\n"
    )
    checklist = own(own=text)
    assert checklist.loosened_for("helicopter") == ("torch",)
    assert checklist.loosened_for("wide-body-jet") == ()
    # for a glider it was never a must
    assert own(own='remove = ["torch"]\n').loosened_for("glider") == ()


def test_what_cannot_be_compared_counts_as_loosened():
    flags = [f"{one} and {two}" for one, two in zip(_FLAGS[:15], _FLAGS[15:30], strict=True)]
    back = [f"{one} and {two}" for one, two in zip(_FLAGS[:15], reversed(_FLAGS[15:30]), strict=True)]
    old = f"({' or '.join(flags)}) and ({' or '.join(back)})"
    new = f"not (not ({' or '.join(flags)}) or not ({' or '.join(back)}))"
    rules = [Rule("one", "gear", when, ("parked",), "must", "x", "common-practice") for when in (old, new)]
    assert rules[0].condition.compare(rules[1].condition) == "cannot decide"
    [found] = rule_losses(*rules)
    assert (found.what, found.must, found.classes) == ("when", True, CLASSES)


def test_windows_head_and_sources_may_be_given_alone(own):
    checklist = own(
        own='[checklist]\nrevision = "A"\ncall_lead_min = 60\n'
        "[windows.jet]\nwalk_round = [-50, -30]\ndoors_open = [-50, -5]\ntake_off = 20\ntake_off_treated = 40\n"
        '[[source]]\nkey = "our-manual"\ntitle = "Invented manual"\nlocator = "2.4"\n'
        + advice("extra", source='"our-manual"')
    )
    assert (checklist.name, checklist.revision, checklist.call_lead_min) == ("Invented", "A", 60)
    assert checklist.windows["jet"].take_off_treated == 40
    assert checklist.windows["small"].take_off == 15
    assert checklist.sources["our-manual"].locator == "2.4"


def test_a_folder_that_changes_anything_is_not_told_by_the_shipped_revision(own):
    assert own(own=advice("extra")).revision == "1, changed without a revision of its own"
    assert own(own="[checklist]\ncall_lead_min = 60\n").revision.startswith("1, changed")
    assert own(own='[checklist]\nrevision = "A"\n' + advice("extra")).revision == "A"
    # what is written again word for word changes nothing
    assert own(own=advice("torch"), pages='[page.torch]\ndoes = "x"\n').revision == "1"


def test_a_rule_for_a_class_takes_what_differs(shipped):
    rule = load(shipped=shipped).rule("torch")
    assert rule.for_class("glider").weight == "should"
    assert rule.for_class("helicopter") is rule
    differing = Rule(
        "one",
        "gear",
        "snow",
        ("parked",),
        "must",
        "Text",
        "common-practice",
        more="More",
        zone="wings",
        overrides={"glider": Override(when="rain", during=("take_off", "parked"), zone="", text="Other", more="")},
    )
    glider = differing.for_class("glider")
    assert (glider.when, glider.during, glider.zone, glider.text, glider.more, glider.weight) == (
        "rain",
        ("parked", "take_off"),
        "",
        "Other",
        "",
        "must",
    )


def test_the_fingerprint_is_the_same_for_other_files_order_spacing_and_comments(own):
    rules = [
        advice("one", when='"snow and gust_kt > 3"'),
        advice("two"),
        advice("three", classes='["glider", "helicopter"]'),
    ]
    whole = own(own="".join(rules))
    parts = own(c=rules[0], b="# comment\n" + rules[2], a=rules[1].replace(" = ", "   =  "))
    spaced = own(
        own="".join(
            [
                advice("three", classes='["helicopter", "glider"]'),
                rules[1].replace('"', "'"),
                advice("one", when='"""gust_kt  >  3.0\n and snow"""'),
            ]
        )
    )
    pages = own(own="".join(rules), pages='[page.one]\ndoes = "x"\n')
    assert whole.fingerprint == parts.fingerprint == spaced.fingerprint == pages.fingerprint
    assert len(whole.fingerprint) == 16 and int(whole.fingerprint, 16) >= 0


BASE = {"kind": '"request"', "when": '"snow"', "zone": '"wings"', "more": '"More."', "lead_min": "30"}
CHANGES = [
    {"kind": '"caution"', "lead_min": None},
    {"when": '"rain"'},
    {"during": '"take_off"'},
    {"weight": '"should"'},
    {"text": '"Other."'},
    {"source": '"invented-default"'},
    {"more": '"Other."'},
    {"zone": '"tail"'},
    {"stop": "true"},
    {"classes": '["glider"]'},
    {"lead_min": "31"},
]


@pytest.mark.parametrize("change", CHANGES, ids=lambda change: next(iter(change)))
def test_the_fingerprint_changes_with_every_field_of_a_rule(own, change):
    assert own(own=advice("one", **BASE)).fingerprint != own(own=advice("one", **BASE | change)).fingerprint


def test_the_fingerprint_changes_with_head_windows_classes_and_removal(own, shipped):
    windows = "[windows.small]\nwalk_round = [-40, -15]\ndoors_open = [-20, -5]\ntake_off = 15\ntake_off_treated = 16\n"
    source = '[[source]]\nkey = "ours"\ntitle = "{}"\n' + advice("one", source='"ours"')
    every = [
        load(shipped=shipped),
        own(own='[checklist]\nname = "x"\n'),
        own(own='[checklist]\nrevision = "x"\n'),
        own(own='[checklist]\ndefault_aircraft = "helicopter"\n'),
        own(own="[checklist]\ncall_lead_min = 46\n"),
        own(own=windows),
        own(own='remove = ["torch"]\n'),
        own(own=advice("torch", inherit="false")),
        own(own=source.format("A")),
        own(own=source.format("B")),
        *(
            own(own=advice("torch") + f"[advice.class.glider]\n{one}\n")
            for one in ("text = 'x'", "more = 'x'", "when = 'snow'", "during = 'parked'", "zone = 'x'")
        ),
    ]
    prints = [checklist.fingerprint for checklist in every]
    assert len(set(prints)) == len(prints)


def test_rules_for_briefs_are_read_without_their_pages(tmp_path, shipped):
    folder = write(tmp_path / "own", own=advice("one"), pages_a="this is not TOML")
    assert load(folder, shipped=shipped).rule("one")


def test_pages_come_from_pages_files_and_from_beside_the_rule(tmp_path, shipped):
    situation = '{ report = "METAR ZZZA 010000Z 00000KT", now = "2027-01-01T00:00Z", off_block = "2027-01-01T01:00Z" }'
    (shipped / "pages.toml").write_text(
        '[page.torch]\ndoes = "shipped"\nwhy = "because"\nreferences = ["common-practice"]\n'
        f'fires = {situation}\n[page.strong-wind]\ndoes = "wind"\n'
    )
    folder = write(
        tmp_path / "own",
        own=advice("one", near_miss=situation) + '[advice.page]\ndoes = "beside"\n' + advice("strong-wind"),
        pages='[page.torch]\ndoes = "own"\n',
    )
    checklist, pages = load_all(folder, shipped=shipped)
    assert (pages["torch"].does, pages["one"].does, pages["strong-wind"].does) == ("own", "beside", "wind")
    assert pages["one"].near_miss.off_block == "2027-01-01T01:00Z"
    assert load_pages(shipped=shipped)["torch"].fires.report.startswith("METAR")
    assert checklist.folder == str(folder)


def test_a_byte_order_mark_and_windows_line_ends_are_read(tmp_path, shipped):
    folder = write(tmp_path / "own", own=b"\xef\xbb\xbf" + advice("one").replace("\n", "\r\n").encode())
    assert load(folder, shipped=shipped).rule("one")


def test_a_feeds_file_and_other_files_beside_the_rules_are_left_alone(tmp_path, shipped):
    folder = write(tmp_path / "own", own=advice("one"), feeds="[[feed]]\nname = 'x'\n")
    (folder / "notes.txt").write_text("not a rule")
    assert load(folder, shipped=shipped).rule("one")


def test_the_schema_names_every_field_of_a_file_and_refuses_others():
    schema = checklist_schema()
    entry = schema["$defs"]["Entry"]
    assert set(entry["required"]) == {"id", "kind", "when", "during", "weight", "text", "source"}
    assert "class" in entry["properties"]
    assert entry["additionalProperties"] is False
    assert set(schema["$defs"]["ChecklistFile"]["properties"]) == {
        field.encode_name for field in msgspec.structs.fields(ChecklistFile)
    }


@given(st.permutations(PHASES), st.integers(1, 5))
def test_phases_come_in_the_order_of_time(order, count):
    chosen = tuple(order[:count])
    override = Override(during=chosen)
    rule = Rule("one", "gear", "snow", ("parked",), "must", "x", "common-practice", overrides={"glider": override})
    assert rule.for_class("glider").during == tuple(sorted(chosen, key=PHASES.index))


_FLAGS = [
    "snow",
    "rain",
    "drizzle",
    "freezing_precipitation",
    "freezing_rain",
    "freezing_drizzle",
    "ice_pellets",
    "hail",
    "unknown_precipitation",
    "precipitation_any",
    "frozen_precipitation",
    "thunderstorm",
    "lightning",
    "blowing_snow",
    "fog",
    "mist",
    "freezing_fog",
    "dust_or_sand",
    "volcanic_ash",
    "squall",
    "heavy_precipitation",
    "recent_freezing",
    "recent_precipitation",
    "moisture",
    "freezing_after_wet",
    "slippery_surface",
    "aerodrome_closed",
    "dark",
    "treated",
    "deposit_seen",
]
