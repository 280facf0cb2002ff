"""The commands as people call them: results, refusals, exit codes, files, pipes. Exit codes are those of the README."""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
import sys
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result

from advisor.cli.main import main
from advisor.record.store import Record
from tests.record.places import Clock, opening

ROOT = Path(__file__).parents[1]
SAMPLES = ROOT / "sample_reports"
REPORT = "METAR ZZZA 100520Z 24008KT 9999 FEW020 M00/M02 Q1013"
NOW = "2027-01-10T05:25:00Z"
ASK = ["--off-block", "0640Z", "--now", NOW, "--place", "61.4,9.8"]
USAGE, UNUSABLE, CHECKLIST = 2, 3, 4


def run(*arguments: str, fed: bytes | str | None = None) -> Result:
    """A command in this process."""
    return CliRunner().invoke(main, list(arguments), input=fed)


def process(*arguments: str, fed: bytes = b"", **surroundings: str) -> subprocess.CompletedProcess[bytes]:
    """A command in a process of its own."""
    command = [sys.executable, "-m", "advisor", *arguments]
    return subprocess.run(
        command, input=fed, capture_output=True, env={**os.environ, **surroundings}, cwd=ROOT, check=False
    )


def brief(*more: str, report: str = REPORT, ask: list[str] = ASK) -> list[str]:
    """Arguments of a brief with some of the usual ones replaced by later ones."""
    return ["brief", "--report", report, *ask, *more]


def refused(result: Result, code: int, *words: str) -> None:
    """One clear line on standard error that says what and where and what would be right, and nothing else."""
    assert isinstance(result.exception, SystemExit), result.exception
    assert result.exit_code == code, result.stderr
    assert result.stdout == ""
    lines = [line for line in result.stderr.splitlines() if line and not line.startswith(("Usage:", "Try "))]
    assert len(lines) == 1, result.stderr
    assert "Traceback" not in lines[0] and len(lines[0]) < 400
    assert lines[0].isprintable()
    for word in words:
        assert word in lines[0], lines[0]


