"""What came of the advice: how often each rule's lines were found, not found or not looked at. Pure."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from math import sqrt
from typing import Any

import msgspec

from advisor.record.walk import NOTHING, Walk, checkpoints

# two-sided 95 %
Z95 = 1.959963984540054
STATUSES = ("expected", "likely", "possible", "cannot tell")
# of a status, before a reliability is drawn
ENOUGH = 50
TREATED = "de-icing-request"
_CONTAMINATION = ("frost", "snow", "ice")


class Share(msgspec.Struct, frozen=True):
    """A share of so many, with its interval at 95 %; None where there were none."""

    count: int
    of: int
    central: float | None
    low: float | None
    high: float | None


class Count(msgspec.Struct, frozen=True):
    """Lines of one rule, or of one status of it. share: found, of those looked at."""

    status: str
    advised: int
    found: int
    not_found: int
    not_looked_at: int
    share: Share


class RuleOutcome(msgspec.Struct, frozen=True):
    """One rule. missed: walks on which its zone's contamination was found though it had not been advised."""

    id: str
    advised: int
    found: int
    not_found: int
    not_looked_at: int
    missed: int
    share: Share
    missed_share: Share
    by_status: tuple[Count, ...]


class Missed(msgspec.Struct, frozen=True):
    """What was found where no line of the brief had asked to look."""

    zone: str
    found: str
    count: int


class OutcomeCounts(msgspec.Struct, frozen=True):
    """The same counts over all rules, for one month or station."""

    name: str
    walks: int
    advised: int
    found: int
    not_found: int
    not_looked_at: int
    missed: int
    share: Share


class Outcomes(msgspec.Struct, frozen=True, kw_only=True):
    """What came of it. reliability: over all rules by status; drawn only where enough were looked at."""

    schema: str = "outcomes/1"
    walks: int
    signed: int
    first: str | None
    last: str | None
    rules: tuple[RuleOutcome, ...]
    missed: tuple[Missed, ...]
    by_month: tuple[OutcomeCounts, ...]
    by_station: tuple[OutcomeCounts, ...]
    reliability: tuple[Count, ...]
    enough: int = ENOUGH
    invented: bool = False


def wilson(count: int, of: int, z: float = Z95) -> tuple[float, float]:
    """Score interval of a proportion without continuity correction; (0, 1) where there were none.

    Source: Wilson 1927, J. Am. Stat. Assoc. 22, 209-212.
    """
    if of == 0:
        return 0.0, 1.0
    part, square = count / of, z * z
    middle = part + square / (2 * of)
    half = z * sqrt(part * (1 - part) / of + square / (4 * of * of))
    low, high = (middle - half) / (1 + square / of), (middle + half) / (1 + square / of)
    # at the ends rounding would leave a little where there is none
    return (0.0 if count == 0 else max(0.0, low)), (1.0 if count == of else min(1.0, high))


def share(count: int, of: int) -> Share:
    """A share with its interval."""
    if of == 0:
        return Share(count, of, None, None, None)
    low, high = wilson(count, of)
    return Share(count, of, round(count / of, 4), round(low, 4), round(high, 4))


def outcomes(walks: Iterable[Walk]) -> Outcomes:
    """Counts over walks, in any order."""
    table = _Table()
    for walk in walks:
        table.add(walk)
    return table.result()


def found_at(walk: Walk, line: dict[str, Any]) -> str:
    """What became of a line: "found", "not_found" or "not_looked_at"."""
    if line["id"] == TREATED and line["id"] not in walk.lines:
        if set(walk.seen) & set(_CONTAMINATION) or walk.last("finished", "checked") is not None:
            return "found"
        return "not_found" if walk.signed is not None and (walk.lines or walk.zones) else "not_looked_at"
    seen = walk.lines.get(line["id"])
    if seen is None and line["zone"]:
        seen = walk.zones.get(line["zone"])
    if seen is None:
        return "not_looked_at"
    return "found" if _ever(seen.found, seen.earlier) else "not_found"


