"""Every kind of fault in a checklist or profile: the exact place, what is wrong and what would be right."""

# exact messages, one a line
# ruff: noqa: E501

from __future__ import annotations

import os
import subprocess
import sys

import pytest
import tomli
from folders import HEAD, PROFILE, advice, write
from hypothesis import given
from hypothesis import strategies as st

from advisor.checklist.aircraft import load_profiles
from advisor.checklist.revision import load, load_all
from advisor.checklist.toml.faults import Positions
from advisor.checklist.toml.files import MOST_BYTES, MOST_ENTRIES, Fault
from advisor.errors import ChecklistError


@pytest.fixture
def shipped(tmp_path):
    return write(tmp_path / "shipped", head=HEAD, rules=advice("torch") + advice("high-visibility", when='"always"'))


def faults(folder, shipped, read=load):
    """The faults of an operator's folder, without the folder's own path."""
    with pytest.raises(ChecklistError) as caught:
        read(folder, shipped=shipped)
    assert caught.value.exit_code == 4
    prefix = f"{folder}{os.sep}"
    lines = str(caught.value).split("\n")
    assert lines == list(caught.value.faults)
    assert all(line.startswith(prefix) for line in lines)
    return [line.removeprefix(prefix) for line in lines]


PHASES = "one of parked, walk_round, doors_open, off_block, take_off"


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        # a wrong type
        (advice(weight="3"), "own.toml:6:10: advice.torch.weight: 3 cannot stand here; needs one of must, should"),
        (
            advice(text="true"),
            "own.toml:7:8: advice.torch.text: true cannot stand here; needs one line of 1 to 400 printable characters",
        ),
        (advice(stop='"yes"'), "own.toml:9:8: advice.torch.stop: 'yes' cannot stand here; needs true or false"),
        (
            advice(classes='"glider"'),
            "own.toml:9:11: advice.torch.classes: 'glider' cannot stand here; needs a list, each one of light-aircraft, glider, helicopter, uncrewed, twin-turboprop, regional-jet, single-aisle-jet, wide-body-jet",
        ),
        (
            advice(kind="2026-01-01"),
            "own.toml:3:8: advice.torch.kind: a date or time cannot stand here; needs one of gear, checkpoint, request, door, caution",
        ),
        ("advice = 3\n", 'own.toml:1:10: advice: 3 cannot stand here; write "[[advice]]" above each'),
        (
            "[advice]\n" + advice().split("\n", 1)[1],
            'own.toml:1:1: advice: a table cannot stand here; write "[[advice]]" above each',
        ),
        ("checklist = 1\n", "own.toml:1:13: checklist: 1 cannot stand here; needs a table"),
        # a word that is none of the allowed ones
        (
            advice(kind='"gaer"'),
            "own.toml:3:8: advice.torch.kind: 'gaer' cannot stand here; one of gear, checkpoint, request, door, caution",
        ),
        (
            advice(during='["walk_round", "walk"]'),
            f"own.toml:5:25: advice.torch.during[2]: 'walk' cannot stand here; {PHASES}",
        ),
        # fields unknown, missing, empty
        (advice(wieght='"must"'), "own.toml:9:1: advice.torch.wieght: unknown field; did you mean 'weight'?"),
        (advice(weight=None), "own.toml:1:1: advice.torch.weight: missing; needs one of must, should"),
        (advice(id=None), "own.toml:1:1: advice[1].id: missing; needs small letters, digits and -"),
        (
            "\n\n" + advice(during=None),
            f"own.toml:3:1: advice.torch.during: missing; needs {PHASES}, or a list of them",
        ),
        (advice(during="[]"), "own.toml:5:10: advice.torch.during: an empty list; name a phase"),
        (
            advice(classes="[]"),
            "own.toml:9:11: advice.torch.classes: an empty list; name a class, or leave the field out for all",
        ),
        (advice(text='"  "'), "own.toml:7:8: advice.torch.text: an empty text; say what to do"),
        ("[chekclist]\n", "own.toml:1:2: chekclist: unknown field; did you mean 'checklist'?"),
        # conditions
        (
            advice(when='"illuminance < 20"'),
            "own.toml:4:9: advice.torch.when: unknown quantity 'illuminance'; did you mean 'illuminance_lx'?",
        ),
        (
            advice(when="'''\nsnow and\n  gustkt > 3'''"),
            "own.toml:6:3: advice.torch.when: unknown quantity 'gustkt'; did you mean 'gust_kt'?",
        ),
        (
            advice(when='"snow and \\u0067ust > 3"'),
            "own.toml:4:18: advice.torch.when: unknown quantity 'gust'; did you mean 'gust_kt'?",
        ),
        (
            advice(when='"""snow \\\n   and gust > 3"""'),
            "own.toml:5:8: advice.torch.when: unknown quantity 'gust'; did you mean 'gust_kt'?",
        ),
        (
            advice(when="'''snow and\n  fog and\n  gustkt > 3'''").replace("\n", "\r\n"),
            "own.toml:6:3: advice.torch.when: unknown quantity 'gustkt'; did you mean 'gust_kt'?",
        ),
        (
            advice(when='"gust_kt >= 28 kt"'),
            "own.toml:4:20: advice.torch.when: a number with a unit behind it; leave the unit out: the name says it",
        ),
        (
            advice(when='"gust_kt >= 999"'),
            "own.toml:4:20: advice.torch.when: 999 is outside the range of gust_kt; it takes a number from 0 to 250",
        ),
        # texts
        (
            advice(text='"About {illuminance} lx."'),
            "own.toml:7:16: advice.torch.text: unknown quantity 'illuminance'; did you mean 'illuminance_lx'?",
        ),
        (
            advice(text='"ää \\t{wind}"'),
            "own.toml:7:8: advice.torch.text: 'ää \\t{wind}' cannot stand here; needs one line of 1 to 400 printable characters",
        ),
        (
            advice(text='"ää \\u00e4 {wind}"'),
            "own.toml:7:20: advice.torch.text: unknown quantity 'wind'; did you mean 'wind_kt'?",
        ),
        (advice(text='"a {b"'), "own.toml:7:11: advice.torch.text: '{' alone; write {quantity}"),
        (advice(more='"{{gust_kt}}"'), "own.toml:9:9: advice.torch.more: '{' alone; write {quantity}"),
        (
            advice(text='"\\u001b[2J"'),
            "own.toml:7:8: advice.torch.text: '\\x1b[2J' cannot stand here; needs one line of 1 to 400 printable characters",
        ),
        (
            advice(text='"a\\n"'),
            "own.toml:7:8: advice.torch.text: 'a\\n' cannot stand here; needs one line of 1 to 400 printable characters",
        ),
        (
            advice(id='"torch\\n"'),
            "own.toml:2:6: advice.torch\ufffd.id: 'torch\\n' cannot stand here; needs small letters, digits and -",
        ),
        # columns are characters, not bytes
        (
            'advice = [{id="torch",kind="gear",when="snow",during="parked",weight="must",text="äöü",source="common-practice", wieght=1}]\n',
            "own.toml:1:114: advice.torch.wieght: unknown field; did you mean 'weight'?",
        ),
        # ids, sources, classes, times
        (
            advice("Torch 1"),
            "own.toml:2:6: advice.Torch 1.id: 'Torch 1' cannot stand here; needs small letters, digits and -",
        ),
        (
            advice() + advice(),
            "own.toml:10:6: advice.torch.id: a second rule 'torch', the first is in {folder}own.toml; choose another id",
        ),
        (
            advice(source='"comon-practice"'),
            "own.toml:8:10: advice.torch.source: unknown source 'comon-practice'; did you mean 'common-practice'?",
        ),
        (
            advice(source='"our-manual"'),
            "own.toml:8:10: advice.torch.source: unknown source 'our-manual'; add a [[source]] with this key, a title and a locator",
        ),
        (
            '[[source]]\nkey = "common-practice"\ntitle = "x"\n',
            "own.toml:2:7: source.common-practice.key: 'common-practice' is taken; choose another key",
        ),
        (
            advice(lead_min="30"),
            'own.toml:9:12: advice.torch.lead_min: a gear has no latest time; leave it out, or kind = "request"',
        ),
        (
            advice(kind='"request"', lead_min="-5"),
            "own.toml:9:12: advice.torch.lead_min: -5 cannot stand here; needs whole minutes from 0 to 1440",
        ),
        (
            advice(classes='["helicopter"]') + "[advice.class.glider]\nweight = 'should'\n",
            "own.toml:10:2: advice.torch.class.glider: the rule does not hold for glider; add it to classes",
        ),
        (
            advice() + "[advice.class.glidr]\nweight = 'should'\n",
            "own.toml:9:2: advice.torch.class.glidr: 'glidr' cannot stand here; one of light-aircraft, glider, helicopter, uncrewed, twin-turboprop, regional-jet, single-aisle-jet, wide-body-jet",
        ),
        (
            advice() + "[advice.class.glider]\nwhen = 'gust > 3'\n",
            "own.toml:10:9: advice.torch.class.glider.when: unknown quantity 'gust'; did you mean 'gust_kt'?",
        ),
        ('remove = ["torhc"]\n', "own.toml:1:11: remove[1]: no shipped rule 'torhc'; did you mean 'torch'?"),
        (
            'remove = ["torch"]\n' + advice(),
            "own.toml:1:11: remove[1]: 'torch' is both removed and written; keep one of the two",
        ),
        (
            "[windows.jet]\nwalk_round = [-25, -45]\ndoors_open = [-50, -5]\ntake_off = 15\ntake_off_treated = 35\n",
            "own.toml:2:14: windows.jet.walk_round: ends before it starts; write the earlier time first",
        ),
        (
            "[windows.jet]\nwalk_round = [-45, -25]\ndoors_open = [-50, -5]\ntake_off = 15\ntake_off_treated = 5\n",
            "own.toml:5:20: windows.jet.take_off_treated: earlier than take_off; treatment takes time: write the later",
        ),
        # TOML and the file itself
        (
            '[checklist]\nname = "é" x\n',
            "own.toml:2:12: file: not TOML: expected newline or end of document after a statement; mend this line first",
        ),
        ("a = 1\na = 2\n", "own.toml:2:6: file: not TOML: cannot overwrite a value; mend this line first"),
        (
            "a = " + "9" * 5000,
            "own.toml:1:1: file: not TOML: Exceeds the limit (4300 digits) for integer string conversion: value has 5000 digits; write a shorter number",
        ),
        ("a = " + "[" * 20000, "own.toml:1:1: file: not TOML: nested too deeply; no field needs more than four levels"),
        ("a." * 300 + "b = 1\n", "own.toml:1:1: file: nested too deeply; no field needs more than four levels"),
        (
            "a = " + "[" * 200 + "]" * 200 + "\n",
            "own.toml:1:1: file: nested too deeply; no field needs more than four levels",
        ),
        (
            '"\\u001b[2J\\n" = 1\n',
            "own.toml:1:1: \ufffd[2J\ufffd: unknown field; one of checklist, windows, remove, reason, advice, source",
        ),
        (
            "k" * 100 + " = 1\n",
            "own.toml:1:1: " + "k" * 59 + "…: unknown field; one of checklist, windows, remove, reason, advice, source",
        ),
        (b"# caf\xc3\xa9\nname = '\xe9'\n", "own.toml:2:9: file: not UTF-8; save the file as UTF-8"),
        (
            b"# " + b"x" * MOST_BYTES,
            f"own.toml:1:1: file: {MOST_BYTES + 2:,} bytes; a file holds at most 1,000,000 bytes",
        ),
    ],
)
def test_each_kind_of_fault_has_its_place(tmp_path, shipped, content, expected):
    folder = write(tmp_path / "own", own=content)
    [line] = faults(folder, shipped)
    line = line.replace(f"{folder}{os.sep}", "{folder}")
    assert line.startswith(expected[:60])
    # python's own wording of a long number differs between versions
    assert line == expected or "4300 digits" in expected


