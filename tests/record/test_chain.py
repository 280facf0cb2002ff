"""The chain: hashes worked by hand with printf and sha256sum, and what every kind of tampering leaves behind."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.record.chain import START, Event, canonical, faults, following, hash_of

# printf '%s%s' PREVIOUS CANONICAL | sha256sum, with the texts below; PREVIOUS of the first is 64 zeros
FIRST = ("2027-01-10T05:56:00Z", "opened", {"walk": "w-1", "by": "AB"})
FIRST_SAID = '{"at":"2027-01-10T05:56:00Z","data":{"by":"AB","walk":"w-1"},"kind":"opened","seq":1}'
FIRST_HASH = "33fd01133d5786a372fd0981e3fae4f35b8e3848ebd7b125177e3ce45628ba0c"
SECOND_SAID = (
    '{"at":"2027-01-10T06:01:30Z","data":{"found":"frost","line":"wing-upper-surface",'
    '"note":"thin, € 5 coin","walk":"w-1"},"kind":"found","seq":2}'
)
SECOND_HASH = "ea924a1d7d6e31c23970dc6624fe398885bc776d5252a9a9e7b63e5e783204e9"
# RFC 8785, section 3.2.2.3: numbers as ECMAScript writes them
THIRD_SAID = '{"at":"2027-01-10T06:01:30Z","data":{"a":4.5,"b":1e-7,"c":1e+21,"walk":"w-1"},"kind":"note","seq":3}'
THIRD_HASH = "ccace7671c930141ad9fcb9f436f54d71845acbe32320ec90122cca32f2ec86f"
SECOND = (
    "2027-01-10T06:01:30Z",
    "found",
    {"walk": "w-1", "note": "thin, € 5 coin", "line": "wing-upper-surface", "found": "frost"},
)
THIRD = ("2027-01-10T06:01:30Z", "note", {"walk": "w-1", "b": 1e-7, "a": 4.50, "c": 1e21})


def test_the_canonical_form_is_that_of_the_standard() -> None:
    assert canonical(1, *FIRST) == FIRST_SAID.encode()
    assert canonical(2, *SECOND) == SECOND_SAID.encode()
    assert canonical(3, *THIRD) == THIRD_SAID.encode()


def test_hashes_are_those_worked_by_hand() -> None:
    assert hash_of(START, 1, *FIRST) == FIRST_HASH
    assert hash_of(FIRST_HASH, 2, *SECOND) == SECOND_HASH
    assert hash_of(SECOND_HASH, 3, *THIRD) == THIRD_HASH


def test_each_event_holds_the_hash_of_the_one_before() -> None:
    first = following((0, START), *FIRST)
    second = following((first.seq, first.hash), *SECOND)
    assert (first.seq, first.previous, first.hash) == (1, START, FIRST_HASH)
    assert (second.seq, second.previous, second.hash) == (2, FIRST_HASH, SECOND_HASH)


def chain(count: int = 6) -> list[Event]:
    made: list[Event] = []
    before = (0, START)
    for at in range(count):
        made.append(following(before, f"2027-01-10T06:0{at}:00Z", "found", {"walk": "w-1", "found": "frost", "n": at}))
        before = (made[-1].seq, made[-1].hash)
    return made


def changed(event: Event, **more: object) -> Event:
    return Event(**{**{name: getattr(event, name) for name in Event.__struct_fields__}, **more})


def test_a_chain_as_it_was_written_has_no_fault() -> None:
    made = chain()
    assert list(faults(made)) == []
    assert list(faults(made, (6, made[-1].hash))) == []
    assert list(faults([])) == []


@pytest.mark.parametrize("at", range(6))
@pytest.mark.parametrize(
    "more",
    [{"data": {"walk": "w-1", "found": "nothing seen"}}, {"kind": "note"}, {"at": "2027-01-10T06:09:00Z"}],
    ids=str,
)
def test_a_changed_event_is_named(at, more) -> None:
    made = chain()
    made[at] = changed(made[at], **more)
    assert f"event {at + 1} was changed" in next(iter(said for said in faults(made) if "changed" in said))


@pytest.mark.parametrize("at", range(5))
def test_a_missing_event_is_named(at) -> None:
    made = chain()
    del made[at]
    assert next(faults(made)) == f"event {at + 1} is missing"


def test_several_missing_events_are_named_together() -> None:
    made = chain()
    del made[1:4]
    assert next(faults(made)) == "event 2 to 4 is missing"


def test_a_missing_end_is_seen_by_the_head() -> None:
    made = chain()
    head = (6, made[-1].hash)
    assert list(faults(made[:4])) == []
    assert list(faults(made[:4], head)) == ["events after 4 are missing: the head names event 6"]


def test_events_that_changed_places_are_named() -> None:
    made = chain()
    made[2], made[3] = changed(made[3], seq=3), changed(made[2], seq=4)
    found = list(faults(made))
    assert "event 3 does not follow event 2: the hash before it is another one" in found
    assert "event 3 was changed: its hash does not fit its content" in found


def test_an_event_put_in_anew_with_a_right_hash_breaks_the_next_one() -> None:
    made = chain()
    made[2] = following((2, made[1].hash), made[2].at, "found", {"walk": "w-1", "found": "nothing seen"})
    assert list(faults(made)) == ["event 4 does not follow event 3: the hash before it is another one"]


def test_a_whole_chain_made_again_is_seen_by_the_head() -> None:
    head = (6, chain()[-1].hash)
    other, before = [], (0, START)
    for event in chain():
        other.append(following(before, event.at, event.kind, {"walk": "w-1", "found": "nothing seen"}))
        before = (other[-1].seq, other[-1].hash)
    assert list(faults(other)) == []
    assert list(faults(other, head)) == ["event 6 is not the one that the head names"]


def test_content_may_only_go_where_a_later_event_says_so() -> None:
    made = chain()
    dropped = following((6, made[-1].hash), "2027-01-10T07:00:00Z", "dropped", {"events": [1, 2]})
    made[0], made[1] = changed(made[0], data=None), changed(made[1], data=None)
    assert list(faults(made)) == [f"event {at} has no content, and no event says that it was dropped" for at in (1, 2)]
    assert list(faults([*made, dropped])) == []
    made[2] = changed(made[2], data=None)
    assert list(faults([*made, dropped])) == ["event 3 has no content, and no event says that it was dropped"]


def test_a_date_that_goes_back_is_named() -> None:
    first = following((0, START), "2027-01-10T06:05:00Z", "found", {"walk": "w-1"})
    second = following((1, first.hash), "2027-01-10T06:04:00Z", "found", {"walk": "w-1"})
    assert list(faults([first, second])) == ["event 2 is dated 2027-01-10T06:04:00Z, before the one it follows"]


texts = st.text(st.characters(exclude_categories=("Cs",)), max_size=20)
numbers = st.floats(allow_nan=False, allow_infinity=False)
values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | texts,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3),
    max_leaves=8,
)


@settings(max_examples=150, deadline=None)
@given(data=st.dictionaries(texts, values, max_size=4), at=st.integers(0, 63))
def test_no_other_digit_of_a_hash_passes(data, at) -> None:
    event = following((0, START), "2027-01-10T06:00:00Z", "note", data)
    assert list(faults([event])) == []
    digit = "0" if event.hash[at] != "0" else "1"
    spoilt = changed(event, hash=event.hash[:at] + digit + event.hash[at + 1 :])
    assert list(faults([spoilt])) != []