def _ever(found: str, earlier: tuple[str, ...]) -> bool:
    # what was found, and then was gone, was there
    return any(one != NOTHING for one in (found, *earlier))


class _Table:
    def __init__(self) -> None:
        self.counts: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
        self.groups: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
        self.missed: Counter[tuple[str, str]] = Counter()
        self.zone_of: dict[str, str] = {}
        # of each walk that missed something: zones where it did, and the rules it was advised
        self.misses: list[tuple[set[str], set[str]]] = []
        self.walks, self.signed, self.invented = 0, 0, False
        self.days: list[str] = []

    def add(self, walk: Walk) -> None:
        self.walks += 1
        self.signed += walk.signed is not None
        self.invented |= bool(walk.opened.get("invented"))
        self.days.append(walk.opened_at)
        groups = [self.groups["month", walk.opened_at[:7]], self.groups["station", walk.opened.get("station") or "?"]]
        for group in groups:
            group["walks"] += 1
        asked = [line for line in walk.opened.get("lines", ()) if line["id"] == TREATED or line["id"] in walk.lines]
        asked += [line for line in checkpoints(walk.opened) if line not in asked]
        for line in asked:
            what = found_at(walk, line)
            if line["zone"]:
                self.zone_of[line["id"]] = line["zone"]
            for counter in (self.counts[line["id"], line["status"]], *groups):
                counter["advised"] += 1
                counter[what] += 1
        self._missed(walk, asked, groups)

    def _missed(self, walk: Walk, asked: list[dict[str, Any]], groups: list[Counter[str]]) -> None:
        told = {line["zone"] for line in asked if line["zone"]}
        zones = {zone: one for zone, one in walk.zones.items() if zone not in told and _ever(one.found, one.earlier)}
        for zone, one in zones.items():
            last = next(kind for kind in (one.found, *reversed(one.earlier)) if kind != NOTHING)
            self.missed[zone, last] += 1
            for group in groups:
                group["missed"] += 1
        if zones:
            self.misses.append((set(zones), {line["id"] for line in walk.opened.get("lines", ())}))

    def result(self) -> Outcomes:
        rules = []
        for rule in sorted({rule for rule, _ in self.counts}):
            parts = tuple(
                _count(status, self.counts[rule, status]) for status in STATUSES if (rule, status) in self.counts
            )
            every = sum((self.counts[rule, part.status] for part in parts), Counter())
            zone = self.zone_of.get(rule)
            missed = sum(zone in zones and rule not in advised for zones, advised in self.misses) if zone else 0
            whole = _count("", every)
            rules.append(
                RuleOutcome(
                    rule,
                    whole.advised,
                    whole.found,
                    whole.not_found,
                    whole.not_looked_at,
                    missed,
                    whole.share,
                    share(missed, missed + whole.found),
                    parts,
                )
            )
        reliability = []
        for status in STATUSES:
            kept = [counter for (rule, of), counter in self.counts.items() if of == status and rule != TREATED]
            reliability.append(_count(status, sum(kept, Counter())))
        return Outcomes(
            walks=self.walks,
            signed=self.signed,
            first=min(self.days, default=None),
            last=max(self.days, default=None),
            rules=tuple(rules),
            missed=tuple(Missed(*key, count) for key, count in sorted(self.missed.items())),
            by_month=self._grouped("month"),
            by_station=self._grouped("station"),
            reliability=tuple(reliability),
            invented=self.invented,
        )

    def _grouped(self, kind: str) -> tuple[OutcomeCounts, ...]:
        groups = []
        for (of, name), counter in sorted(self.groups.items()):
            if of == kind:
                counts = _count("", counter)
                groups.append(
                    OutcomeCounts(
                        name,
                        counter["walks"],
                        counts.advised,
                        counts.found,
                        counts.not_found,
                        counts.not_looked_at,
                        counter["missed"],
                        counts.share,
                    )
                )
        return tuple(groups)


def _count(status: str, counter: Counter[str]) -> Count:
    found, gone = counter["found"], counter["not_found"]
    return Count(status, counter["advised"], found, gone, counter["not_looked_at"], share(found, found + gone))