def test_every_fault_of_every_file_is_found_in_one_run(tmp_path, shipped):
    folder = write(
        tmp_path / "own",
        a=advice("one", weight="3", when='"gust > 3"', wieght="1"),
        b="not toml",
        c=advice("two", text='"{wnd_kt}"') + advice("three", during=None),
        pages_own='[page.torhc]\ndoes = "x"\n',
    )
    lines = faults(folder, shipped, load_all)
    assert [line.split(": ")[0] + ": " + line.split(": ")[1] for line in lines] == [
        "a.toml:4:9: advice.one.when",
        "a.toml:6:10: advice.one.weight",
        "a.toml:9:1: advice.one.wieght",
        "b.toml:1:5: file",
        "c.toml:7:10: advice.two.text",
        "c.toml:9:1: advice.three.during",
    ]


def test_thousands_of_faults_are_cut_off_and_folders_have_a_size(tmp_path, shipped):
    lines = faults(write(tmp_path / "own", own="".join(f"key{number} = 1\n" for number in range(5000))), shipped)
    assert len(lines) == 1001
    assert lines[-1] == "own.toml:1001:1: file: more than 1,000 faults; mend these first"
    folder = write(tmp_path / "big", **{f"f{number}": "#" + "x" * 900_000 for number in range(5)})
    with pytest.raises(ChecklistError, match=r"more than 4,000,000 characters in all; a folder .* at most 4,000,000"):
        load(folder, shipped=shipped)


