"""Small parts of the checklist by hand, continued: words by status, leads, what is copied, what a cell is in words."""

from __future__ import annotations

from math import inf
from pathlib import Path

import msgspec
import pytest
from folders import PROFILE, advice, write

from advisor.checklist import revision, show
from advisor.checklist.aircraft import load_profiles
from advisor.checklist.desk import check, manual, situations
from advisor.checklist.desk.start import _blocks
from advisor.checklist.fields import Minutes, Offset
from advisor.checklist.language import fold
from advisor.checklist.language.cells import Cell
from advisor.checklist.language.condition import compile_condition
from advisor.checklist.language.nodes import Atom
from advisor.checklist.language.wording import cell_in_words, in_words
from advisor.checklist.loosened import rule_losses
from advisor.checklist.rules import Checklist, Override, Rule
from advisor.checklist.toml import faults, files
from advisor.checklist.toml.faults import _spoilt
from advisor.errors import ChecklistError

RULE = Rule("invented", "request", "gust_kt >= 28", ("walk_round",), "should", "Hold on.", "common-practice")


def test_what_is_likely_or_possible_is_said_in_words_of_its_own_where_there_are_any() -> None:
    rule = msgspec.structs.replace(RULE, likely_text="It may.", possible_text="It might.")
    said = {status: rule.said(status) for status in ("expected", "likely", "possible", "cannot tell")}
    assert said == {"expected": "Hold on.", "likely": "It may.", "possible": "It might.", "cannot tell": "Hold on."}
    assert {RULE.said(status) for status in said} == {"Hold on."}


def test_of_several_leads_the_longest_counts() -> None:
    """A call that is made earlier is no harm: common practice, no source."""
    shipped = revision.load()
    profile = shipped.profiles[shipped.default_aircraft]
    rule = msgspec.structs.replace(RULE, lead_min=10, lead_by_station={"ZZZA": 20, "ZZZB": 40})

    def lead(rule: Rule, *stations: str) -> int | None:
        whole = msgspec.structs.replace(shipped, rules=(rule,))
        (kept,) = whole.in_force(profile, stations, (1,)).rules
        here = kept.for_class(profile.class_id)
        assert here is not None
        return here.lead_min

    assert [lead(rule, *at) for at in ((), ("ZZZA",), ("ZZZA", "ZZZB"), ("ZZZC",))] == [10, 20, 40, 10]
    own = msgspec.structs.replace(rule, overrides={profile.class_id: Override(lead_min=30)})
    assert [lead(own, *at) for at in ((), ("ZZZA",), ("ZZZA", "ZZZB"))] == [30, 30, 40]


def test_a_print_says_the_latest_call_with_every_lead_there_is() -> None:
    whole: Checklist = msgspec.structs.replace(
        revision.load(), call_lead_min=30, call_lead_by_class={"helicopter": 50}, call_lead_by_station={"ZZZA": 45}
    )
    facts = dict(manual.manual(whole).facts)
    assert facts["Latest call"] == (
        "30 min before off-block where a request has none of its own; 50 min for helicopter; 45 min at ZZZA"
    )


def test_the_list_of_aircraft_says_which_are_the_operator_s_own(tmp_path: Path) -> None:
    write(tmp_path / "aircraft", own=PROFILE)
    said = show.profiles_text(load_profiles(tmp_path)).splitlines()
    own = [line for line in said if "the operator's own" in line]
    assert own == ["glider: Invented glider (small, the operator's own)"]
    assert len([line for line in said if line[0] != " "]) > len(own)


def test_minutes_are_those_of_a_day() -> None:
    for kind, ends in ((Minutes, (0, 1440)), (Offset, (-1440, 0))):
        assert [msgspec.convert(end, kind) for end in ends] == list(ends)
        for beyond in (ends[0] - 1, ends[1] + 1):
            with pytest.raises(msgspec.ValidationError):
                msgspec.convert(beyond, kind)


@pytest.mark.parametrize(("limit", "fits"), [(1, True), (200, True), (0.9, False), (200.5, False), (201, False)])
def test_a_door_s_limit_lies_between_one_and_two_hundred_knots(tmp_path: Path, limit, fits) -> None:
    write(
        tmp_path / "aircraft",
        own=PROFILE.replace("operate = 15\nstay_open = 12", f"operate = 200\nstay_open = {limit}"),
    )
    if fits:
        assert load_profiles(tmp_path)["glider"].doors[0].stay_open_kt == limit
    else:
        with pytest.raises(ChecklistError) as refused:
            load_profiles(tmp_path)
        assert "out of range" in str(refused.value.faults)


def test_an_alternative_answers_at_least_as_much_as_any_part_of_it() -> None:
    a, b, c = ("gust_kt >= 28", "thunderstorm", "snow")

    def at_least(one: str, other: str) -> bool:
        return fold.at_least(*(fold.fold(compile_condition(said).node) for said in (one, other)))

    assert at_least(f"{a} or {b}", a) and at_least(f"{a} or {b} or {c}", f"{a} or {c}")
    assert not at_least(a, f"{a} or {b}") and not at_least(f"{a} or {c}", f"{a} or {b} or {c}")
    assert at_least(a, f"{a} and {b}") and not at_least(f"{a} and {b}", a)
    # in whatever order they are written
    assert at_least(f"{b} and {a}", f"{a} and {b}") and at_least(f"{b} or {a}", f"{a} or {b}")