# what: report, further arguments, exit code, what the line has to name
BAD: dict[str, tuple[str, list[str], int, list[str]]] = {
    "a report that cannot be read": ("The quick brown fox", [], UNUSABLE, ["METAR"]),
    "an empty report": ("", [], UNUSABLE, ["METAR"]),
    "a report without a time": ("METAR ZZZA 24008KT 9999 05/01", [], UNUSABLE, ["time"]),
    "an impossible date": ("METAR ZZZA 320520Z 24008KT 9999 05/01 Q1013", [], UNUSABLE, ["320520Z"]),
    "an impossible hour": ("METAR ZZZA 102561Z 24008KT 9999 05/01 Q1013", [], UNUSABLE, ["102561Z"]),
    "a report with nothing to go by": ("METAR ZZZA 100520Z NIL", [], UNUSABLE, ["NIL"]),
    "a report without any usable group": ("METAR ZZZA 100520Z QWERT ASDFG", [], UNUSABLE, ["ZZZA"]),
    "a report that ends after its time": ("METAR ZZZA 100520Z", [], UNUSABLE, ["ZZZA"]),
    "off-block without a zone": (REPORT, ["--off-block", "2027-01-10T06:40:00"], UNUSABLE, ["off-block", "zone", "Z"]),
    "off-block as a bare clock": (REPORT, ["--off-block", "0640"], UNUSABLE, ["off-block", "HHMMZ"]),
    "off-block that is no time": (REPORT, ["--off-block", "teatime"], UNUSABLE, ["off-block", "teatime", "HHMMZ"]),
    "off-block on 30 February": (REPORT, ["--off-block", "2027-02-30T06:40:00Z"], UNUSABLE, ["off-block"]),
    "off-block at 2540Z": (REPORT, ["--off-block", "2540Z"], UNUSABLE, ["off-block", "2540Z"]),
    "off-block before now": (REPORT, ["--off-block", "2027-01-10T04:40:00Z"], UNUSABLE, ["off-block", "before now"]),
    "off-block that has just passed": (REPORT, ["--off-block", "0500Z"], UNUSABLE, ["off-block", "25 min ago"]),
    "off-block in two days": (REPORT, ["--off-block", "2027-01-12T06:40:00Z"], UNUSABLE, ["off-block", "30 h"]),
    "now without a zone": (REPORT, ["--now", "2027-01-10T05:25:00"], UNUSABLE, ["now", "zone"]),
    "now that is no time": (REPORT, ["--now", "nan"], UNUSABLE, ["now", "nan"]),
    "a place that cannot be found": (REPORT, ["--place", "QQQQ"], UNUSABLE, ["place", "QQQQ", "LAT,LON"]),
    "a place in words": (REPORT, ["--place", "behind the hangar"], UNUSABLE, ["place", "LAT,LON"]),
    "a latitude out of range": (REPORT, ["--place", "91.2,9.8"], UNUSABLE, ["place", "90"]),
    "a longitude out of range": (REPORT, ["--place", "61.4,190"], UNUSABLE, ["place", "180"]),
    "coordinates that are nan": (REPORT, ["--place", "nan,nan"], UNUSABLE, ["place"]),
    "coordinates that are infinite": (REPORT, ["--place", "inf,9.8"], UNUSABLE, ["place"]),
    "three coordinates": (REPORT, ["--place", "61.4,9.8,100"], UNUSABLE, ["place", "LAT,LON"]),
    "a heading of 400": (REPORT, ["--heading", "400"], UNUSABLE, ["heading", "400", "360"]),
    "a heading in words": (REPORT, ["--heading", "north"], UNUSABLE, ["heading", "north", "360"]),
    "a heading that is nan": (REPORT, ["--heading", "nan"], UNUSABLE, ["heading", "nan"]),
    "an unknown aircraft": (REPORT, ["--aircraft", "biplane"], UNUSABLE, ["aircraft", "biplane", "single-aisle-jet"]),
    "a missing checklist folder": (REPORT, ["--checklist", "no-such-folder"], CHECKLIST, ["no-such-folder"]),
    "a window in the wrong order": (REPORT, ["--walk-round", "0615Z/0555Z"], UNUSABLE, ["walk-round"]),
    "a window that ends after off-block": (
        REPORT,
        ["--walk-round", "2027-01-10T06:00:00Z/2027-01-10T07:00:00Z"],
        UNUSABLE,
        ["walk-round", "off-block"],
    ),
    "a window of one time": (REPORT, ["--doors-open", "0600Z"], UNUSABLE, ["doors-open", "START/END"]),
    "a take-off before off-block": (REPORT, ["--take-off", "2027-01-10T06:00:00Z"], UNUSABLE, ["take-off"]),
    "reports of two stations": (
        f"{REPORT}=\nMETAR ZZZB 100520Z 24008KT 9999 FEW020 M00/M02 Q1013=",
        ["--place", ""],
        UNUSABLE,
        ["ZZZA", "ZZZB"],
    ),
    "an unknown deposit": (REPORT, ["--seen", "dust"], UNUSABLE, ["seen", "dust", "frost"]),
    "fuel in yards": (REPORT, ["--fuel-temperature", "3 yd"], UNUSABLE, ["fuel-temperature", "3 yd"]),
    "fuel that is nan": (REPORT, ["--fuel-temperature", "nan"], UNUSABLE, ["fuel-temperature"]),
    "tanks more than full": (REPORT, ["--fuel-fill", "130"], UNUSABLE, ["fuel-fill", "100"]),
    "parked in the future": (REPORT, ["--parked-since", "2027-01-10T06:00:00Z"], UNUSABLE, ["parked-since"]),
    "treated at no time": (REPORT, ["--treated-at", "soon"], UNUSABLE, ["treated-at", "soon"]),
    "a line of 100,000 letters": ("A" * 100_000, [], UNUSABLE, ["METAR"]),
    "100,000 letters after a heading": ("METAR ZZZA 100520Z " + "A" * 100_000, [], UNUSABLE, ["line 1", "METAR"]),
    "an unknown format": (REPORT, ["--format", "papyrus"], USAGE, ["papyrus", "json"]),
    "an unknown option": (REPORT, ["--umbrella"], USAGE, ["--umbrella"]),
    "an earlier brief that is not there": (REPORT, ["--since", "no-such-brief.json"], USAGE, ["no-such-brief.json"]),
    "an output folder that is not there": (REPORT, ["--output", "no-such-folder/brief.txt"], USAGE, ["no-such-folder"]),
}


