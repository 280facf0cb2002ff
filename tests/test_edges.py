"""The edges of the command line: where a result goes, what is read without end, and what is no number."""

from __future__ import annotations

import os
import shlex
import shutil
import stat
import subprocess
import sys
import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest

import advisor
from advisor.cli.io import read_file
from advisor.cli.main import main
from advisor.conditions import Place
from advisor.errors import AdvisorError, DepartureError, ReportError
from advisor.quantities import read_number, read_quantity
from tests.test_cli import ASK, CHECKLIST, NOW, REPORT, ROOT, SAMPLES, UNUSABLE, USAGE, brief, process, refused, run

UNREACHED = 6
DECODE = ["decode", "--report", REPORT]
WANTED = run(*DECODE).stdout_bytes
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="files, pipes and devices of POSIX")


def shell(command: str, **surroundings: str) -> subprocess.CompletedProcess[bytes]:
    """A line of shell, in which $A stands for the command of this checkout."""
    setting = {**os.environ, "A": f"{shlex.quote(sys.executable)} -m advisor", **surroundings}
    words = ["/bin/bash", "-c", command]
    return subprocess.run(words, capture_output=True, env=setting, cwd=ROOT, check=False, timeout=60)


def one_line(done: subprocess.CompletedProcess[bytes], code: int, *words: str) -> None:
    said = done.stderr.decode()
    lines = [line for line in said.splitlines() if line and not line.startswith(("Usage:", "Try "))]
    assert (done.returncode, len(lines)) == (code, 1), said
    assert all(word in lines[0] for word in words), said


def without_rights(*arguments: str) -> subprocess.CompletedProcess[bytes]:
    """A command that may not pass over permissions, whoever runs the tests."""
    command = [sys.executable, "-m", "advisor", *arguments]
    if os.geteuid() == 0:
        if shutil.which("setpriv") is None:
            pytest.skip("runs as root, and setpriv, which gives up its rights, is not here")
        kept = "-dac_override,-dac_read_search,-fowner"
        command = ["setpriv", f"--bounding-set={kept}", f"--inh-caps={kept}", *command]
    return subprocess.run(command, capture_output=True, cwd=ROOT, check=False, timeout=60)


# where a result goes


