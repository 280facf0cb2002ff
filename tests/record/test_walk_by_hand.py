"""A walk from its events, by hand: when it began and ended, what counts last, what was seen."""

from __future__ import annotations

from advisor.record.chain import START, following
from advisor.record.walk import read


def events(*said):
    """Events in order, each (time of day, kind, data)."""
    made, last = [], (0, START)
    for time, kind, data in said:
        made.append(following(last, f"2027-01-10T{time}:00Z", kind, {"walk": "w", **data}))
        last = made[-1].seq, made[-1].hash
    return made


OPENED = ("05:50", "opened", {"zones": ["tail"], "lines": []})


def test_a_walk_begins_with_its_first_finding_and_ends_with_its_last():
    walk = read(
        events(
            OPENED,
            ("06:00", "note", {"text": "fog"}),
            ("06:01", "found", {"line": "wing", "found": "nothing seen"}),
            ("06:09", "found", {"zone": "tail", "found": "ice"}),
            # said later, of a time before
            ("06:12", "found", {"line": "gear", "found": "nothing seen", "at": "2027-01-10T06:05:00Z"}),
        )
    )
    assert (walk.begun, walk.ended) == ("2027-01-10T06:01:00Z", "2027-01-10T06:09:00Z")
    assert walk.opened_at == "2027-01-10T05:50:00Z"
    assert walk.seen == ("ice",)
    assert [note["text"] for note in walk.notes] == ["fog"]


def test_a_walk_on_which_nothing_was_said_has_neither_begun_nor_ended():
    walk = read(events(OPENED))
    assert (walk.begun, walk.ended, walk.signed, walk.seen) == (None, None, None, ())


def test_what_it_is_of_has_to_be_there():
    assert read([]) is None
    assert read(events(("06:00", "note", {"text": "x"}))) is None


def test_the_last_treatment_step_of_a_kind_counts():
    asked, again = ("06:20", "treatment", {"step": "asked"}), ("06:30", "treatment", {"step": "asked"})
    walk = read(events(OPENED, asked, ("06:25", "treatment", {"step": "finished"}), again))
    assert walk.last("asked")["recorded_at"] == "2027-01-10T06:30:00Z"
    assert walk.last("finished", "asked")["step"] == "asked"
    assert walk.last("cancelled") is None