@pytest.mark.parametrize(
    ("name", "span", "said"),
    [
        ("frost_margin_c", (0.0, False, inf, False), "skin cold enough for frost"),
        ("frost_margin_c", (-inf, False, 0.0, True), "skin not cold enough for frost"),
        ("door_stay_open_margin_kt", (0.0, False, inf, False), "gust under every door's stay-open limit"),
        ("door_stay_open_margin_kt", (-inf, False, 0.0, True), "gust at a door's stay-open limit or over it"),
        ("door_margin_kt", (0.0, False, inf, False), "gust under every door's operating limit"),
    ],
)
def test_a_margin_in_words_is_the_side_on_which_it_lies(name: str, span, said: str) -> None:
    assert cell_in_words(Cell(name, "value", span)) == said
    low = span[0] == 0.0
    assert in_words(compile_condition(f"{name} {'> 0' if low else '<= 0'}").node) == said


def test_what_a_fault_spoils_is_the_smallest_part_that_can_go() -> None:
    assert _spoilt(("advice", 3, "fires", 0), {"advice": None}) == ("advice", 3, "fires")  # type: ignore[dict-item]
    assert _spoilt(("remove", 2), {}) == ("remove", 2)
    # a whole table at fault, not a part of one
    assert _spoilt(("page", "torch"), {"page": None}) == ("page", "torch")  # type: ignore[dict-item]


def test_a_rule_is_copied_with_its_tables_and_without_what_stands_before_or_behind_it() -> None:
    text = (
        '# what is invented\n[checklist]\nname = "Invented"\n\n'
        + advice("other")
        + "\n"
        + advice("torch")
        + '[advice.class.glider]\ntext = "Ours."\n\n'
        + advice("last")
    )
    copied = _blocks(text, "torch")
    assert copied.startswith("[[advice]]") and copied.count('id = "') == 1
    assert 'id = "torch"' in copied and "[advice.class.glider]" in copied
    assert "checklist" not in copied
    assert _blocks(text, "none") == ""


def test_a_check_names_rules_that_keep_words_of_the_shipped_one_for_a_class(tmp_path: Path) -> None:
    shipped = revision.load()
    rule = next(one for one in shipped.rules if one.overrides)
    own = write(tmp_path / "own", own=advice(rule.id, **_written(rule)))
    assert check.check(own).inherited == (f"{rule.id} ({', '.join(rule.overrides)})",)


def _written(rule: Rule) -> dict[str, str]:
    listed = ", ".join(f'"{one}"' for one in rule.during)
    classes = ", ".join(f'"{one}"' for one in rule.classes)
    said = {"kind": rule.kind, "when": rule.when, "weight": "must", "source": rule.source, "text": "Ours, and more."}
    made = {name: f'"{value}"' for name, value in said.items()}
    return (
        made | {"during": f"[{listed}]", "classes": f"[{classes}]"} | ({"zone": f'"{rule.zone}"'} if rule.zone else {})
    )


# files ------------------------------------------------------------------------------------------------------------

MOST = 1_000_000


@pytest.mark.parametrize(("size", "fits"), [(MOST, True), (MOST + 1, False)])
def test_a_file_of_a_million_bytes_is_read_to_its_last_one(tmp_path: Path, size: int, fits: bool) -> None:
    begin, end = "# ", '\nlast = "x"'
    write(tmp_path, big=begin + "a" * (size - len(begin) - len(end)) + end)
    faults: list = []
    read = files.read_file(tmp_path / "big.toml", faults)
    assert [fault.hint for fault in faults] == ([] if fits else ["a file holds at most 1,000,000 bytes"])
    assert (None if read is None else read.data) == ({"last": "x"} if fits else None)


def test_a_folder_holds_four_million_characters_and_not_one_more(tmp_path: Path) -> None:
    for name in "abcd":
        write(tmp_path, **{name: "#" * MOST})
    assert len(files.read_folder(tmp_path, lambda _: True, [])) == 4
    write(tmp_path, e="#")
    with pytest.raises(ChecklistError, match="more than 4,000,000 characters in all"):
        files.read_folder(tmp_path, lambda _: True, [])


def test_a_folder_of_profiles_may_be_a_link_to_one_inside_and_to_none_outside(tmp_path: Path) -> None:
    own = write(tmp_path / "own" / "fleet", own=PROFILE).parent
    (own / "aircraft").symlink_to(own / "fleet")
    assert "glider" in load_profiles(own)
    (own / "aircraft").unlink()
    write(tmp_path / "elsewhere", own=PROFILE)
    (own / "aircraft").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(ChecklistError):
        load_profiles(own)


# rules and profiles -----------------------------------------------------------------------------------------------