@pytest.mark.parametrize("what", BAD)
def test_bad_input_is_refused_in_one_clear_line(what: str) -> None:
    report, more, code, words = BAD[what]
    ask = ASK[:4] if what == "reports of two stations" else ASK
    refused(run(*brief(*(more if ask is ASK else []), report=report, ask=ask)), code, *words)


def test_binary_rubbish_in_a_file_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "report.txt"
    for data, code in ((bytes(range(256)), UNUSABLE), (b"\x00" * 4000, UNUSABLE), (b"", UNUSABLE)):
        file.write_bytes(data)
        refused(run("brief", str(file), *ASK), code, "METAR")


def test_files_that_cannot_be_read_are_refused(tmp_path: Path) -> None:
    refused(run("brief", str(tmp_path / "none.txt"), *ASK), UNUSABLE, "none.txt")
    refused(run("brief", str(tmp_path), *ASK), UNUSABLE, str(tmp_path))


def test_no_report_at_all_is_wrong_use() -> None:
    refused(run("brief", *ASK), USAGE, "--report")


@pytest.mark.parametrize("what", ["a report that cannot be read", "a heading of 400", "a missing checklist folder"])
def test_a_refusal_in_a_process_of_its_own_leaves_no_traceback_and_no_file(what: str, tmp_path: Path) -> None:
    report, more, code, words = BAD[what]
    kept = tmp_path / "brief.json"
    done = process(*brief(*more, "--output", str(kept), "--format", "json", report=report))
    assert done.returncode == code
    assert done.stdout == b""
    said = done.stderr.decode()
    assert said.count("\n") == 1 and said.startswith("advisor: ")
    assert all(word in said for word in words)
    assert list(tmp_path.iterdir()) == []


def test_an_earlier_output_stays_whole_where_a_brief_is_refused(tmp_path: Path) -> None:
    kept = tmp_path / "brief.txt"
    kept.write_text("yesterday's", encoding="utf-8")
    refused(run(*brief("--heading", "400", "--output", str(kept))), UNUSABLE, "heading")
    assert kept.read_text(encoding="utf-8") == "yesterday's"
    assert [path.name for path in tmp_path.iterdir()] == ["brief.txt"]


def test_output_goes_whole_to_a_file_and_nothing_to_the_screen(tmp_path: Path) -> None:
    for form in ("text", "json"):
        kept = tmp_path / f"brief.{form}"
        result = run(*brief("--format", form, "--output", str(kept)))
        assert (result.exit_code, result.stdout, result.stderr) == (0, "", "")
        assert kept.read_bytes() == run(*brief("--format", form)).stdout_bytes
    assert len(list(tmp_path.iterdir())) == 2


