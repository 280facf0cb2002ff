"""feeds.toml: where it is looked for, its faults with line and column, and the texts that a named feed has."""

import sys
import threading
import time
from datetime import timedelta
from pathlib import Path

import pytest
from feed_source import NOW, REPORT, ok, status

from advisor.errors import AdvisorError, ChecklistError, DepartureError, FeedError
from advisor.feeds import store as feed_store
from advisor.feeds.file import cache_folder, load_feeds, texts_from_feed, user_folder

GOOD = '[[feed]]\nname = "{name}"\nurl = "https://feed.example.test/{{station}}"\n'


def write(folder, text):
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "feeds.toml").write_text(text, encoding="utf-8")
    return folder


def test_the_checklist_folder_comes_before_the_users_own(tmp_path):
    own = write(tmp_path / "own", GOOD.format(name="mine"))
    folder = write(tmp_path / "list", GOOD.format(name="theirs"))
    empty = tmp_path / "empty"
    empty.mkdir()
    assert list(load_feeds(folder, own)) == ["theirs"]
    assert list(load_feeds(empty, own)) == ["mine"]
    assert list(load_feeds(None, own)) == ["mine"]
    assert load_feeds(empty, empty) == {}
    assert load_feeds(None, tmp_path / "none") == {}


def test_an_empty_file_in_the_checklist_folder_means_no_feed(tmp_path):
    own = write(tmp_path / "own", GOOD.format(name="mine"))
    assert load_feeds(write(tmp_path / "list", ""), own) == {}


def test_what_is_left_out_takes_the_documented_value(tmp_path):
    feed = load_feeds(None, write(tmp_path, GOOD.format(name="a")))["a"]
    assert (feed.format, feed.path, feed.timeout_s, feed.retries, feed.max_bytes) == ("text", None, 10.0, 2, 1_000_000)
    assert (feed.allow_private, feed.headers, feed.ca_file) == (False, {}, None)


def test_every_field_is_read_and_a_file_of_certificates_stands_beside_the_file(tmp_path):
    more = (
        'format = "json"\npath = "a[*].b"\ntimeout_s = 3\nretries = 0\nmax_bytes = 5000\nallow_private = true\n'
        'ca_file = "own.pem"\nheaders = { X-Key = "k" }\n'
    )
    feed = load_feeds(None, write(tmp_path, GOOD.format(name="a") + more))["a"]
    assert (feed.format, feed.path, feed.timeout_s, feed.retries, feed.max_bytes) == ("json", "a[*].b", 3.0, 0, 5000)
    assert (feed.allow_private, feed.headers, feed.ca_file) == (True, {"X-Key": "k"}, str(tmp_path / "own.pem"))


URL = 'url = "https://feed.example.test/{station}"'


