"""Shared by the tests of the replay: the small archive, and a run of it."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import msgspec

from advisor.archive import result, run
from advisor.archive.places import finder
from advisor.checklist import aircraft, revision
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist

DATA = Path(__file__).parent / "data"


@cache
def shipped() -> tuple[Checklist, Profile]:
    checklist = revision.load()
    return checklist, aircraft.load_profiles()[checklist.default_aircraft]


def asked(*archives: Path, **more: object) -> run.ReplayAsked:
    checklist, profile = shipped()
    given = {"checklist": checklist, "profile": profile, "find": finder(DATA / "places.csv"), "clock": lambda: 0.0}
    return run.ReplayAsked([str(one) for one in archives], **{**given, **more})  # type: ignore[arg-type]


def replayed(*archives: Path, **more: object) -> result.Replay:
    return run.replay(asked(*archives, **more))


def counts(made: result.Replay) -> dict[str, tuple[int, int, int, int]]:
    return {one.id: (one.expected, one.likely, one.possible, one.cannot_tell) for one in made.rules}


def plain(made: result.Replay) -> dict[str, object]:
    return msgspec.to_builtins(made)
