"""What is drawn from the events is compared with them: the list of walks, the answers to keys, the head, the photos."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from sqlalchemy import delete, insert, select, text

from advisor.cli.main import main
from advisor.record import derived, photos
from advisor.record.database import FILE
from advisor.record.keeping import drop_older
from advisor.record.said import NoteSaid, SignSaid, data_of
from advisor.record.store import Addition, Record, Refusal
from advisor.record.tables import ANSWER, HEAD, WALK
from advisor.record.verify import check
from tests.record.places import Clock, found, opening
from tests.record.test_kept_on_disk import picture

KEYS = "k" * 64, "m" * 64
DAY = 24 * 60


@pytest.fixture
def lite(tmp_path: Path, clock: Clock) -> Iterator[Record]:
    """A record where it makes no difference on which database."""
    made = Record(f"sqlite:///{tmp_path / FILE}", clock)
    yield made
    made.close()


def run(record: Record, *all_said: Any) -> None:
    """As somebody with the database's password would."""
    with record.engine.connect().execution_options(write=True) as connection, connection.begin():
        for said in all_said:
            connection.execute(text(said) if isinstance(said, str) else said)


def sign(walk: str) -> Addition:
    return Addition("signed", walk, data_of(walk, SignSaid(by="AB", role="pilot")))


def photo(walk: str, name: str) -> Addition:
    return Addition("photo", walk, {"walk": walk, "zone": "tail", "sha256": name})


def two_walks(record: Record) -> None:
    """Events 1 to 5: a walk, what was found, another walk, what was found, the first one's signature."""
    record.add(opening("w-1", registration="ZZ-INV"))
    record.add(found("w-1", key=KEYS[0]))
    record.add(opening("w-2"))
    record.add(found("w-2", key=KEYS[1]))
    record.add(sign("w-1"))


NEW_ROW = "INSERT INTO walk VALUES ('w-9', 3, '2027-01-10T05:56:00Z', 'b', 'single-aisle-jet', NULL, 'ZZZA', 'x', NULL)"
# what somebody did, and every line that verify says of it
CHANGED = {
    "DELETE FROM walk": [
        "walk w-1 is not in the list of walks: event 1 opened it",
        "walk w-2 is not in the list of walks: event 3 opened it",
    ],
    "DELETE FROM walk WHERE id = 'w-2'": ["walk w-2 is not in the list of walks: event 3 opened it"],
    "UPDATE walk SET id = 'w-9' WHERE id = 'w-2'": [
        "walk w-2 is not in the list of walks: event 3 opened it",
        "walk w-9 is in the list of walks, and no event opened it",
    ],
    NEW_ROW: ["walk w-9 is in the list of walks, and no event opened it"],
    "UPDATE walk SET aircraft = 'glider', station = NULL WHERE id = 'w-2'": [
        "walk w-2: aircraft is 'glider' in the list of walks, 'single-aisle-jet' in event 3",
        "walk w-2: station is not stated in the list of walks, 'ZZZA' in event 3",
    ],
    "UPDATE walk SET registration = 'ZZ-INW'": [
        "walk w-1: registration is 'ZZ-INW' in the list of walks, 'ZZ-INV' in event 1",
        "walk w-2: registration is 'ZZ-INW' in the list of walks, not stated in event 3",
    ],
    "UPDATE walk SET off_block = '2027-01-10T07:40:00Z' WHERE id = 'w-1'": [
        "walk w-1: off_block is '2027-01-10T07:40:00Z' in the list of walks, '2027-01-10T06:40:00Z' in event 1"
    ],
    "UPDATE walk SET brief = 'c' WHERE id = 'w-1'": [
        f"walk w-1: brief is 'c' in the list of walks, '{'b' * 22}' in event 1"
    ],
    "UPDATE walk SET opened_at = '2026-01-10T05:56:00Z', opened_seq = 3 WHERE id = 'w-1'": [
        "walk w-1: opened_seq is 3 in the list of walks, 1 in event 1",
        "walk w-1: opened_at is '2026-01-10T05:56:00Z' in the list of walks, '2027-01-10T05:56:00Z' in event 1",
    ],
    "UPDATE walk SET signed_seq = NULL": [
        "walk w-1 is open in the list of walks, signed by event 5 by its events",
    ],
    "UPDATE walk SET signed_seq = 5": ["walk w-2 is signed by event 5 in the list of walks, open by its events"],
    "UPDATE walk SET signed_seq = 2 WHERE id = 'w-1'": [
        "walk w-1 is signed by event 2 in the list of walks, signed by event 5 by its events"
    ],
    f"UPDATE answer SET seq = 99 WHERE key = '{KEYS[1]}'": [
        f"the answer to key {KEYS[1]} is event 99, which is none of a walk"
    ],
    "UPDATE answer SET seq = 4": ["event 4 is the answer to more than one key"],
    # a name with line ends stays within its line
    NEW_ROW.replace("w-9", "w-9\nthe record holds"): [
        r"walk 'w-9\nthe record holds' is in the list of walks, and no event opened it"
    ],
    "UPDATE head SET seq = 4, hash = (SELECT hash FROM event WHERE seq = 4)": [
        "the head names event 4, and the last one is event 5"
    ],
    "UPDATE head SET at = '2027-01-09T05:56:00Z'": [
        "the head is dated 2027-01-09T05:56:00Z, event 5 2027-01-10T05:56:00Z"
    ],
}