# line and column counted by hand: line 1 is [[feed]], line 2 the name, line 3 the url, line 4 what follows
@pytest.mark.parametrize(
    ("name", "url", "more", "fault"),
    [
        ('"A b"', URL, "", "2:8: feed.A b.name: 'A b' cannot stand here; needs 1 to 40 small letters"),
        ('"a"', 'url = "https://h/x"', "", "3:7: feed.a.url: {station} is missing; write it as in"),
        ('"a"', 'url = "https://h/x#{station}"', "", "3:7: feed.a.url: {station} is missing"),
        ('"a"', 'url = "https://{station}.h/x"', "", "3:7: feed.a.url: {station} stands before the path"),
        ('"a"', 'url = "https://{station}@h/{station}"', "", "3:7: feed.a.url: {station} stands before the path"),
        ('"a"', 'url = "ftp://h/{station}"', "", "3:7: feed.a.url: is neither http nor https"),
        ('"a"', 'url = "file:///{station}"', "", "3:7: feed.a.url: is neither http nor https"),
        ('"a"', 'url = "https://h/{place}/{station}"', "", "3:7: feed.a.url: holds signs that no URL holds"),
        ('"a"', 'url = "https://h/ä{station}"', "", "3:7: feed.a.url: holds signs that no URL holds"),
        ('"a"', "url = 5", "", "3:7: feed.a.url: 5 cannot stand here; needs text"),
        ('"a"', URL, 'format = "xml"', "4:10: feed.a.format: 'xml' cannot stand here; one of text, json, iwxxm"),
        ('"a"', URL, 'format = "json"', "feed.a.path: missing; say where the reports stand"),
        ('"a"', URL, 'path = "x"', "4:8: feed.a.path: cannot stand with format text; leave it out"),
        ('"a"', URL, 'format = "json"\npath = "a..b"', "5:8: feed.a.path: cannot be read from character 2 on"),
        (
            '"a"',
            URL,
            "timeout_s = 0",
            "4:13: feed.a.timeout_s: 0 cannot stand here; needs a number of seconds from 0.1",
        ),
        ('"a"', URL, "timeout_s = nan", "4:13: feed.a.timeout_s: nan cannot stand here"),
        ('"a"', URL, "retries = 6", "4:11: feed.a.retries: 6 cannot stand here; needs a whole number from 0 to 5"),
        ('"a"', URL, "max_bytes = -1", "4:13: feed.a.max_bytes: -1 cannot stand here"),
        ('"a"', URL, "allow_private = 1", "4:17: feed.a.allow_private: 1 cannot stand here; needs true or false"),
        ('"a"', URL, "timeout = 5", "4:1: feed.a.timeout: unknown field"),
        ('"a"', URL, 'headers = { Host = "x" }', "feed.a.headers.Host: cannot be set"),
        ('"a"', URL, 'headers = { "a b" = "x" }', "feed.a.headers.a b: cannot be set"),
        ('"a"', URL, 'headers = { X-Key = "a\\r\\nb" }', "feed.a.headers.X-Key: its value cannot be sent"),
        ('"a"', URL, f'[[feed]]\nname = "a"\n{URL}', "5:8: feed.a.name: a second feed 'a'; choose another name"),
        ('"a"', URL, "[[feed]", ":4:7: file: not TOML: expected ']]'"),
    ],
)
def test_a_fault_names_file_line_column_and_field(tmp_path, name, url, more, fault):
    write(tmp_path, f"[[feed]]\nname = {name}\n{url}\n{more}\n")
    with pytest.raises(ChecklistError) as met:
        load_feeds(None, tmp_path)
    assert met.value.exit_code == 4
    assert any(line.startswith(str(tmp_path / "feeds.toml:")) and fault in line for line in met.value.faults), met.value


def test_every_fault_is_said_in_one_run(tmp_path):
    first = '[[feed]]\nname = "a"\nurl = "x"\npath = "y"\n'
    write(tmp_path, first + '[[feed]]\nname = "a"\nurl = "http://h/{station}"\nformat = "json"\n')
    with pytest.raises(ChecklistError) as met:
        load_feeds(None, tmp_path)
    assert len(met.value.faults) == 4


def test_no_fault_repeats_a_url_or_a_header(tmp_path):
    write(tmp_path, '[[feed]]\nname = "a"\nurl = "https://u:s3cr3t@h/x"\nheaders = { X = "s3cr3t\\u0007" }\n')
    with pytest.raises(ChecklistError) as met:
        load_feeds(None, tmp_path)
    assert len(met.value.faults) == 2
    assert "s3cr3t" not in str(met.value)


def test_a_link_that_leads_nowhere_is_a_fault_and_not_no_feed(tmp_path):
    (tmp_path / "feeds.toml").symlink_to(tmp_path / "gone.toml")
    with pytest.raises(ChecklistError, match="cannot be read"):
        load_feeds(None, tmp_path)


def test_folders_follow_the_base_directory_specification():
    # XDG base directory specification 0.8: a path that is not absolute is to be ignored
    assert user_folder({"XDG_CONFIG_HOME": "/c"}) == Path("/c/advisor")
    assert cache_folder({"XDG_CACHE_HOME": "/k"}) == Path("/k/advisor")
    if sys.platform != "win32":
        for environ in ({}, {"XDG_CONFIG_HOME": "c", "XDG_CACHE_HOME": ""}):
            assert user_folder(environ) == Path.home() / ".config" / "advisor"
            assert cache_folder(environ) == Path.home() / ".cache" / "advisor"