def test_one_fault_is_one_and_two_are_two(tmp_path, shipped):
    for count, rules in ((1, advice(kind='"gaer"')), (2, advice(kind='"gaer"', weight="3"))):
        with pytest.raises(ChecklistError) as caught:
            load(write(tmp_path / str(count), own=rules), shipped=shipped)
        assert caught.value.args[0].startswith(f"{count} fault{'s' * (count - 1)}"), caught.value.args


@pytest.mark.parametrize(
    ("text", "column"),
    [
        # the t of text is in column 1, the quote in column 8; what is wrong is the name in the brackets
        ('text = "At {air_temp}."', 13),
        ('text = "\\u00e9t {air_temp}."', 18),
        ('text = "\\U000000e9t {air_temp}."', 22),
        ('text = "\\"t {air_temp}."', 14),
        ("text = 'At\\u {air_temp}.'", 15),
        ('text = """At {air_temp}."""', 15),
    ],
)
def test_a_fault_within_a_text_stands_where_it_is_written_whatever_stands_before_it(tmp_path, shipped, text, column):
    found = faults(write(tmp_path / "own", own=advice().replace('text = "Take a torch."', text)), shipped)
    assert [one.split(" ")[0] for one in found] == [f"own.toml:7:{column}:"], found


def test_one_fault_does_not_bring_others_about(tmp_path, shipped):
    """A rule without id, a source without key, a file that is no TOML: nobody is told of a second id or a lost source."""
    rules = advice(id=None) + advice("one", source='"ours"')
    folder = write(
        tmp_path / "own",
        a=advice(id=None),
        b=rules,
        c='[[source]]\nkeey = "ours"\ntitle = "x"\n',
        pages="[page.lost]\n",
    )
    assert [line.split(": ", 1)[1] for line in faults(folder, shipped, load_all)] == [
        "advice[1].id: missing; needs small letters, digits and -",
        "advice[1].id: missing; needs small letters, digits and -",
        "source[1].key: missing; needs small letters, digits, . and -",
        "source[1].keey: unknown field; did you mean 'key'?",
    ]
    folder = write(tmp_path / "other", a=advice("one", source='"ours"'), b="x")
    assert [line.split(":")[0] for line in faults(folder, shipped)] == ["b.toml"]
    aircraft = write(tmp_path / "aircraft", a=PROFILE.replace("id =", "idd ="), b=PROFILE.replace("id =", "idd ="))
    with pytest.raises(ChecklistError) as caught:
        load_profiles(shipped=aircraft)
    assert len(caught.value.faults) == 4