def test_each_table_that_was_changed_by_hand_is_told_in_a_line_a_difference(record) -> None:
    two_walks(record)
    assert list(check(record)) == []
    with record.engine.connect() as connection:
        before = {table: connection.execute(select(table)).mappings().all() for table in (WALK, ANSWER, HEAD)}
    kept = record.head()
    for said, lines in CHANGED.items():
        run(record, said)
        # a head that was kept hides nothing of it
        assert list(check(record, kept)) == lines, said
        run(record, *map(delete, before))
        for table, rows in before.items():
            run(record, insert(table).values([dict(row) for row in rows]))
    assert list(check(record)) == []


def test_a_head_kept_of_an_empty_record_holds_ever_after(lite) -> None:
    head = lite.head()
    two_walks(lite)
    assert list(check(lite, head)) == []


def test_a_registration_written_as_an_empty_text_is_none(lite) -> None:
    two_walks(lite)
    run(lite, "UPDATE walk SET registration = '' WHERE id = 'w-2'")
    assert list(check(lite)) == []


def test_a_signed_walk_takes_no_findings_though_the_list_was_changed_to_say_that_it_is_open(record) -> None:
    two_walks(record)
    run(record, "UPDATE walk SET signed_seq = NULL")
    for refused in (found("w-1"), sign("w-1")):
        with pytest.raises(Refusal) as error:
            record.add(refused)
        assert error.value.why == "signed"
    # the other walk is open, and a note is taken after the signature too
    record.add(found("w-2"))
    record.add(Addition("note", "w-1", data_of("w-1", NoteSaid(text="late"))))


def test_what_got_in_after_a_signature_that_was_hidden_meanwhile_is_told(lite) -> None:
    two_walks(lite)
    run(lite, "UPDATE walk SET signed_seq = NULL", "UPDATE event SET walk = NULL WHERE seq = 5")
    lite.add(found("w-1", "nothing seen"))
    run(lite, "UPDATE walk SET signed_seq = 5 WHERE id = 'w-1'", "UPDATE event SET walk = 'w-1' WHERE seq = 5")
    lite.add(Addition("note", "w-1", data_of("w-1", NoteSaid(text="late"))))
    lite.add(Addition("treatment", "w-1", {"walk": "w-1", "step": "asked"}))
    assert list(check(lite)) == ["walk w-1: event 6, found, came after it was signed by event 5"]


def test_a_record_of_the_first_version_gets_its_signatures_by_walk_and_holds(url, clock) -> None:
    before = Record(url, clock)
    two_walks(before)
    run(before, "DROP INDEX ix_event_signed", "UPDATE alembic_version SET version_num = '0001'")
    before.close()
    record = Record(url, clock)
    assert list(check(record)) == []
    with pytest.raises(Refusal, match="signed"):
        record.add(found("w-1"))
    record.close()


