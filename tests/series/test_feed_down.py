"""A feed that is down: the last good answer stands in, and the brief says so. The source is a server of the test."""

from __future__ import annotations

import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from advisor import advise
from advisor.errors import FeedError
from advisor.feeds.file import texts_from_feed
from advisor.render.text import render

sys.path.insert(0, str(Path(__file__).parents[1] / "report"))
from feed_source import Source, ok

NOW = datetime(2027, 1, 10, 5, 25, tzinfo=UTC)
ANSWER = (
    "METAR ZZZA 100420Z 36008KT 2000 SN OVC010 M03/M04 Q1004\n"
    "METAR ZZZA 100520Z 36008KT 2000 SN OVC010 M03/M04 Q1003\n"
    "TAF ZZZA 100500Z 1005/1106 36008KT 2000 SN OVC010\n"
)


def kept(tmp_path, body=ANSWER, now=NOW):
    """A feeds.toml whose source answered once and is gone: nothing listens at its address any more."""
    source = Source(ok(body))
    (tmp_path / "feeds.toml").write_text(
        f'[[feed]]\nname = "own"\nurl = "{source.origin}/{{station}}.txt"\ntimeout_s = 2\nretries = 1\n',
        encoding="utf-8",
    )
    if body is not None:
        ask(tmp_path, now)
    source.close()


def ask(tmp_path, now):
    return texts_from_feed(
        "ZZZA",
        "own",
        checklist_folder=tmp_path,
        now=now,
        ticks=time.monotonic,
        sleep=lambda seconds: None,
        cache_dir=tmp_path / "cache",
        user_folder=tmp_path / "none",
    )


def brief(texts, notes, now):
    return advise(texts, now=now, off_block=now + timedelta(minutes=75), place="61.4,9.8", notes=notes)


def test_the_kept_answer_gives_the_brief_that_it_would_give_and_says_that_the_source_is_down(tmp_path):
    kept(tmp_path)
    later = NOW + timedelta(minutes=40)
    texts, notes = ask(tmp_path, later)
    made = brief(texts, notes, later)
    assert made.advice == brief(ANSWER, (), later).advice
    assert {line.id: line.status for line in made.advice}["de-icing-request"] == "expected"
    said = next(note for note in made.notes if note.startswith("feed own"))
    assert "source down" in said and "answer of 0525Z, 40 min old, is used" in said
    # at the top, before anything that is asked for
    text = " ".join(render(made).split())
    assert 0 < text.index("source down") < text.index("ASK FOR")


def test_what_a_kept_answer_does_not_say_any_more_is_doubt(tmp_path):
    kept(tmp_path, "METAR ZZZA 100520Z 24008KT 9999 OVC030 M02/M08 Q1008\n")
    later = NOW + timedelta(hours=4)
    made = brief(*ask(tmp_path, later), later)
    told = {line.id: line.status for line in made.advice}
    # dry four hours ago: whether it snows now is not known, and nothing says that it does not
    assert told["fuselage-snow"] == "cannot tell"
    assert any("4 h 05 min old: get a newer one" in note for note in made.notes)


def test_without_a_kept_answer_one_line_says_what_to_do(tmp_path):
    kept(tmp_path)
    for file in (tmp_path / "cache").rglob("*"):
        if file.is_file():
            file.unlink()
    with pytest.raises(FeedError) as met:
        ask(tmp_path, NOW)
    assert "source down" in str(met.value) and "--report TEXT" in str(met.value) and "\n" not in str(met.value)


def test_an_answer_of_yesterday_is_too_old_to_stand_in(tmp_path):
    kept(tmp_path)
    with pytest.raises(FeedError, match="too old"):
        ask(tmp_path, NOW + timedelta(hours=25))