def test_a_page_of_an_unknown_rule_or_source_is_a_fault(tmp_path, shipped):
    page = '[page.torhc]\ndoes = "x"\n[page.torch]\nreferences = ["common-practice", "no-such"]\n'
    lines = faults(write(tmp_path / "own", pages=page), shipped, load_all)
    assert lines == [
        "pages.toml:1:2: page.torhc: no rule 'torhc'; did you mean 'torch'?",
        "pages.toml:4:34: page.torch.references[2]: unknown source 'no-such'; "
        "add a [[source]] with this key, a title and a locator",
    ]


def test_a_situation_that_lacks_its_report_is_a_fault(tmp_path, shipped):
    page = '[page.torch]\n[page.torch.fires]\nnow = "2027-01-01T00:00Z"\noff_block = 2027-01-01T01:00:00Z\n'
    lines = faults(write(tmp_path / "own", pages=page), shipped, load_all)
    assert lines == [
        "pages.toml:2:1: page.torch.fires.report: missing; needs text, or a list of them",
        "pages.toml:4:13: page.torch.fires.off_block: a date or time cannot stand here; put it in quotes",
    ]


def test_a_folder_that_is_not_there_or_not_a_folder_says_so(tmp_path, shipped):
    for path, what in (
        (tmp_path / "none", "no such folder; give a folder that holds *.toml files"),
        (shipped / "head.toml", "not a folder; give the folder, not a file in it"),
    ):
        with pytest.raises(ChecklistError) as caught:
            load(path, shipped=shipped)
        assert str(caught.value) == f"{path}: {what}"