def test_output_into_a_pipe_with_a_name_is_read_at_its_other_end(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    read: list[bytes] = []
    reader = threading.Thread(target=lambda: read.append(pipe.read_bytes()), daemon=True)
    reader.start()
    assert process(*DECODE, "--output", str(pipe)).returncode == 0
    reader.join(30)
    assert read == [WANTED]
    assert stat.S_ISFIFO(pipe.stat().st_mode) and list(tmp_path.iterdir()) == [pipe]


def test_output_into_a_device_leaves_the_device_in_place(tmp_path: Path) -> None:
    # devices of the test's own: were they replaced, the machine's would stay
    for name, minor, code in (("nothing", 3, 0), ("full", 7, UNREACHED)):
        device = tmp_path / name
        try:
            os.mknod(device, 0o666 | stat.S_IFCHR, os.makedev(1, minor))
            device.open("wb").close()
        except OSError:
            pytest.skip("no device can be made here")
        done = process(*DECODE, "--output", str(device))
        assert stat.S_ISCHR(device.stat().st_mode), name
        assert done.returncode == code, done.stderr
        if code:
            one_line(done, code, "full", "No space left")
    assert sorted(one.name for one in tmp_path.iterdir()) == ["full", "nothing"]


def test_output_through_a_link_writes_the_file_behind_it_and_keeps_its_mode(tmp_path: Path) -> None:
    kept, link, loose = tmp_path / "kept", tmp_path / "link", tmp_path / "loose"
    kept.write_text("yesterday's", encoding="utf-8")
    kept.chmod(0o640)
    link.symlink_to(kept)
    loose.symlink_to("new")
    for name in (link, loose):
        assert run(*DECODE, "--output", str(name)).exit_code == 0
        assert name.is_symlink() and name.read_bytes() == WANTED
    assert stat.S_IMODE(kept.stat().st_mode) == 0o640
    assert sorted(one.name for one in tmp_path.iterdir()) == ["kept", "link", "loose", "new"]


def test_a_new_file_has_the_mode_that_the_user_has_set(tmp_path: Path) -> None:
    assert shell(f"umask 027; $A {shlex.join(DECODE)} --output {tmp_path}/new").returncode == 0
    assert stat.S_IMODE((tmp_path / "new").stat().st_mode) == 0o640


@pytest.mark.parametrize("name", ["", ".", "/", "..", "advisor/", "no-such-folder/file", "LICENSE/file", "a" * 260])
def test_a_name_under_which_no_file_can_be_is_refused_before_any_work(name: str) -> None:
    before = sorted(ROOT.iterdir())
    done = process("brief", "--report", "nonsense", *ASK, "--output", name)
    one_line(done, USAGE, "--output", "give a file")
    assert len(done.stderr) < 600 and sorted(ROOT.iterdir()) == before
    one_line(process("slots", "none.csv", "none.txt", "--pads", "none.toml", "--output", name), USAGE, "--output")


def test_a_name_as_long_as_names_can_be_is_written(tmp_path: Path) -> None:
    assert run(*DECODE, "--output", str(tmp_path / ("a" * 255))).exit_code == 0
    assert [one.read_bytes() for one in tmp_path.iterdir()] == [WANTED]


def test_folders_without_permission_and_files_that_may_only_be_read_are_one_line(tmp_path: Path) -> None:
    for mode, name in ((0o000, "closed/new"), (0o400, "closed/new"), (0o555, "closed/new"), (0o755, "closed/kept")):
        folder = tmp_path / "closed"
        folder.mkdir(exist_ok=True)
        (folder / "kept").write_text("kept", encoding="utf-8")
        (folder / "kept").chmod(0o444)
        folder.chmod(mode)
        done = without_rights(*DECODE, "--output", str(tmp_path / name))
        folder.chmod(0o755)
        one_line(done, USAGE, "--output", "Permission denied")
        assert [(one.name, one.read_bytes()) for one in folder.iterdir()] == [("kept", b"kept")]


def test_a_checklist_folder_without_search_permission_is_one_line(tmp_path: Path) -> None:
    folder = tmp_path / "closed" / "ours"
    folder.mkdir(parents=True)
    for mode in (0o000, 0o600):
        folder.parent.chmod(mode)
        done = without_rights(*brief("--checklist", str(folder)))
        folder.parent.chmod(0o755)
        one_line(done, CHECKLIST, "ours")
        (folder / "own.toml").write_text("", encoding="utf-8")
        folder.chmod(mode)
        done = without_rights(*brief("--checklist", str(folder)))
        folder.chmod(0o755)
        (folder / "own.toml").unlink()
        one_line(done, CHECKLIST, "ours")


def test_a_disk_that_can_only_be_read_is_one_line(tmp_path: Path) -> None:
    mounted = f"mount --bind {tmp_path} {tmp_path} && mount -o remount,ro,bind {tmp_path}"
    if shutil.which("unshare") is None or shell(f"unshare -m sh -c '{mounted}'").returncode:
        pytest.skip("nothing can be mounted here")
    done = shell(f"unshare -m sh -c '{mounted} && $A {shlex.join(DECODE[:1])} LICENSE --output {tmp_path}/x'")
    assert done.returncode == UNUSABLE  # the licence is no report
    (tmp_path / "report").write_text(REPORT, encoding="utf-8")
    done = shell(f"unshare -m sh -c '{mounted} && $A decode {tmp_path}/report --output {tmp_path}/x'")
    one_line(done, UNREACHED, "Read-only file system")


@pytest.mark.parametrize("setting", [{}, {"PYTHONUNBUFFERED": "1"}], ids=["buffered", "unbuffered"])
@pytest.mark.parametrize("words", [DECODE, brief("--format", "json"), ["--help"], ["schema", "brief"]], ids=" ".join)
def test_a_full_disk_is_noticed(words: list[str], setting: dict[str, str]) -> None:
    if not Path("/dev/full").is_char_device():
        pytest.skip("no full device here")
    one_line(shell(f"$A {shlex.join(words)} >/dev/full", **setting), UNREACHED, "No space left")


@pytest.mark.parametrize("setting", [{}, {"PYTHONUNBUFFERED": "1"}], ids=["buffered", "unbuffered"])
def test_a_disk_that_fills_while_it_is_written_is_noticed(setting: dict[str, str], tmp_path: Path) -> None:
    # the size that a file may have, in blocks of 1024 bytes: the first write is a short one
    done = shell(f"trap '' XFSZ; ulimit -f 2; $A {shlex.join(brief('--format', 'json'))} >{tmp_path}/x", **setting)
    one_line(done, UNREACHED, "File too large")
    done = shell(
        f"trap '' XFSZ; ulimit -f 2; $A {shlex.join(brief('--format', 'json'))} --output {tmp_path}/y", **setting
    )
    one_line(done, UNREACHED, "File too large")
    assert [one.name for one in tmp_path.iterdir()] == ["x"]


@pytest.mark.parametrize("setting", [{}, {"PYTHONUNBUFFERED": "1"}], ids=["buffered", "unbuffered"])
@pytest.mark.parametrize("words", [brief("--format", "json"), brief(), ["--help"], ["brief", "--help"]], ids=" ".join)
@pytest.mark.parametrize("reader", ["head -c 1", "true"])
def test_a_reader_that_goes_away_is_no_error(words: list[str], setting: dict[str, str], reader: str) -> None:
    done = shell(f"$A {shlex.join(words)} | {reader}; exit ${{PIPESTATUS[0]}}", **setting)
    assert (done.returncode, done.stderr) == (0, b"")


def test_a_reader_that_goes_away_leaves_the_documented_code(tmp_path: Path) -> None:
    folder = tmp_path / "ours"
    assert run("checklist", "start", str(folder)).exit_code == 0
    command = f"$A checklist check {folder} --strict --format json"
    wanted = shell(f"{command} >{tmp_path}/x").returncode
    assert wanted and shell(f"{command} | true; exit ${{PIPESTATUS[0]}}").returncode == wanted


def test_closed_streams_are_one_line() -> None:
    one_line(shell(f"$A {shlex.join(DECODE)} >&-"), UNREACHED, "standard output is closed")
    one_line(shell("$A decode - <&-"), UNUSABLE, "standard input", "closed")
    done = shell("$A decode --report nonsense 2>&-")
    assert (done.returncode, done.stdout, done.stderr) == (UNUSABLE, b"", b"")


# what is read


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_a_file_that_is_no_text_names_the_first_bad_byte_counted_from_its_beginning(tmp_path, mark):
    path = tmp_path / "r.txt"
    path.write_bytes(mark + b"METAR \xb0")
    with pytest.raises(ReportError, match=rf"is not text \(byte {len(mark) + 7}\)"):
        read_file(str(path))


@pytest.mark.long
def test_a_byte_that_is_no_utf_8_in_an_option_is_one_line() -> None:
    bad = os.fsdecode(b"x\xff")
    one_line(process("decode", "--report", REPORT + bad), UNUSABLE, "--report", "UTF-8")
    for option, code in (("--aircraft", 3), ("--place", 3), ("--heading", 3), ("--checklist", 4), ("--seen", 3)):
        one_line(process(*brief(option, bad)), code, "udcff")
    one_line(process("decode", bad), UNUSABLE, "udcff")
    one_line(process(*brief("--since", bad)), USAGE, "udcff")
    one_line(process(*brief("--format", bad)), USAGE, "udcff")


OPTIONS = [
    one.opts[-1]
    for one in main.commands["brief"].params
    if one.opts[-1] not in ("files", "--report", "--full", "--output", "--station", "--feed")
]
SIGNS = "ab\u202ecd\x1b[31me\u200bf\u2066g"


@pytest.mark.parametrize(
    "words",
    [
        ["decode", SIGNS],
        ["checklist", "show", SIGNS],
        ["checklist", "check", SIGNS],
        ["schema", SIGNS],
        [SIGNS],
        *[brief(option, SIGNS) for option in OPTIONS],
        brief("--feed", "x", "--station", SIGNS),
        brief("--output", f"no-such-folder/{SIGNS}"),
    ],
    ids=lambda words: " ".join(words).replace(SIGNS, "SIGNS")[-40:],
)
def test_what_was_typed_comes_back_short_and_without_signs_that_steer(words: list[str]) -> None:
    result = run(*words)
    assert result.exit_code in (2, 3, 4)
    assert all(line.isprintable() for line in result.stderr.splitlines()), result.stderr
    assert not set(result.stderr) & set("\u202e\x1b\u200b\u2066")
    long = run(*[word.replace(SIGNS, "x" * 9000) for word in words])
    assert long.exit_code in (2, 3, 4) and "x" * 161 not in long.stderr and len(long.stderr) < 1500


@pytest.mark.long
def test_nothing_is_read_without_end() -> None:
    slots = SAMPLES / "slots"
    plan = ["slots", str(slots / "schedule.csv"), str(slots / "report.txt"), "--pads", str(slots / "pads.toml")]
    winter = "tests/archive/data/winter.csv"
    endless = "/dev/zero"
    cases: list[tuple[list[str], int]] = [
        (["decode", endless], 3),
        (brief("--since", endless), 2),
        (brief("--checklist", endless), 4),
        (["slots", endless, *plan[2:], "--now", NOW], 3),
        ([*plan, "--now", NOW, "--previous", endless], 3),
        ([*plan, "--now", NOW, "--actuals", endless], 3),
        ([*plan[:4], endless, "--now", NOW], 4),
        (["replay", winter, "--places", endless], 3),
        (["replay", winter, "--departures", endless], 3),
        (["serve", "--port", "0", "--tokens", endless], 4),
    ]
    for words, code in cases:
        one_line(process(*words), code, endless)
    with Path(endless).open("rb") as fed:
        command = [sys.executable, "-m", "advisor", "decode", "-"]
        one_line(subprocess.run(command, stdin=fed, capture_output=True, cwd=ROOT, check=False), 3, "standard input")


@pytest.mark.parametrize("column", ["flight", "x" * 200_000, "x," * 100_000])
def test_a_schedule_with_a_first_line_of_200_kb_is_a_few_short_lines(column: str, tmp_path: Path) -> None:
    file = tmp_path / "schedule.csv"
    file.write_text(f"{column},off_block\n" + "y" * 200_000 + "\n", encoding="utf-8")
    slots = SAMPLES / "slots"
    result = run("slots", str(file), str(slots / "report.txt"), "--pads", str(slots / "pads.toml"), "--now", NOW)
    assert result.exit_code == UNUSABLE and result.stdout == ""
    lines = result.stderr.splitlines()
    assert 1 <= len(lines) <= 25 and all(len(line) < 400 for line in lines), lines


# what is no number

NUMBERS = ["1_0", "\u0661\u0660", "\uff11\uff10", "1\u0660", "1e1", "0x10", "1\u00a00", "nan", "inf", ""]


@pytest.mark.parametrize("text", NUMBERS)
def test_only_plain_digits_are_a_number(text: str, tmp_path: Path) -> None:
    for option in ("--heading", "--fuel-fill", "--fuel-temperature"):
        refused(run(*brief(option, text)), UNUSABLE, option[2:])
    refused(run(*brief("--place", f"{text},9.8")), UNUSABLE, "place")
    for words in (
        ["serve", "--port", text],
        ["serve", "--keep", text],
        ["replay", "none", "--workers", text],
        ["slots", "none", "none", "--pads", "none", "--time-limit", text],
        ["record", "drop", "--data", "none", "--keep", text],
    ):
        refused(run(*words), USAGE, words[-2])
    for read in (read_number, lambda text: read_quantity(text, "knot")):
        with pytest.raises(ValueError):
            read(text)
    with pytest.raises(ValueError):
        read_quantity("\u0661\u0660 m/s", "knot")
    if text.strip():
        slots = SAMPLES / "slots"
        schedule = tmp_path / "schedule.csv"
        row = f'AA1,2027-01-10T06:40:00Z,single-aisle-jet,"{text}"'
        schedule.write_text(f"flight,off_block,aircraft,heading_deg\n{row}\n", encoding="utf-8")
        words = ["slots", str(schedule), str(slots / "report.txt"), "--pads", str(slots / "pads.toml"), "--now", NOW]
        refused(run(*words), UNUSABLE, "heading_deg")
        places = tmp_path / "places.csv"
        places.write_text(f"station,latitude,longitude\nZZZA,{text},9.8\n", encoding="utf-8")
        refused(run("replay", "tests/archive/data/winter.csv", "--places", str(places)), UNUSABLE, "row 2")


def test_times_in_other_digits_are_no_times() -> None:
    for text in ("\u0660\u0666\u0664\u0660Z", "2027-01-1\u0660T06:40:00Z", "06_40Z"):
        refused(run(*brief("--off-block", text)), UNUSABLE, "off-block")


@pytest.mark.parametrize(
    ("latitude", "longitude"), [(90.1, 0), (-91, 0), (0, 180.1), (0, -181), (float("nan"), 0), (0, float("inf"))]
)
def test_a_place_that_is_nowhere_is_refused(latitude: float, longitude: float) -> None:
    with pytest.raises(DepartureError, match=r"place: (latitude|longitude)"):
        Place("x", None, latitude, longitude)
    assert Place("x", None, 90, -180) == Place("x", None, 90, -180)


def test_the_last_moment_there_is_is_one_line() -> None:
    for moment in (datetime.max.replace(tzinfo=UTC), datetime.min.replace(tzinfo=UTC)):
        for text in (moment.isoformat().replace("+00:00", zone) for zone in ("Z", "-14:00", "+14:00")):
            for option in ("--off-block", "--now", "--parked-since", "--treated-at", "--take-off", "--looked-at"):
                refused(run(*brief(option, text)), UNUSABLE)
        for asked in (
            {"now": moment, "off_block": "0640Z"},
            {"now": datetime(2027, 1, 10, 5, 25, tzinfo=UTC), "off_block": moment},
            {"now": datetime(2027, 1, 10, 5, 25, tzinfo=UTC), "off_block": "0640Z", "parked_since": moment},
        ):
            with pytest.raises(AdvisorError) as caught:
                advisor.advise(REPORT, place="61.4,9.8", **asked)
            assert "\n" not in str(caught.value)


def test_every_command_that_writes_a_file_checks_its_name_first() -> None:
    def below(command: object) -> list[object]:
        inner = getattr(command, "commands", None)
        return [command] if inner is None else [one for name in inner.values() for one in below(name)]

    without = [
        command.name
        for command in below(main)
        for one in command.params
        if one.name == "output" and one.callback is None
    ]
    assert without == []