def test_what_was_dropped_is_not_missed_and_what_is_left_behind_or_put_back_is_told(record, clock) -> None:
    two_walks(record)
    clock.on(minutes=40 * DAY)
    record.add(opening("w-3"))
    assert drop_older(record, 30, clock()) == 2
    assert [row["id"] for row in record.walks()] == ["w-3"]
    assert list(check(record)) == []
    run(record, NEW_ROW)
    assert list(check(record)) == ["walk w-9 is in the list of walks, and no event opened it"]
    # an event without content makes it no walk either
    run(record, "UPDATE event SET walk = 'w-9' WHERE seq IN (3, 4)")
    assert list(check(record)) == [f"event {at} is filed under another walk than its own" for at in (3, 4)]
    run(record, "DELETE FROM walk WHERE id = 'w-9'", "UPDATE event SET walk = NULL WHERE seq IN (3, 4)")
    run(record, f"INSERT INTO answer VALUES ('{KEYS[0]}', '', 2)")
    assert list(check(record)) == [f"the answer to key {KEYS[0]} is event 2, which is none of a walk"]


def test_a_walk_that_got_a_note_while_it_was_dropped_holds_until_the_note_is_dropped(
    record, clock, monkeypatch
) -> None:
    two_walks(record)
    clock.on(minutes=40 * DAY)
    add, rounds = record.add, iter([record.walks()])

    def with_a_late_note(addition: Addition) -> None:
        add(addition)
        add(Addition("note", "w-1", data_of("w-1", NoteSaid(text="late"))))

    with monkeypatch.context() as patched:
        patched.setattr(record, "add", with_a_late_note)
        # one round, as if the program ended behind it
        patched.setattr(record, "walks", lambda **_: next(rounds, []))
        drop_older(record, 30, clock())
    assert [(row["id"], row["signed_seq"]) for row in record.walks()] == [("w-1", 5)]
    assert [event.kind for event in record.events("w-1")] == ["note"]
    assert list(check(record)) == []
    # its signature was dropped, and still counts
    with pytest.raises(Refusal, match="signed"):
        record.add(found("w-1"))
    run(record, "UPDATE walk SET opened_at = '2027-01-10T05:57:00Z', signed_seq = 3")
    assert list(check(record)) == [
        "walk w-1: opened_at is '2027-01-10T05:57:00Z' in the list of walks, '2027-01-10T05:56:00Z' in event 1",
        "walk w-1 is signed by event 3 in the list of walks, open by its events",
    ]
    run(record, "UPDATE walk SET opened_at = '2027-01-10T05:56:00Z', signed_seq = 5")
    # event 5 opened no walk, and event 8 another one
    assert record.add(opening("w-3")).seq == 8
    for other in (5, 8):
        run(record, f"UPDATE walk SET opened_seq = {other} WHERE id = 'w-1'")
        assert list(check(record)) == ["walk w-1 is in the list of walks, and no event opened it"]
    run(record, "UPDATE walk SET opened_seq = 1 WHERE id = 'w-1'")
    assert drop_older(record, 30, clock()) == 1
    assert [row["id"] for row in record.walks()] == ["w-3"] and list(check(record)) == []


def test_photos_hold_as_they_were_kept_and_each_that_is_gone_or_changed_is_told(record, tmp_path: Path) -> None:
    folder = tmp_path / "photos"
    first, second = photos.keep(folder, picture()), photos.keep(folder, picture(41, 30))
    two_walks(record)
    record.add(photo("w-2", first.sha256))
    record.add(photo("w-2", second.sha256))
    # kept, and then its walk was signed meanwhile: no event names it, and nothing is wrong with that
    photos.keep(folder, picture(42, 30))
    assert list(check(record, None, [folder])) == []
    (folder / f"{first.sha256}.jpg").unlink()
    gone = f"photo {first.sha256} of walk w-2, named by event 6, is gone"
    assert list(check(record, None, [folder])) == [gone]
    path = folder / f"{second.sha256}.jpg"
    path.write_bytes(path.read_bytes()[:-1] + b"x")
    changed = f"photo {second.sha256} of walk w-2, named by event 7, was changed: its sum does not fit its name"
    assert list(check(record, None, [folder])) == [gone, changed]
    assert list(check(record)) == []