def test_a_folder_without_any_checklist_says_so(tmp_path, shipped):
    (tmp_path / "empty").mkdir()
    with pytest.raises(ChecklistError, match=r"no \*\.toml file; give a folder that holds a checklist"):
        load(tmp_path / "empty", shipped=shipped)


def test_a_folder_of_ten_thousand_files_is_refused_with_the_limit(tmp_path, shipped):
    folder = tmp_path / "many"
    folder.mkdir()
    for number in range(10_000):
        (folder / f"{number}.toml").touch()
    with pytest.raises(ChecklistError) as caught:
        load(folder, shipped=shipped)
    assert str(caught.value) == (
        f"{folder}: more than 1,000 files; a folder of rules or profiles holds at most {MOST_ENTRIES:,} files"
    )


def test_a_link_out_of_the_folder_is_refused_and_one_inside_is_read(tmp_path, shipped):
    outside = write(tmp_path / "outside", secret=advice("one"))
    folder = write(tmp_path / "own", first=advice("two"))
    (folder / "inside.toml").symlink_to(folder / "first.txt")
    (folder / "first.txt").write_text(advice("three"), encoding="utf-8")
    assert {"two", "three"} <= {rule.id for rule in load(folder, shipped=shipped).rules}
    (folder / "link.toml").symlink_to(outside / "secret.toml")
    assert faults(folder, shipped) == [
        "link.toml:1:1: file: a link that leads out of the folder; copy the file into the folder"
    ]


