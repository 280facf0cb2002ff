"""Single parts of the record at their edges, each by hand; limits as the documents state them."""

from __future__ import annotations

import io
import random

import msgspec
import pytest
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey
from PIL import Image
from sqlalchemy.exc import IntegrityError

from advisor import advise
from advisor.errors import ChecklistError, RecordError
from advisor.record import photos, said, store, tokens
from advisor.record.chain import START, faults, following
from advisor.record.head import key_at
from advisor.record.keeping import drop_older
from advisor.record.opening import opened
from advisor.record.outcomes import outcomes, share
from advisor.record.store import Addition
from advisor.record.walk import Seen, Walk, later, offers, out_of_order
from tests.record.places import found, opening

MOST_PHOTO = 2_000_000


def picture(width: int = 64, height: int = 48) -> Image.Image:
    return Image.linear_gradient("L").resize((width, height)).convert("RGB")


def jpeg(image: Image.Image, quality: int) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()


# photos -----------------------------------------------------------------------------------------------------------


def test_a_photo_of_two_million_bytes_is_taken_and_of_one_more_is_not():
    # what follows the end of a JPEG belongs to no picture
    data = jpeg(picture(), 90)
    assert photos.encode(data.ljust(MOST_PHOTO, b"\0"))[1:] == (64, 48)
    with pytest.raises(photos.NotAPhoto, match="longer than 2000000 bytes"):
        photos.encode(data.ljust(MOST_PHOTO + 1, b"\0"))


