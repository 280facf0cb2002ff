"""The commands of the record: what they print, the exit codes, and one line for what is wrong."""

from __future__ import annotations

import csv
import io
import json
import sqlite3

import pytest
from click.testing import CliRunner

from advisor.cli.main import main
from advisor.record.chain import Event, faults
from advisor.record.head import RecordHead, holds
from advisor.record.photos import NotAPhoto, encode
from advisor.record.store import Addition, Record
from tests.record.places import Clock, found, opening


@pytest.fixture
def kept(tmp_path):
    record = Record(f"sqlite:///{tmp_path / 'record.sqlite'}", Clock())
    record.add(opening("w-1", registration="ZZ-INV"))
    record.add(found("w-1", "frost", note='=SUM(A1), "quoted"\nsecond line'))
    record.add(opening("w-2"))
    record.add(found("w-2", "nothing seen"))
    record.add(Addition("treatment", "w-1", {"walk": "w-1", "step": "asked", "pad": "P1"}))
    record.add(Addition("signed", "w-1", {"walk": "w-1", "by": "AB", "role": "pilot"}))
    record.close()
    return tmp_path


def run(*arguments: object):
    return CliRunner().invoke(main, ["record", *map(str, arguments)])


def test_list_and_show(kept) -> None:
    done = run("list", "--data", kept)
    assert [line.split()[0] for line in done.stdout.splitlines()] == ["w-2", "w-1"]
    assert "signed" in done.stdout.splitlines()[1] and "open" in done.stdout.splitlines()[0]
    assert (
        json.loads(run("list", "--data", kept, "--registration", "ZZ-INV", "--format", "json").stdout)[0]["id"] == "w-1"
    )
    shown = run("show", "w-1", "--data", kept).stdout
    for said in ("ZZ-INV", "frost", "asked, pad P1", "Signed by AB, pilot"):
        assert said in shown
    assert len(json.loads(run("show", "w-1", "--data", kept, "--format", "json").stdout)["events"]) == 4


def test_export_is_a_walk_a_line_and_the_chain_can_be_checked_from_it_alone(kept) -> None:
    done = run("export", "--data", kept)
    walks = [json.loads(line) for line in done.stdout.splitlines()]
    assert [walk["id"] for walk in walks] == ["w-1", "w-2"]
    events = sorted((Event(**event) for walk in walks for event in walk["events"]), key=lambda event: event.seq)
    assert list(faults(events)) == [] and len(events) == 6


def test_export_as_a_table_holds_every_event_and_no_formula(kept) -> None:
    done = run("export", "--data", kept, "--format", "csv", "--output", kept / "out.csv")
    assert done.exit_code == 0
    rows = list(csv.DictReader(io.StringIO((kept / "out.csv").read_text())))
    assert [row["seq"] for row in rows] == ["1", "2", "3", "4", "5", "6"]
    assert rows[1]["note"].startswith("'=SUM") and rows[1]["note"].endswith("second line")
    assert json.loads(rows[1]["data"])["note"].startswith("=SUM")


def test_verify_prints_one_line_and_exits_0_or_7(kept) -> None:
    done = run("verify", "--data", kept)
    assert done.exit_code == 0 and done.stdout.count("\n") == 1
    assert done.stdout.startswith("the record holds: 6 events")
    with sqlite3.connect(kept / "record.sqlite") as connection:
        connection.execute("UPDATE event SET data = replace(data, 'frost', 'snow') WHERE seq = 2")
    done = run("verify", "--data", kept)
    assert done.exit_code == 7 and done.stdout.count("\n") == 1
    assert "event 2 was changed" in done.stdout
    found = json.loads(run("verify", "--data", kept, "--format", "json").stdout)
    assert found["holds"] is False and found["faults"] == ["event 2 was changed: its hash does not fit its content"]


