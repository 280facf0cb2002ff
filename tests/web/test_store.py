"""Keeping briefs: for a day, bounded, whole, and nobody else's to guess."""

from __future__ import annotations

import hashlib
import threading

import msgspec
import pytest

from advisor.web.folder import FolderBytes
from advisor.web.limits import MOST_ADDRESSES, RateLimit
from advisor.web.model import Asked, KeptBrief
from advisor.web.store import KEPT_S, FolderStore, MemoryStore, new_id


def file_of(name: str) -> str:
    # sha256sum of the address, in hexadecimal: the folder does not give the addresses away
    return hashlib.sha256(name.encode()).hexdigest() + ".z"


class Time:
    now = 1_800_000_000.0

    def __call__(self) -> float:
        return self.now


def entry(time: Time, size: int = 10, **more: object) -> KeptBrief:
    # random text: what is packed must stay as large
    raw = msgspec.Raw(b'"' + (new_id() * (size // 22 + 1))[:size].encode() + b'"')
    return KeptBrief(id=new_id(), made=time.now, live=True, asked=Asked(off_block="0640Z"), brief=raw, **more)


@pytest.fixture(params=["memory", "folder"])
def kept(request, tmp_path):
    time = Time()
    return time, MemoryStore(time) if request.param == "memory" else FolderStore(tmp_path, time)


def test_what_is_put_comes_back_the_same(kept) -> None:
    time, store = kept
    one = entry(time, since="x" * 22)
    store.put(one)
    assert msgspec.json.encode(store.get(one.id)) == msgspec.json.encode(one)


def test_putting_again_replaces(kept) -> None:
    time, store = kept
    one = entry(time)
    store.put(one)
    store.put(msgspec.structs.replace(one, newer="y" * 22))
    assert store.get(one.id).newer == "y" * 22


def test_a_brief_is_kept_for_a_day_and_no_longer(kept) -> None:
    time, store = kept
    one = entry(time)
    store.put(one)
    time.now += KEPT_S - 1
    assert store.get(one.id) is not None
    time.now += 1
    assert store.get(one.id) is None


@pytest.mark.parametrize("name", ["", ".", "../x", "a" * 22, "..%2f", "a" * 21 + "/", "a" * 21 + "\n", "é" * 22])
def test_a_name_that_is_not_there_gives_nothing(kept, name) -> None:
    assert kept[1].get(name) is None


def test_addresses_have_128_bits_and_do_not_repeat() -> None:
    # 22 letters of 6 bits hold 16 bytes
    found = {new_id() for _ in range(2000)}
    assert len(found) == 2000
    assert {len(one) for one in found} == {22}


def test_memory_stays_within_its_bound_and_drops_the_oldest_first() -> None:
    time = Time()
    store = MemoryStore(time, most_bytes=20_000)
    ids = []
    for _ in range(500):
        one = entry(time, 300)
        store.put(one)
        ids.append(one.id)
    assert 50 < len(store) < 500
    assert store.get(ids[0]) is None and store.get(ids[-1]) is not None


def test_memory_forgets_what_is_over_a_day_old() -> None:
    time = Time()
    store = MemoryStore(time)
    for _ in range(5):
        store.put(entry(time))
    time.now += KEPT_S + 1
    store.put(entry(time))
    assert len(store) == 1


def test_a_folder_outlives_its_server_and_holds_no_spoilt_brief(tmp_path) -> None:
    time = Time()
    one, two = entry(time), entry(time)
    store = FolderStore(tmp_path, time)
    store.put(one)
    store.put(two)
    (tmp_path / "briefs" / file_of(two.id)).write_bytes(b"half")
    again = FolderStore(tmp_path, time)
    assert again.get(one.id) is not None
    assert again.get(two.id) is None


def test_a_folder_sweeps_the_oldest_beyond_its_bound_and_what_is_over_a_day_old(tmp_path) -> None:
    time = Time()
    store = FolderStore(tmp_path, time, most_bytes=3000)
    for _ in range(8):
        time.now += 1
        one = entry(time, 700)
        store.put(one)
    store.sweep()
    left = list((tmp_path / "briefs").iterdir())
    assert 0 < sum(path.stat().st_size for path in left) <= 3000
    assert (tmp_path / "briefs" / file_of(one.id)).exists()
    time.now += KEPT_S
    store.sweep()
    assert list((tmp_path / "briefs").iterdir()) == []


def test_many_threads_may_put_and_get_at_once(kept) -> None:
    time, store = kept
    faults = []

    def work() -> None:
        for _ in range(50):
            one = entry(time)
            store.put(one)
            if store.get(one.id) is None:
                faults.append(one.id)

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []


def test_the_limit_counts_a_sliding_minute_for_each_address() -> None:
    time = Time()
    limit = RateLimit(2, time)
    assert limit.wait_s("192.0.2.1") == 0
    time.now += 30
    assert limit.wait_s("192.0.2.1") == 0
    assert limit.wait_s("192.0.2.1") == pytest.approx(30)
    assert limit.wait_s("192.0.2.2") == 0
    time.now += 30
    assert limit.wait_s("192.0.2.1") == 0
    assert limit.wait_s("192.0.2.1") == pytest.approx(30)


def test_the_hosts_of_one_ipv6_network_count_as_one() -> None:
    limit = RateLimit(1, Time())
    assert limit.wait_s("2001:db8::1") == 0
    assert limit.wait_s("2001:db8::ffff:2") > 0
    assert limit.wait_s("2001:db8:0:1::1") == 0


def test_no_limit_counts_nobody_and_many_addresses_do_not_pile_up() -> None:
    assert [RateLimit(0, Time()).wait_s("192.0.2.1") for _ in range(3)] == [0, 0, 0]
    limit = RateLimit(1, Time())
    for number in range(MOST_ADDRESSES + 500):
        limit.wait_s(f"10.{number >> 16}.{number >> 8 & 255}.{number & 255}")
    assert len(limit._seen) == MOST_ADDRESSES


def test_what_is_replaced_stays_the_share_of_whoever_put_it_first_also_after_a_restart(tmp_path) -> None:
    time = Time()
    first = FolderBytes(tmp_path, time, 10_000, b"ours 1 ")
    first.put("a" * 22, time.now, b"what was kept first", owner="somebody")
    path = next(tmp_path.glob("*.z"))
    whose = path.read_bytes().partition(b"\n")[0]
    # put again by the server itself, after a restart that swept the folder
    again = FolderBytes(tmp_path, time, 10_000, b"ours 1 ")
    again.put("a" * 22, time.now, b"what came after", owner="")
    assert path.read_bytes() == whose + b"\nwhat came after"