@pytest.mark.skipif(sys.platform == "win32", reason="other folders on Windows")
def test_a_relative_folder_in_the_environment_itself_is_ignored_and_none_is_made(tmp_path, monkeypatch):
    # XDG base directory specification 0.8
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CONFIG_HOME", "c")
    monkeypatch.setenv("XDG_CACHE_HOME", "c")
    assert user_folder() == tmp_path / ".config" / "advisor"
    assert cache_folder() == tmp_path / ".cache" / "advisor"
    assert list(tmp_path.iterdir()) == []


@pytest.fixture
def texts(tmp_path):
    def call(station, name, *, now=NOW, folder=tmp_path):
        return texts_from_feed(
            station,
            name,
            checklist_folder=folder,
            now=now,
            ticks=time.monotonic,
            sleep=lambda _: None,
            cache_dir=tmp_path / "cache",
            user_folder=tmp_path / "none",
        )

    return call


def test_a_named_feed_gives_texts_and_then_the_last_good_ones_with_a_note(serve, texts, tmp_path):
    source = serve(ok(f"{REPORT}="), status(503))
    write(tmp_path, f'[[feed]]\nname = "own"\nurl = "{source.origin}/{{station}}"\n')
    assert texts("zzza", "own") == ((REPORT,), ())
    note = "feed own: source down (answered 503). The answer of 0600Z, 42 min old, is used."
    assert texts("ZZZA", None, now=NOW + timedelta(minutes=42)) == ((REPORT,), (note,))


def test_a_feed_that_fails_is_error_6_and_says_what_else_to_do(serve, texts, tmp_path):
    source = serve(status(404))
    write(tmp_path, f'[[feed]]\nname = "own"\nurl = "{source.origin}/{{station}}"\n')
    with pytest.raises(FeedError, match=r"feed own: nothing usable \(answered 404\).*--report") as met:
        texts("ZZZA", "own")
    assert met.value.exit_code == 6


@pytest.mark.parametrize(
    ("station", "name", "error", "said"),
    [
        ("ZZZA", "other", AdvisorError, "'other' is not known; give one of one, two"),
        ("ZZZA", None, AdvisorError, "--feed: missing; give one of one, two"),
        ("ZZ", "one", DepartureError, "'ZZ' is no location indicator"),
    ],
)
def test_wrong_names_are_said(texts, tmp_path, station, name, error, said):
    write(tmp_path, GOOD.format(name="two") + GOOD.format(name="one"))
    with pytest.raises(error, match=said):
        texts(station, name)


def test_without_a_file_the_error_says_where_to_put_one(texts, tmp_path):
    with pytest.raises(AdvisorError, match=r"no feed is set up; name one in feeds.toml in .* or .*none"):
        texts("ZZZA", "own")


def test_readers_never_meet_half_an_answer_while_writers_write(tmp_path):
    path = feed_store.place(tmp_path, "own", "ZZZA", "url")
    kept = [
        feed_store.KeptAnswer(feed="own", station="ZZZA", fetched_at=NOW, texts=(letter * 50_000,)) for letter in "ABC"
    ]
    assert feed_store.write(path, kept[0])
    bad, done = [], threading.Event()

    def read():
        while not done.is_set():
            found = feed_store.read(path, "own", "ZZZA")
            if found not in kept:
                bad.append(found)

    def put(one):
        for _ in range(30):
            if not feed_store.write(path, one):
                bad.append(one)

    reader = threading.Thread(target=read)
    writers = [threading.Thread(target=put, args=(one,)) for one in kept]
    for thread in (reader, *writers):
        thread.start()
    for thread in writers:
        thread.join()
    done.set()
    reader.join()
    assert bad == []
    assert [one.name for one in path.parent.iterdir()] == ["ZZZA.json"]