def test_json_keeps_to_the_schema_that_is_printed() -> None:
    schema = json.loads(run("schema", "brief").stdout)
    for path in sorted(SAMPLES.glob("*/report.txt")):
        made = run("brief", str(path), "--off-block", "2027-01-10T06:40:00Z", *ASK[2:], "--format", "json")
        if made.exit_code == 0:
            jsonschema.Draft202012Validator(schema).validate(json.loads(made.stdout))
    data = json.loads(run(*brief("--format", "json")).stdout)
    jsonschema.Draft202012Validator(schema).validate(data)
    # the shape that other programs read
    assert data["schema"] == "brief/1" and data["made_at"] == data["now"] == NOW
    assert set(data) >= {
        "place",
        "aircraft",
        "checklist",
        "windows",
        "reports",
        "timeline",
        "advice",
        "doors",
        "not_decoded",
        "missing",
        "loosened",
        "cautions",
    }
    for line in data["advice"]:
        assert set(line) >= {
            "id",
            "kind",
            "status",
            "weight",
            "text",
            "during",
            "zone",
            "from",
            "until",
            "by",
            "because",
            "source",
            "origin",
        }
    assert data["windows"]["walk_round"] == ["2027-01-10T05:55:00Z", "2027-01-10T06:15:00Z"]
    assert data["windows"]["doors_open"] == ["2027-01-10T05:50:00Z", "2027-01-10T06:35:00Z"]
    at = [row["at"] for row in data["timeline"]]
    assert at == sorted(set(at)) and at[0] == NOW and at[-1] == data["windows"]["take_off"]
    assert all(re.fullmatch(r"2027-01-10T\d\d:\d[05]:00Z", moment) for moment in at)


def test_standard_input_a_file_and_an_option_give_the_same_brief(tmp_path: Path) -> None:
    file = tmp_path / "report.txt"
    file.write_text(REPORT + "\n", encoding="utf-8")
    by_option = run(*brief()).stdout_bytes
    assert run("brief", str(file), *ASK).stdout_bytes == by_option
    assert run("brief", "-", *ASK, fed=REPORT).stdout_bytes == by_option
    windows_file = "\ufeff" + REPORT.replace(" 9999", "\r\n  9999") + "=\r\n"
    assert run("brief", "-", *ASK, fed=windows_file).stdout_bytes == by_option


def test_one_bad_group_is_shown_and_the_rest_is_used() -> None:
    made = run(*brief(report=REPORT.replace("FEW020", "FEWW020")))
    assert made.exit_code == 0
    assert "FEWW020" in made.stdout.split("NOT UNDERSTOOD")[1]


def test_times_are_read_in_every_form_that_is_documented() -> None:
    wanted = run(*brief()).stdout_bytes
    for form in ("06:40Z", "0640z", "2027-01-10T06:40:00Z", "2027-01-10T07:40:00+01:00"):
        assert run(*brief("--off-block", form)).stdout_bytes == wanted


def test_since_says_first_what_changed(tmp_path: Path) -> None:
    kept = tmp_path / "before.json"
    kept.write_bytes(run(*brief("--format", "json", report=REPORT.replace("24008KT", "24030G45KT"))).stdout_bytes)
    said = run(*brief("--since", str(kept))).stdout
    part = said[said.index("SINCE THE BRIEF OF") :].split("\n\n")[0]
    gone = next(row for row in part.split("\n  * ") if row.endswith(": gone"))
    assert "strong wind" in " ".join(gone.split())
    assert said.index("SINCE THE BRIEF OF") < said.index("TAKE AND WEAR")
    back = run(*brief("--since", str(kept), report=REPORT.replace("24008KT", "24030G45KT"))).stdout
    assert "nothing changed" in back
    kept.write_text('{"schema": "plan/1"}', encoding="utf-8")
    refused(run(*brief("--since", str(kept))), USAGE, "--since", "brief")


def test_two_stations_are_used_where_the_place_is_given_and_each_is_named() -> None:
    made = run(*brief(report=f"{REPORT}=\n{REPORT.replace('ZZZA', 'ZZZB')}="))
    assert made.exit_code == 0
    assert "ZZZA" in made.stdout and "ZZZB" in made.stdout


