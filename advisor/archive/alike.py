"""Whether a brief of a report, with the reports before it, changes between two checklists as the replay says."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import msgspec
import numpy as np

from advisor.archive.changes import KINDS, SHOWN, Candidate, Changes, kinds
from advisor.brief.advise import advise
from advisor.checklist.evaluate import NOT_INDICATED, STATUSES
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist
from advisor.conditions import Place
from advisor.departure import rfc3339
from advisor.errors import AdvisorError, DepartureError


class Shown(msgspec.Struct, frozen=True):
    """A report to open: a brief of it at now for off_block, with the archive's reports before it.

    alike: whether that brief changes in the same way. A brief asks more cases and whole windows, so that some do not.
    """

    change: str
    station: str
    at: str
    raw: str
    now: str
    off_block: str
    alike: bool


class RuleChange(msgspec.Struct, frozen=True):
    """How often one rule is told otherwise: see changes.kinds."""

    id: str
    gained: int
    lost: int
    raised: int
    lowered: int
    untold: int
    told_apart: int
    examples: list[Shown] = []


class Against(msgspec.Struct, frozen=True):
    """What changes from another checklist, by rule; rules that never change are left out."""

    name: str
    revision: str
    fingerprint: str
    rules: list[RuleChange]


class Here:
    """Where places lie, for a brief: a station's own position."""

    def __init__(self, find: Callable[[str], Place | None]) -> None:
        self._find = find

    def look_up(self, indicator: str) -> Place | None:
        """The place of a station, None where it is not known."""
        return self._find(indicator)

    def find(self, text: str) -> Place:
        """The place of a station. Raises DepartureError where it is not known."""
        place = self._find(text)
        if place is None:
            raise DepartureError(f"the position of {text} is not known", where="place")
        return place


def against(
    changes: Changes,
    new: Checklist,
    old: Checklist,
    profile: Profile,
    find: Callable[[str], Place | None],
    *,
    off_block_in_min: float,
) -> Against:
    """What changes from the old checklist to the new one, with up to three reports a rule and kind to open.

    Of the candidates those that a brief answers alike go first.
    """
    rows = []
    for rule, numbers in changes.counts.items():
        shown: list[Shown] = []
        for kind, candidates in changes.candidates.get(rule, {}).items():
            each: list[Shown] = []
            for candidate in candidates:
                if sum(done.alike for done in each) == SHOWN:
                    break
                each.append(_shown(candidate, rule, kind, new, old, profile, find, off_block_in_min))
            shown += sorted(each, key=lambda one: not one.alike)[:SHOWN]
        counts = dict(zip(KINDS, numbers, strict=True))
        rows.append(msgspec.convert({"id": rule, "examples": shown, **counts}, RuleChange))
    return Against(old.name, old.revision, old.fingerprint, rows)


def _shown(
    candidate: Candidate,
    rule: str,
    kind: str,
    new: Checklist,
    old: Checklist,
    profile: Profile,
    find: Callable[[str], Place | None],
    off_block_in_min: float,
) -> Shown:
    now = datetime.fromtimestamp(candidate.at_s, UTC)
    off_block = now + timedelta(minutes=off_block_in_min)
    said = [_status(candidate, rule, checklist, profile, find, now, off_block) for checklist in (new, old)]
    codes = [np.array([STATUSES.index(status)], dtype=np.int8) for status in said]
    changed = int(kinds(*codes)[0])
    alike = changed >= 0 and KINDS[changed] == kind
    return Shown(
        kind,
        candidate.station,
        rfc3339(candidate.at_s),
        candidate.raw,
        rfc3339(candidate.at_s),
        rfc3339(off_block.timestamp()),
        alike,
    )


def _status(
    candidate: Candidate,
    rule: str,
    checklist: Checklist,
    profile: Profile,
    find: Callable[[str], Place | None],
    now: datetime,
    off_block: datetime,
) -> str:
    try:
        brief = advise(
            [*candidate.history, candidate.raw],
            off_block=off_block,
            now=now,
            place=find(candidate.station),
            aircraft=profile.id,
            checklist=checklist,
            fleet={profile.id: profile},
            gazetteer=Here(find),
        )
    except AdvisorError:
        return NOT_INDICATED
    return next((line.status for line in brief.advice if line.id == rule), NOT_INDICATED)
