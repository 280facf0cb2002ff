"""What the commands print about checklists, rules and profiles."""

from __future__ import annotations

import msgspec
import pytest
from folders import PROFILE, advice, write

from advisor.checklist import show
from advisor.checklist.aircraft import load_profiles
from advisor.checklist.desk import check
from advisor.checklist.revision import load
from advisor.errors import AdvisorError, ChecklistError

# a door that may be opened may stand open
GLIDER = PROFILE.replace("stay_open = 12", "stay_open = 15")


def checked(folder):
    found = check.check(folder)
    found.raise_faults()
    return check.as_text(found)


def test_check_says_what_an_operator_changed_removed_added_and_loosened(tmp_path):
    folder = write(
        tmp_path / "own",
        own='remove = ["thunderstorm"]\n[checklist]\nname = "Ours"\nrevision = "7"\n'
        + advice("torch", when='"illuminance_lx < 5"')
        + advice("wellies", when='"rain"'),
        pages='[page.wellies]\ndoes = "x"\n',
    )
    write(folder / "aircraft", ours=GLIDER.replace('"glider"', '"our-glider"\nclass = "glider"'))
    lines = checked(folder).splitlines()
    assert lines[0].startswith("Ours, revision 7, fingerprint ")
    assert "2 of them the operator's; 9 aircraft" in lines[1]
    said = " ".join(" ".join(lines).split())
    for part in (
        "changed: torch",
        "removed: thunderstorm",
        "added: wellies",
        "aircraft: our-glider",
        "loosened: torch, a shipped",
        "loosened: thunderstorm, a shipped",
    ):
        assert part in said


def test_check_says_that_windows_and_call_lead_differ(tmp_path):
    windows = "[windows.jet]\nwalk_round = [-30, -25]\ndoors_open = [-50, -5]\ntake_off = 15\ntake_off_treated = 35\n"
    said = checked(write(tmp_path / "own", own="[checklist]\ncall_lead_min = 30\n" + windows))
    assert "windows: other than shipped" in said
    assert "call lead: 30 min, shipped 45" in said
    assert "windows:" not in checked(write(tmp_path / "same", own=advice("one")))


def test_check_notes_a_rule_that_no_weather_meets(tmp_path):
    folder = write(tmp_path / "own", own=advice("one", when='"snow and not snow"'))
    assert "note: one: no weather meets 'snow and not snow'" in checked(folder)


def test_check_gathers_the_faults_of_rules_pages_and_profiles(tmp_path):
    folder = write(tmp_path / "own", own=advice("one", weight="3"), pages="[page.none]\n")
    write(folder / "aircraft", ours=PROFILE.replace("operate = 15", "operate = true"))
    with pytest.raises(ChecklistError) as caught:
        checked(folder)
    assert [line.split(": ")[1] for line in caught.value.faults] == [
        "advice.one.weight",
        "page.none",
        "door.canopy.operate",
    ]


def test_check_refuses_a_default_aircraft_that_is_not_there(tmp_path):
    folder = write(tmp_path / "own", own='[checklist]\ndefault_aircraft = "glidr"\n')
    with pytest.raises(ChecklistError, match="no aircraft 'glidr'; did you mean 'glider'"):
        checked(folder)


def test_a_rule_s_page_has_its_parts_and_an_example_made_from_its_situation():
    checklist = load()
    asked = []

    def example(rule, situation):
        asked.append((rule.id, situation.off_block))
        return "made from the situation"

    page = show.page(checklist, "torch", example)
    titles = [line for line in page.splitlines() if line and not line.startswith(" ")]
    assert titles[:6] == [
        "torch: gear, must, shipped",
        "What it does",
        "Why",
        "Example",
        "Known limits",
        "References",
    ]
    assert "made from the situation" in page
    assert len(asked) == 1
    assert all(len(line) <= 80 for line in page.splitlines())


def test_an_unknown_rule_gets_a_hint():
    with pytest.raises(AdvisorError, match="no rule 'torhc'; did you mean 'torch'") as wrong:
        show.page(load(), "torhc")
    # the checklist is in order: its own code, 4, would say that it is not
    assert not isinstance(wrong.value, ChecklistError)


def test_the_list_has_a_line_for_every_rule_and_marks_the_operator_s(tmp_path):
    checklist = load(write(tmp_path / "own", own=advice("one")))
    lines = show.page(checklist, None).splitlines()
    assert len(lines) == len(checklist.rules) + 1
    assert [line for line in lines if line.startswith("*")] == [
        next(line for line in lines if " one " in line),
        "* the operator's own",
    ]


def test_a_profile_without_doors_says_so():
    fleet = load_profiles()
    bare = {"glider": msgspec.structs.replace(fleet["glider"], doors=())}
    assert "\n  no doors\n" in show.profiles_text(bare)
    assert "no doors" not in show.profiles_text({name: one for name, one in fleet.items() if one.doors})


def test_profiles_are_listed_with_their_doors_and_that_they_are_invented():
    profiles = load_profiles()
    text = show.profiles_text(profiles)
    data = show.profiles_data(profiles)
    assert [row["id"] for row in data] == list(profiles)
    for row in data:
        assert f"{row['id']}: {row['name']}" in text
        assert {"id", "name", "size", "doors"} <= set(row)
        for door in row["doors"]:
            assert f"operate {door['operate_kt']:.0f} kt, stay open {door['stay_open_kt']:.0f} kt" in text
    assert "invented" in text