def test_colour_is_off_in_a_pipe_and_with_no_color() -> None:
    piped = process(*brief())
    assert piped.returncode == 0 and b"\x1b" not in piped.stdout
    assert process(*brief(), NO_COLOR="1", FORCE_COLOR="1", TERM="xterm").stdout == piped.stdout


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")
def test_colour_is_on_in_a_terminal_and_off_there_with_no_color() -> None:
    import pty

    def shown(**surroundings: str) -> bytes:
        master, slave = pty.openpty()
        command = [sys.executable, "-m", "advisor", *brief()]
        with subprocess.Popen(
            command,
            stdout=slave,
            stdin=subprocess.DEVNULL,
            cwd=ROOT,
            env={**{k: v for k, v in os.environ.items() if k != "NO_COLOR"}, "TERM": "xterm", **surroundings},
        ):
            os.close(slave)
            data = b""
            try:
                while part := os.read(master, 65536):
                    data += part
            except OSError:
                pass  # the other end is closed
        os.close(master)
        return data

    plain, coloured = shown(NO_COLOR="1"), shown()
    assert b"\x1b[" not in plain
    assert b"\x1b[" in coloured
    bare = re.sub(rb"\x1b\[[0-9;]*m", b"", coloured)
    assert b"".join(bare.split()) == b"".join(plain.split())


def test_a_pipe_that_is_closed_early_is_no_error() -> None:
    command = f"{shlex.quote(sys.executable)} -m advisor {shlex.join(brief('--format', 'json'))} | head -c 10"
    done = subprocess.run(["/bin/sh", "-c", command], capture_output=True, cwd=ROOT, check=False)
    assert done.stdout == b'{\n  "schem'
    assert b"Traceback" not in done.stderr