def test_what_is_not_a_plain_file_is_refused_without_waiting(tmp_path, shipped):
    folder = write(tmp_path / "own", own=advice("one"))
    os.mkfifo(folder / "pipe.toml")
    (folder / "folder.toml").mkdir()
    (folder / "gone.toml").symlink_to(folder / "nowhere")
    assert [line.split(": ", 2)[0] + ": " + line.split(": ", 2)[2] for line in faults(folder, shipped)] == [
        "folder.toml:1:1: not a file; keep only files under names that end in .toml",
        "gone.toml:1:1: cannot be read; No such file or directory",
        "pipe.toml:1:1: not a file; keep only files under names that end in .toml",
    ]


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            "operate = 15",
            'operate = "15 kg"',
            "own.toml:14:11: door.canopy.operate: '15 kg' is not a quantity in knot; write a number in knots, or a text such as \"21 m/s\"",
        ),
        (
            "operate = 15",
            'operate = "fast"',
            "own.toml:14:11: door.canopy.operate: 'fast' is not a number with a unit; write a number in knots, or a text such as \"21 m/s\"",
        ),
        (
            "operate = 15",
            "operate = true",
            'own.toml:14:11: door.canopy.operate: true cannot stand here; needs a number in knots, or a text such as "21 m/s"',
        ),
        (
            "operate = 15",
            "operate = nan",
            'own.toml:14:11: door.canopy.operate: nan is not a finite number; write a number in knots, or a text such as "21 m/s"',
        ),
        (
            "operate = 15",
            'operate = "400 kt"',
            "own.toml:14:11: door.canopy.operate: 400 knot is out of range; 1 to 200 is possible",
        ),
        (
            "wing_height_m = 1.0",
            'wing_height_m = "9 degC"',
            "own.toml:8:17: surfaces.wing_height_m: '9 degC' is not a quantity in metre; write a number in metres, or a text such as \"9 ft\"",
        ),
        (
            "bearing_deg = 0",
            "bearing_deg = 270",
            "own.toml:13:15: door.canopy.bearing_deg: 270 cannot stand here; needs degrees from the nose, -180 to 180",
        ),
        (
            "stay_open = 12",
            "",
            'own.toml:11:1: door.canopy.stay_open: missing; needs a number in knots, or a text such as "21 m/s"',
        ),
        (
            'size = "small"',
            'size = "tiny"',
            "own.toml:3:8: size: 'tiny' cannot stand here; one of small, medium, large",
        ),
        (
            'id = "glider"',
            'id = "ours"',
            "own.toml:1:1: class: no class for 'ours'; write class = one of light-aircraft, glider, helicopter, uncrewed, twin-turboprop, regional-jet, single-aisle-jet, wide-body-jet",
        ),
        (
            'walk = ["canopy", "left-wing", "tail"]',
            'walk = ["tail", "tail"]',
            "own.toml:6:8: walk: a zone twice; name each zone once",
        ),
        ("tank_skin", "tankskin", "own.toml:9:1: surfaces.tankskin: unknown field; did you mean 'tank_skin'?"),
        ("[[door]]", "[door]", 'own.toml:11:1: door: a table cannot stand here; write "[[door]]" above each'),
    ],
)
def test_each_kind_of_fault_in_a_profile_has_its_place(tmp_path, old, new, expected):
    assert old in PROFILE
    folder = write(tmp_path / "aircraft", own=PROFILE.replace(old, new))
    with pytest.raises(ChecklistError) as caught:
        load_profiles(shipped=folder)
    [line] = caught.value.faults
    assert line.removeprefix(f"{folder}{os.sep}") == expected


def test_two_profiles_of_one_id_are_a_fault(tmp_path):
    folder = write(tmp_path / "aircraft", one=PROFILE, two=PROFILE)
    with pytest.raises(ChecklistError, match=r"two\.toml:1:6: id: a second profile 'glider'; choose another id"):
        load_profiles(shipped=folder)


def test_positions_are_worked_out_only_after_a_fault():
    code = (
        "import sys, advisor.checklist.revision as r, advisor.checklist.aircraft as a; r.load(); a.load_profiles();"
        "print(sorted({'pint', 'tree_sitter', 'tree_sitter_toml', 'difflib', 'requests'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


keys = st.text("abc-é ", min_size=1, max_size=4)
scalars = st.one_of(st.integers(-99, 99), st.booleans(), st.text("aé\"'\\\n{}#= ", max_size=6))


@given(st.lists(st.dictionaries(keys, st.one_of(scalars, st.lists(scalars, max_size=3)), max_size=4), max_size=4))
def test_the_place_of_every_value_is_where_that_value_is_written(rows):
    """What stands at the place found, read alone, is the value."""
    lines = []
    for row in rows:
        lines.append("  [[row]]  # é")
        for key, value in row.items():
            lines.append(f" {_text(key)}\t= {_written(value)}")
    source = "\n".join(lines) + "\n"
    positions = Positions(source)
    assert tomli.loads(source).get("row", []) == rows
    for at, row in enumerate(rows):
        for key, value in row.items():
            line, column = positions.place(Fault("x", ("row", at, key), ""))
            rest = source.split("\n")[line - 1][column - 1 :]
            assert tomli.loads(f"x = {rest}")["x"] == value


def _text(value):
    escaped = value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


def _written(value):
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return "[" + ", ".join(map(_written, value)) + "]"
    return _text(value) if isinstance(value, str) else str(value)