def test_photos_of_several_servers_of_one_record_may_lie_in_several_folders(lite, tmp_path: Path) -> None:
    here, there = tmp_path / "here", tmp_path / "there"
    lite.add(opening("w-1"))
    names = [photos.keep(here, picture()).sha256, photos.keep(there, picture(41, 30)).sha256]
    for name in names:
        lite.add(photo("w-1", name))
    assert list(check(lite, None, [here, there])) == []
    assert [line[-7:] for line in check(lite, None, [here])] == ["is gone"]
    # a right copy elsewhere does not make a changed one right
    (there / f"{names[0]}.jpg").write_bytes(b"another")
    assert [names[0] in line and "changed" in line for line in check(lite, None, [here, there])] == [True]


@pytest.mark.parametrize("name", ["../record", "", None, 7, "A" * 64])
def test_a_photo_whose_name_is_none_is_told_and_nothing_else_is_opened(tmp_path: Path, name) -> None:
    (tmp_path / "record.jpg").write_bytes(b"")
    assert photos.fault([tmp_path / "photos"], name) == "has no name that a photo could have"


def test_a_photo_that_cannot_be_read_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = photos.keep(tmp_path, picture())

    def refused(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refused)
    assert photos.fault([tmp_path], kept.sha256) == "cannot be read: Permission denied"


def test_photos_that_are_dropped_before_or_while_verify_reads_are_not_missed(lite, clock, tmp_path, monkeypatch):
    lite.add(opening("w-1"))
    kept = photos.keep(tmp_path, picture())
    lite.add(photo("w-1", kept.sha256))
    clock.on(minutes=40 * DAY)
    look, dropped = derived.fault, []

    def after_dropping(folders, name):
        dropped.append(drop_older(lite, 30, clock(), tmp_path))
        return look(folders, name)

    monkeypatch.setattr(derived, "fault", after_dropping)
    assert list(check(lite, None, [tmp_path])) == []
    assert dropped == [1] and list(tmp_path.glob("*.jpg")) == []
    assert list(check(lite, None, [tmp_path])) == []
    assert dropped == [1]


def test_events_that_were_spoilt_besides_end_no_check(lite) -> None:
    two_walks(lite)
    lite.add(photo("w-2", "0" * 64))
    run(
        lite,
        "UPDATE event SET data = '{' WHERE seq IN (1, 6)",
        'UPDATE event SET data = \'{"walk":"w-2"}\' WHERE seq = 3',
    )
    told = list(check(lite, None, [Path("nowhere")]))
    for line in (
        "event 1 was changed: its hash does not fit its content",
        "walk w-2 cannot be compared with the list of walks: event 3 does not tell what it is of",
        "photo None of walk None, named by event 6, has no name that a photo could have",
    ):
        assert line in told


def verify(*arguments: object):
    return CliRunner().invoke(main, ["record", "verify", *map(str, arguments)])


def test_the_command_names_walks_and_photos_and_exits_7(tmp_path: Path) -> None:
    record = Record(f"sqlite:///{tmp_path / FILE}", Clock())
    two_walks(record)
    kept = photos.keep(tmp_path / "photos", picture())
    record.add(photo("w-2", kept.sha256))
    record.close()
    done = verify("--data", tmp_path)
    assert (done.exit_code, done.stderr) == (0, "") and done.stdout.startswith("the record holds: 6 events")
    path = f"sqlite:///{tmp_path / FILE}"
    # without a folder nobody says of photos that they hold
    done = verify("--database", path, "--format", "json")
    assert done.exit_code == 0 and json.loads(done.stdout)["photos_looked_at"] is False
    assert "photos were not looked at" in done.stderr
    done = verify("--database", path, "--photos", tmp_path / "photos", "--format", "json")
    assert done.exit_code == 0 and json.loads(done.stdout)["photos_looked_at"] is True
    (tmp_path / "photos" / f"{kept.sha256}.jpg").unlink()
    with sqlite3.connect(tmp_path / FILE) as connection:
        connection.execute("UPDATE walk SET station = 'ZZZB' WHERE id = 'w-1'")
    done = verify("--data", tmp_path)
    assert done.exit_code == 7
    assert done.stdout.splitlines() == [
        "the record does not hold: walk w-1: station is 'ZZZB' in the list of walks, 'ZZZA' in event 1 (2 faults)"
    ]
    assert done.stderr.splitlines() == [f"photo {kept.sha256} of walk w-2, named by event 6, is gone"]
    done = verify("--data", tmp_path, "--photos", tmp_path / "nowhere")
    assert done.exit_code == 2 and "is no folder" in done.stderr