def readme(after: str) -> str:
    """The block of code that follows a line of the README."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    return re.split(r"```\w*\n", text[text.index(after) :], maxsplit=1)[1].split("```")[0]


@pytest.fixture
def source(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A checklist folder whose one feed, "ours", is a server on this machine that knows one report."""

    class Answer(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("Content-Type", "text/plain")
            self.end_headers()
            self.wfile.write(REPORT.encode())

        def log_message(self, *_: Any) -> None:
            pass

    for name in ("XDG_CACHE_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_DATA_HOME", "HOME"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    folder = tmp_path / "folder"
    folder.mkdir()
    with HTTPServer(("127.0.0.1", 0), Answer) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        url = f"http://127.0.0.1:{server.server_port}/{{station}}.txt"
        (folder / "feeds.toml").write_text(
            f'[[feed]]\nname = "ours"\nurl = "{url}"\nformat = "text"\ntimeout_s = 5\n', encoding="utf-8"
        )
        yield folder
        server.shutdown()


def test_a_report_is_fetched_from_a_source_and_a_source_that_is_down_is_said(source: Path) -> None:
    words = next(words for words in examples() if "--station" in words)
    fetched = [*words[1:], *ASK[2:], "--checklist", str(source)]
    made = run(*fetched)
    assert made.exit_code == 0, made.stderr
    assert REPORT.split("METAR ")[1].split(" Q")[0][:30] in " ".join(made.stdout.split())
    refused(run(*["theirs" if word == "ours" else word for word in fetched]), USAGE, "theirs", "ours")
    refused(run(*["../etc" if word == "ZZZA" else word for word in fetched]), UNUSABLE, "../etc", "ZZZA")
    # another station, so that no earlier answer helps, at a port where nobody listens
    feeds = source / "feeds.toml"
    feeds.write_text(re.sub(r":\d+/", ":9/", feeds.read_text(encoding="utf-8")), encoding="utf-8")
    refused(run(*["ZZZB" if word == "ZZZA" else word for word in fetched]), 6, "ours", "--report")


def examples() -> list[list[str]]:
    """The README's example commands as words, comments left out."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    found = [line.strip() for line in text.splitlines() if line.startswith("    advisor ")]
    return [shlex.split(re.sub(r"\s{3,}\S.*", "", line).split(" < ")[0]) for line in found]


def test_the_first_command_of_the_readme_prints_its_sample() -> None:
    words = shlex.split(readme("<!-- first command -->").split("&&")[-1])
    assert words[0] == ".venv/bin/advisor"
    done = process(*words[1:])
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout == (SAMPLES / "clear-frosty-dawn" / "brief.txt").read_bytes()


@pytest.mark.parametrize("words", examples(), ids=lambda words: " ".join(words[:4]))
def test_an_example_of_the_readme_works(words: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    elsewhere = {"serve": "with the page", "slots": "with the slots", "replay": "with the archive"}
    if words[1] in elsewhere or "--station" in words:
        pytest.skip(f"tested {elsewhere.get(words[1], 'with a source of its own')}")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "report.txt").write_text(REPORT, encoding="utf-8")
    (tmp_path / "DIR").mkdir()
    (tmp_path / "DIR" / "own.toml").write_text(readme("rule by rule, by `id`"), encoding="utf-8")
    (tmp_path / "brief.json").write_bytes(run(*brief("--format", "json")).stdout_bytes)
    for name in ("schedule.csv", "pads.toml", "holdover.toml"):
        (tmp_path / name).write_bytes((SAMPLES / "slots" / name).read_bytes())
    if words[1] == "record":
        record = Record(f"sqlite:///{tmp_path / 'DIR' / 'record.sqlite'}", Clock())
        record.add(opening("w-1"))
        record.close()
        run("record", "head", "--data", "DIR", "--output", "HEAD.json")
    arguments: list[str] = []
    for word in words[1:]:
        bare = word.strip("[]")
        arguments.append(
            {"METAR ...": REPORT, "ID": "torch", "RULE": "torch", "WALK": "w-1", "WORD": "OAT"}.get(bare, bare)
        )
    if arguments[0] == "brief":
        # the examples leave the clock and some the place to the system; a test does not
        arguments += ["--now", NOW] + ([] if "--place" in arguments else ASK[4:])
    result = run(*arguments, fed=REPORT)
    # the README's own folder gives the torch other words, which a comparison does not let pass
    assert result.exit_code == (7 if "compare" in arguments else 0), result.output
    assert result.stdout or "--output" in arguments


def test_the_python_example_of_the_readme_prints_lines() -> None:
    done = subprocess.run([sys.executable, "-c", readme("## In Python")], capture_output=True, check=True, cwd=ROOT)
    assert b"expected " in done.stdout


def test_the_example_rule_of_the_readme_is_the_operators_own_in_a_brief(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(readme("rule by rule, by `id`"), encoding="utf-8")
    data: dict[str, Any] = json.loads(run(*brief("--checklist", str(tmp_path), "--format", "json")).stdout)
    torch = next(line for line in data["advice"] if line["id"] == "torch")
    assert torch["origin"] == "operator"
    assert torch["because"][0]["test"] == "illuminance_lx < 40"
    assert "[operator]" in run(*brief("--checklist", str(tmp_path))).stdout


def test_a_loosened_must_is_named_in_the_brief(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(
        readme("rule by rule, by `id`").replace("illuminance_lx < 40", "illuminance_lx < 2"), encoding="utf-8"
    )
    assert json.loads(run(*brief("--checklist", str(tmp_path), "--format", "json")).stdout)["loosened"] == ["torch"]
    assert "loosened or removed: torch" in run(*brief("--checklist", str(tmp_path))).stdout


def test_a_faulty_checklist_is_refused_with_every_fault(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(
        readme("rule by rule, by `id`").replace("illuminance_lx < 40", "iluminance_lx < 40").replace('"must"', '"may"'),
        encoding="utf-8",
    )
    result = run(*brief("--checklist", str(tmp_path)))
    assert (result.exit_code, result.stdout) == (CHECKLIST, "")
    assert "illuminance_lx" in result.stderr and "may" in result.stderr
    assert all("own.toml:" in line for line in result.stderr.splitlines() if line.strip())


def test_the_version_and_the_help_are_there() -> None:
    assert run("--version").stdout.strip()
    for command in ([], ["brief"], ["decode"], ["checklist"], ["schema"], ["aircraft"]):
        shown = run(*command, "--help")
        assert shown.exit_code == 0 and "Usage:" in shown.stdout


def test_python_m_advisor_is_the_command_and_there_is_one_version() -> None:
    import advisor

    done = subprocess.run([sys.executable, "-m", "advisor", "--version"], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == advisor.__version__
    assert "version =" not in (Path(advisor.__file__).parents[1] / "pyproject.toml").read_text().split("[tool")[0]