def test_a_class_with_a_text_of_its_own_has_no_other_words_for_what_is_only_likely() -> None:
    rule = msgspec.structs.replace(
        RULE, likely_text="It may.", possible_text="It might.", overrides={"glider": Override(text="Ours.")}
    )
    ours = rule.for_class("glider")
    assert ours is not None
    assert {ours.said(status) for status in ("expected", "likely", "possible")} == {"Ours."}


@pytest.mark.parametrize(
    ("was", "now", "lost"),
    [((), ("a",), True), (("a",), (), False), (("a", "b"), ("a",), True), (("a",), ("a", "b"), False)],
)
@pytest.mark.parametrize("what", ["aircraft", "stations"])
def test_a_rule_that_holds_for_fewer_is_a_loss(what: str, was, now, lost: bool) -> None:
    before, after = (msgspec.structs.replace(RULE, **{what: given}) for given in (was, now))
    assert {one.what for one in rule_losses(before, after)} == ({what} if lost else set())


def test_a_lead_of_a_station_that_shrinks_to_none_is_a_loss() -> None:
    before = msgspec.structs.replace(RULE, lead_by_station={"ZZZA": 5})
    (lost,) = rule_losses(before, RULE)
    assert (lost.was, lost.now) == ("5 min at ZZZA", "0 min")


def test_a_profile_is_listed_with_the_limits_of_each_sector_and_its_skin(tmp_path: Path) -> None:
    sector = "[[door.sector]]\nfrom_deg = 90\nto_deg = 180\noperate = 10\nstay_open = 8\n"
    own = PROFILE.replace("[surfaces]\n", "[surfaces]\nemissivity = 0.8\n") + sector
    write(tmp_path / "aircraft", own=own)
    profiles = load_profiles(tmp_path)
    (told,) = (row for row in show.profiles_data(profiles) if row["id"] == "glider")
    (door,) = told["doors"]
    assert (door["operate_kt"], door["stay_open_kt"]) == (15, 12)
    ((limits),) = door["sectors"]
    assert (limits["operate_kt"], limits["stay_open_kt"]) == (10, 8)
    assert manual._surfaces(profiles["glider"]).startswith("wing 1 m high, emissivity 0.8")
    shipped = msgspec.structs.replace(profiles["glider"], emissivity=float("nan"))
    assert "emissivity" not in manual._surfaces(shipped)


def test_a_code_that_is_not_known_is_neither_one_nor_another() -> None:
    node = compile_condition('light in ("day", "civil twilight")').node
    assert isinstance(node, Atom)
    assert [node.holds(value) for value in (0.0, 1.0, 4.0, -1.0, float("nan"))] == [1, 1, 0, -1, -1]


def test_rules_without_a_situation_are_the_operator_s_own_that_have_none(tmp_path: Path) -> None:
    own = write(tmp_path / "own", own=advice("ours") + advice("torch"))
    assert sorted(situations.without(revision.read(own))) == ["ours", "torch"]


@pytest.mark.parametrize("more", [0, 1])
def test_a_folder_holds_a_thousand_files_and_not_one_more(tmp_path: Path, more: int) -> None:
    for number in range(1000 + more):
        (tmp_path / f"{number}").touch()
    if more:
        with pytest.raises(ChecklistError, match="more than 1,000 files"):
            files.read_folder(tmp_path, lambda _: True, [])
    else:
        assert files.read_folder(tmp_path, lambda _: True, []) == []


def test_a_fault_of_a_file_that_is_not_there_stands_at_its_beginning() -> None:
    (told,) = faults.placed([files.Fault("gone.toml", (), "cannot be read", "look")], {})
    assert (told.line, told.column) == (1, 1)


def test_what_nothing_reads_is_told_at_its_beginning(tmp_path: Path) -> None:
    own = write(tmp_path / "own", own=advice("ours"))
    (own / "notes.txt").write_text("Invented.")
    (told,) = (note for note in check.check(own).notes if note.code == "unread")
    assert (told.line, told.column) == (1, 1)


@pytest.mark.parametrize(("height", "fits"), [(0.1, True), (20, True), (0.05, False), (20.5, False)])
def test_a_wing_lies_between_a_tenth_of_a_metre_and_twenty(tmp_path: Path, height: float, fits: bool) -> None:
    write(tmp_path / "aircraft", own=PROFILE.replace("wing_height_m = 1.0", f"wing_height_m = {height}"))
    if fits:
        assert load_profiles(tmp_path)["glider"].wing_height_m == height
    else:
        with pytest.raises(ChecklistError):
            load_profiles(tmp_path)


def test_a_print_says_from_when_it_is_in_force_and_what_a_class_changes() -> None:
    whole = revision.load()
    assert dict(manual.manual(whole).facts)["Effective"] == (whole.effective or "not stated")
    dated = msgspec.structs.replace(whole, effective="2027-01-01")
    assert dict(manual.manual(dated).facts)["Effective"] == "2027-01-01"
    assert dict(manual.manual(msgspec.structs.replace(whole, effective="")).facts)["Effective"] == "not stated"
    rule = msgspec.structs.replace(RULE, overrides={"glider": Override(weight="must", lead_min=10)})
    (line,) = manual._by_class(rule)
    assert "must" in str(line)