def test_a_photo_is_kept_as_well_as_it_fits():
    """At 85 % where that fits, else at 70, else at 50; noise of black and white takes most."""
    shown = picture()
    out = io.BytesIO()
    shown.save(out, "PNG")
    assert photos.encode(out.getvalue())[0] == jpeg(shown, 85)
    sizes = {}
    for side in (1500, 1750, 1900):
        noise = Image.frombytes("1", (side, side), random.Random(1).randbytes((side + 7) // 8 * side))
        out = io.BytesIO()
        noise.save(out, "PNG")
        kept = photos.encode(out.getvalue())[0]
        bare = noise.convert("RGB")
        sizes[side] = next(quality for quality in (85, 70, 50) if kept == jpeg(bare, quality))
        better = [jpeg(bare, quality) for quality in (85, 70, 50) if quality > sizes[side]]
        assert all(len(one) > MOST_PHOTO for one in better) and len(kept) <= MOST_PHOTO
    assert sorted(sizes.values(), reverse=True) == [85, 70, 50]


def test_a_photo_that_is_kept_tells_its_size(tmp_path):
    kept = photos.keep(tmp_path / "photos", jpeg(picture(), 90))
    assert (kept.width, kept.height) == (64, 48)
    assert (tmp_path / "photos" / f"{kept.sha256}.jpg").stat().st_size == kept.bytes


def test_what_is_dropped_takes_its_photos_along_and_one_that_is_gone_stops_nothing(record, clock, tmp_path):
    folder = tmp_path / "photos"
    for name in ("w-1", "w-2"):
        record.add(opening(name))
        kept = photos.keep(folder, jpeg(picture(64 + len(record.events()), 48), 90))
        record.add(Addition("photo", name, {"walk": name, "sha256": kept.sha256}))
    (folder / f"{kept.sha256}.jpg").unlink()
    clock.on(minutes=60 * 24 * 40)
    assert drop_older(record, 30, clock(), folder) == 2
    assert list(folder.iterdir()) == []


def test_a_photo_folder_that_is_none_is_one_line(tmp_path):
    (tmp_path / "photos").write_text("a file")
    with pytest.raises(RecordError, match="the photo was not kept"):
        photos.keep(tmp_path / "photos", jpeg(picture(), 90))


# what is said -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("kind", "most"), [(said.Short, 80), (said.Name, 80), (said.Note, 500), (said.Moment, 40)])
def test_what_is_said_has_a_greatest_length(kind, most):
    assert msgspec.convert("x" * most, kind) == "x" * most
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert("x" * (most + 1), kind)


# walks ------------------------------------------------------------------------------------------------------------


def test_what_is_looked_at_before_the_start_is_a_checkpoint_of_that_part():
    lines = [
        {"id": "wing", "kind": "checkpoint", "part": "walk"},
        {"id": "again", "kind": "checkpoint", "part": "start"},
        {"id": "beacon", "kind": "gear", "part": "start"},
        # opened before lines named a part
        {"id": "pre-take-off-check", "kind": "checkpoint"},
        {"id": "tail", "kind": "checkpoint"},
        # and where the part is named it counts
        {"id": "pre-take-off-check", "kind": "checkpoint", "part": "walk"},
    ]
    assert [lines.index(line) for line in later({"lines": lines})] == [1, 3]


def treated(*steps: tuple[str, str]) -> Walk:
    told = tuple({"step": step, "at": at, "seq": number} for number, (step, at) in enumerate(steps, 2))
    empty = {"lines": {}, "zones": {}, "notes": (), "photos": (), "begun": None, "ended": None, "signed": None}
    return Walk(id="w-1", opened={}, opened_at="2027-01-10T05:00:00Z", treatment=told, **empty)


@pytest.mark.parametrize(
    ("steps", "may"),
    [
        ((), True),
        ((("last step started", "2027-01-10T05:30:00Z"),), True),
        ((("finished", "2027-01-10T05:30:00Z"),), False),
        ((("last step started", "2027-01-10T05:30:00Z"), ("finished", "2027-01-10T05:30:00Z")), False),
        # a new step has begun since
        ((("finished", "2027-01-10T05:30:00Z"), ("last step started", "2027-01-10T05:31:00Z")), True),
    ],
)
def test_a_treatment_is_cancelled_until_it_is_finished(steps, may):
    assert (out_of_order(treated(*steps), "cancelled", "2027-01-10T05:40:00Z") is None) == may


def test_of_what_lies_the_gravest_is_offered():
    seen = {name: Seen(name, "", "2027-01-10T05:30:00Z", "", 2, ()) for name in ("frost", "snow", "ice")}
    one = msgspec.structs.replace(treated(), lines={"wing": seen["frost"], "tail": seen["snow"]})
    assert offers(one)["seen"] == "snow"
    assert offers(msgspec.structs.replace(one, zones={"nose": seen["ice"]}))["seen"] == "ice"


def test_a_walk_names_the_reports_that_its_brief_went_by():
    # corrected a moment later: the first is shown and not used
    first, second = (f"METAR ZZZA 100520Z 2400{end}KT 9999 FEW020 02/M01 Q1013" for end in ("8", "9"))
    second = second.replace("Z 2", "Z COR 2", 1)
    brief = advise([first, second], now="2027-01-10T05:25:00Z", off_block="0640Z", place="61.4,9.8")
    data = opened("w-1", said.OpenSaid(brief="b", by="Mo"), brief, b"{}", ())
    assert [one["raw"] for one in data["reports"]] == [second]
    # and where each line is looked at, nothing for one that is looked at nowhere
    assert [line["zone"] for line in data["lines"]] == [line.zone or "" for line in brief.advice]
    assert {"", "wings"} <= {line["zone"] for line in data["lines"]}


# chain, key, tokens, outcomes -------------------------------------------------------------------------------------


def test_a_gap_in_the_chain_is_named_from_its_first_to_its_last():
    events = []
    for number in range(5):
        before = (events[-1].seq, events[-1].hash) if events else (0, START)
        events.append(following(before, "2027-01-10T05:00:00Z", "note", {"number": number}))
    assert list(faults([events[0], *events[3:]])) == ["event 2 to 3 is missing"]
    assert list(faults([*events[:3], events[4]])) == ["event 4 is missing"]
    assert list(faults(events)) == []


def test_a_key_is_made_where_its_folders_are_not_yet_and_is_the_same_after(tmp_path):
    path = tmp_path / "a" / "b" / "key.pem"
    raw = serialization.Encoding.Raw, serialization.PublicFormat.Raw
    made = key_at(path).public_key().public_bytes(*raw)
    assert key_at(path).public_key().public_bytes(*raw) == made
    # into a folder that is there
    assert isinstance(key_at(path.with_name("other.pem")), Ed25519PrivateKey)


def test_a_key_of_another_kind_is_refused(tmp_path):
    path = tmp_path / "key.pem"
    form = serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    path.write_bytes(X25519PrivateKey.generate().private_bytes(*form))
    with pytest.raises(RecordError, match="another kind"):
        key_at(path)


def test_a_file_of_tokens_is_read_to_its_end_and_not_beyond_its_limit(tmp_path):
    line = f"mo walk sha256:{'a' * 64}\n"
    path = tmp_path / "tokens"
    for more, fits in ((0, True), (1, False)):
        path.write_text("#" * (tokens.MOST_BYTES - len(line) - 1 + more) + "\n" + line)
        if fits:
            assert [one.name for one in tokens.load(path).values()] == ["mo"]
        else:
            with pytest.raises(ChecklistError, match="over"):
                tokens.load(path)


def test_a_name_has_one_token(tmp_path):
    path = tmp_path / "tokens"
    path.write_text("".join(f"mo walk sha256:{letter * 64}\n" for letter in "ab"))
    with pytest.raises(ChecklistError, match=r":2: the name or the token stands twice"):
        tokens.load(path)


def test_a_share_is_a_part_of_a_whole_to_four_places():
    assert [share(count, of).central for count, of in ((1, 4), (2, 3), (0, 0))] == [0.25, 0.6667, None]
    # the score interval at 95 % (Wilson 1927) by hand: 0.5731 ± 0.3655
    assert (share(2, 3).low, share(2, 3).high) == (0.2077, 0.9385)


def test_outcomes_are_those_of_walks_from_the_first_to_the_last():
    days = ("2027-01-11T05:00:00Z", "2027-01-10T05:00:00Z", "2027-01-12T05:00:00Z")
    made = outcomes(msgspec.structs.replace(treated(), opened_at=day) for day in days)
    assert (made.walks, made.first, made.last) == (3, days[1], days[2])


def test_outcomes_are_no_invented_ones_where_nobody_says_so():
    assert outcomes([]).invented is False


# store ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [1, 2, 3])
def test_who_is_refused_by_the_database_is_refused_alone(record, monkeypatch, size):
    """Additions that come together go in together; where one is at fault the others go in without it."""
    record.add(opening("w-1"))
    add = store._Batch.add

    def refusing(batch, additions):
        if any(one.key == "bad" for one in additions):
            raise IntegrityError("insert", {}, Exception("not unique"))
        return add(batch, additions)

    monkeypatch.setattr(store._Batch, "add", refusing)
    together = [found("w-1", key="bad"), *(found("w-1", key=f"k{number}") for number in range(size - 1))]
    answers = record._together(together)
    assert len(answers) == size
    assert isinstance(answers[0], RecordError)
    assert [one.seq for one in answers[1:]] == [2 + number for number in range(size - 1)]
    assert len(record.events("w-1")) == size


def test_the_newest_walks_are_listed_so_many_as_asked(record, clock):
    for name in ("w-1", "w-2", "w-3"):
        record.add(opening(name))
        clock.on(minutes=1)
    assert [[row["id"] for row in record.walks(most=most)] for most in (1, 2, None)] == [
        ["w-3"],
        ["w-3", "w-2"],
        ["w-3", "w-2", "w-1"],
    ]


def test_a_walk_is_there_once_it_was_opened(record):
    assert not record.has("w-1")
    record.add(opening("w-1"))
    assert record.has("w-1") and not record.has("w-2")