def test_a_head_kept_elsewhere_pins_the_record(kept) -> None:
    path = kept / "head.json"
    assert run("head", "--data", kept, "--output", path).exit_code == 0
    head = RecordHead(**json.loads(path.read_text()))
    assert holds(head) and head.seq == 6
    assert (kept / "head.key").stat().st_mode & 0o077 == 0
    assert run("verify", "--data", kept, "--head", path).exit_code == 0
    with sqlite3.connect(kept / "record.sqlite") as connection:
        connection.execute("DELETE FROM event WHERE seq > 4")
        last = connection.execute("SELECT seq, hash, at FROM event WHERE seq = 4").fetchone()
        connection.execute("UPDATE head SET seq = ?, hash = ?, at = ?", last)
    # the list of walks remembers the signature
    assert (
        "walk w-1 is signed by event 6 in the list of walks, open by its events" in run("verify", "--data", kept).stdout
    )
    with sqlite3.connect(kept / "record.sqlite") as connection:
        connection.execute("UPDATE walk SET signed_seq = NULL")
    # then the record alone cannot know; the head can
    assert run("verify", "--data", kept).exit_code == 0
    done = run("verify", "--data", kept, "--head", path)
    assert done.exit_code == 7 and "events after 4 are missing" in done.stdout


def test_a_head_that_somebody_wrote_pins_nothing(kept) -> None:
    path = kept / "head.json"
    run("head", "--data", kept, "--output", path)
    said = json.loads(path.read_text())
    for name, value in (("seq", 4), ("hash", "0" * 64), ("at", "2020-01-01T00:00:00Z"), ("signature", "AAAA")):
        path.write_text(json.dumps({**said, name: value}))
        done = run("verify", "--data", kept, "--head", path)
        assert done.exit_code == 2 and "does not hold" in done.output
    for text in ("", "{}", "[]", "x"):
        path.write_text(text)
        assert run("verify", "--data", kept, "--head", path).exit_code == 2


def test_drop_leaves_hashes_and_verify_holds(kept) -> None:
    done = run("drop", "--data", kept, "--keep", "1")
    assert done.exit_code == 0
    # the walks of the fixture are dated 2027; the machine's clock may be before or after
    assert run("verify", "--data", kept).exit_code == 0


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["list"], 2),
        (["list", "--data", "nowhere"], 6),
        (["verify", "--database", "postgresql://127.0.0.1:1/x"], 6),
        (["verify", "--database", "oracle://x/y"], 6),
        (["show", "w-9"], 2),
        (["token", "a b", "read"], 2),
        (["token", "ab", "fly"], 2),
        (["drop", "--keep", "0"], 2),
    ],
    ids=str,
)
def test_what_is_wrong_is_one_line_and_a_documented_code(kept, arguments, code) -> None:
    if arguments[0] in ("show", "drop"):
        arguments = [*arguments, "--data", str(kept)]
    done = run(*arguments)
    assert done.exit_code == code, done.output
    assert "Traceback" not in done.output


def test_without_the_extra_one_line_says_how_to_install_it(kept, monkeypatch) -> None:
    import advisor.cli.io as shared

    monkeypatch.setattr(shared, "find_spec", lambda name: None)
    done = run("list", "--data", kept)
    assert done.exit_code == 2 and "pip install 'advisor[record]'" in done.output
    served = CliRunner().invoke(main, ["serve", "--port", "0", "--data", str(kept)])
    assert served.exit_code == 2 and "--no-record" in served.output


def test_a_photo_of_any_turn_is_kept_upright() -> None:
    from PIL import Image

    exif = Image.Exif()
    # 6: the camera was held upright, the top of the scene is on the right of the picture
    exif[274] = 6
    out = io.BytesIO()
    Image.new("RGB", (400, 300), (200, 0, 0)).save(out, "JPEG", exif=exif)
    _, width, height = encode(out.getvalue())
    assert (width, height) == (300, 400)
    with pytest.raises(NotAPhoto):
        encode(b"GIF89a" + b"0" * 100)
