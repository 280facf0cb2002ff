"""Evaluates rules over conditions: yes, no or unknown a case, then a status from all cases, and why."""

from __future__ import annotations

from collections.abc import Iterable
from math import nan

import msgspec
import numpy as np
from numpy.typing import NDArray

from advisor.checklist.language.condition import Bools, evaluate_many
from advisor.checklist.language.nodes import Evaluator, Pair
from advisor.checklist.rules import Rule
from advisor.conditions import UNKNOWN, Conditions, Windows
from advisor.quantities import QUANTITIES

EXPECTED, LIKELY, POSSIBLE, CANNOT_TELL, NOT_INDICATED = (
    "expected",
    "likely",
    "possible",
    "cannot tell",
    "not indicated",
)
STATUSES = (EXPECTED, LIKELY, POSSIBLE, CANNOT_TELL, NOT_INDICATED)
# a line that some case at least says yes to
TOLD = (EXPECTED, LIKELY, POSSIBLE)
# earlier than any time, so that a phase shows its own end
_BEFORE_ALL = -(2**62)


class Finding(msgspec.Struct, frozen=True):
    """What became of one rule.

    status: expected where every case says yes, likely where the central one does, which no temporary or probable group
    is part of, possible where some other does. rule: as it holds for the class; case, time: indices of the deciding
    case and time, -1 where not indicated; phase: the phase of that time; from_s, until_s: first and last time at which
    any case says yes (or, where it cannot be told, is unknown), NaN where none; missing: unknown quantities that
    decide; passed: every window of the rule lies before now.
    """

    rule: Rule
    status: str
    case: int = -1
    time: int = -1
    phase: str = ""
    from_s: float = nan
    until_s: float = nan
    missing: tuple[str, ...] = ()
    passed: bool = False


class Decided(msgspec.Struct, frozen=True):
    """One comparison that decided: its quantity over the cases at the deciding time.

    low, central, high: NaN where not known; a flag is 0 or 1, a code its position. test: as people read it.
    at: seconds since 1970 UTC.
    """

    quantity: str
    unit: str
    low: float
    central: float
    high: float
    test: str
    at: float


class _Span(msgspec.Struct, frozen=True):
    """The times of one rule's phases: a mask, whether any lies ahead, and whether the grid covers them all."""

    mask: Bools
    ahead: bool
    covered: bool
    phases: tuple[tuple[str, int, int], ...]


class Answers(msgspec.Struct, frozen=True):
    """What the rules of a class say over conditions, whatever the windows: rules, and (yes, no) for each."""

    rules: tuple[Rule, ...]
    pairs: tuple[tuple[Bools, Bools], ...]


def answers(
    rules: Iterable[Rule], conditions: Conditions, class_id: str, evaluator: Evaluator | None = None
) -> Answers:
    """Yes, no or unknown of every rule that holds for the class, at each time in each case.

    evaluator: of the conditions, where what it finds is asked for again.
    """
    held = [rule for rule in (rule.for_class(class_id) for rule in rules) if rule is not None]
    pairs = evaluate_many([rule.condition for rule in held], conditions.columns, conditions.shape, evaluator)
    return Answers(tuple(held), tuple(pairs))


def evaluate(rules: Iterable[Rule], conditions: Conditions, windows: Windows, now: int, class_id: str) -> list[Finding]:
    """One finding for every rule that holds for the class, in order.

    rules: of a checklist; conditions: derived; now: seconds since 1970 UTC, what lies before it counts for nothing.
    Within a case a rule is yes if yes at any time of its windows, else unknown if unknown at any, else no. A window
    that the grid of times does not cover is unknown outside it.
    """
    return findings(answers(rules, conditions, class_id), conditions, windows, now)


def findings(answered: Answers, conditions: Conditions, windows: Windows, now: int) -> list[Finding]:
    """The same from answers that are there already. conditions: those that they are of."""
    spans: dict[tuple[str, ...], _Span] = {
        during: _span(during, conditions.unix_s, windows, now)
        for during in dict.fromkeys(rule.during for rule in answered.rules)
    }
    found_all = []
    for rule, pair, ever in zip(answered.rules, answered.pairs, _ever_all(answered, spans), strict=True):
        span = spans[rule.during]
        finding = _finding(rule, pair, ever, span, conditions)
        raised = rule.raised
        if raised is not None and finding.status in TOLD:
            pair = raised.condition.evaluate(conditions.columns, conditions.shape)
            graver = _finding(raised, pair, _ever(*pair, span.mask), span, conditions)
            if graver.status in TOLD:
                # how sure the line is stays, how much it weighs does not; what is graver in some cases only is no
                # reason of a line that holds in every one
                if graver.status == finding.status or rule.condition.always:
                    finding = msgspec.structs.replace(
                        graver, status=finding.status, from_s=finding.from_s, until_s=finding.until_s
                    )
                else:
                    finding = msgspec.structs.replace(finding, rule=msgspec.structs.replace(raised, when=rule.when))
        found_all.append(finding)
    return found_all


def _ever(yes: Bools, no: Bools, mask: Bools) -> Pair:
    """Whether it is yes, and whether it is unknown, at any time of a mask; (…, case) of (…, case, time)."""
    return np.any(yes & mask, axis=-1), np.any(~(yes | no) & mask, axis=-1)


def _ever_all(answered: Answers, spans: dict[tuple[str, ...], _Span]) -> list[Pair]:
    """The same of each rule in its windows, all rules of the same windows at once."""
    pairs: list[Pair] = [None] * len(answered.rules)  # type: ignore[list-item]
    for during, span in spans.items():
        which = [at for at, rule in enumerate(answered.rules) if rule.during == during]
        yes, no = (np.stack([answered.pairs[at][side] for at in which]) for side in (0, 1))
        for at, ever_yes, ever_unknown in zip(which, *_ever(yes, no, span.mask), strict=True):
            pairs[at] = ever_yes, ever_unknown
    return pairs


def each_time(answered: Answers) -> NDArray[np.int8]:
    """What becomes of every rule at each time by itself, whatever its windows: positions in STATUSES, (rule, time).

    The first case is the central one, without temporary or probable groups.
    """
    size = answered.pairs[0][0].shape[1] if answered.pairs else 0
    statuses = np.empty((len(answered.pairs), size), dtype=np.int8)
    for row, (yes, no) in enumerate(answered.pairs):
        known = (yes | no).all(axis=0).view(np.int8)
        some = yes.any(axis=0).view(np.int8)
        # positions in STATUSES, by arithmetic on bytes: cannot tell 3, one more where all is known; possible 2 where
        # any case says yes, one less where the central one does, and one less again where every case does
        np.subtract(np.int8(3) + known, some * (np.int8(1) + known), out=statuses[row])
        statuses[row] -= yes[0].view(np.int8) + yes.all(axis=0).view(np.int8)
    return statuses


def _span(during: tuple[str, ...], unix_s: NDArray[np.float64], windows: Windows, now: int) -> _Span:
    mask = np.zeros(unix_s.shape, dtype=np.bool_)
    kept, covered = [], True
    for name in during:
        if windows.phase(name, _BEFORE_ALL)[1] < now:
            continue
        start, end = windows.phase(name, now)
        kept.append((name, start, end))
        mask |= (unix_s >= start) & (unix_s <= end)
        covered &= bool(unix_s.size and unix_s[0] <= start and unix_s[-1] >= end)
    return _Span(mask, bool(kept), covered, tuple(kept))


def _finding(rule: Rule, pair: Pair, ever: Pair, span: _Span, conditions: Conditions) -> Finding:
    """What became of a rule. ever: in which cases it is yes, and unknown, at any time of the span, each (case,)."""
    if not span.ahead:
        return Finding(rule, NOT_INDICATED, passed=True)
    unix_s = conditions.unix_s
    by_case, unknown_by_case = ever
    if by_case.any():
        yes_in = pair[0] & span.mask
        # the central case where it says yes, else the one that says so first
        case = 0 if by_case[0] else int(np.where(by_case, yes_in.argmax(axis=1), yes_in.shape[1]).argmin())
        status = EXPECTED if by_case.all() else LIKELY if by_case[0] else POSSIBLE
        missing: tuple[str, ...] = ()
    else:
        if rule.condition.always:
            name, start, end = span.phases[0]
            return Finding(rule, EXPECTED, 0, 0, name, float(start), float(end))
        by_case = unknown_by_case
        if not by_case.any():
            if span.covered:
                return Finding(rule, NOT_INDICATED)
            return Finding(rule, CANNOT_TELL, phase=span.phases[0][0], missing=rule.condition.quantities)
        yes_in = ~(pair[0] | pair[1]) & span.mask
        case = 0 if by_case[0] else int(by_case.argmax())
        status = CANNOT_TELL
        first = int(yes_in[case].argmax())
        readings = rule.condition.reasons(conditions.columns, case, first)
        missing = tuple(dict.fromkeys(one.quantity for one in readings if one.truth == UNKNOWN))
    time = int(yes_in[case].argmax())
    times = np.flatnonzero(yes_in.any(axis=0))
    at = float(unix_s[time])
    phase = next((name for name, start, end in span.phases if start <= at <= end), "")
    return Finding(rule, status, case, time, phase, float(unix_s[times[0]]), float(unix_s[times[-1]]), missing)


def explain(rule: Rule, conditions: Conditions, finding: Finding) -> list[Decided]:
    """The comparisons that decided a finding, with each quantity's band over the cases at the deciding time.

    rule: as it stands in the finding. Empty where nothing was compared: "always", not indicated, no time covered.
    """
    if finding.case < 0 or rule.condition.always:
        return []
    moment_s = float(conditions.unix_s[finding.time])
    decided = []
    for reading in rule.condition.reasons(conditions.columns, finding.case, finding.time):
        low, central, high = band(conditions, reading.quantity, finding.time)
        decided.append(
            Decided(reading.quantity, QUANTITIES[reading.quantity].unit, low, central, high, reading.test, moment_s)
        )
    return decided


def band(conditions: Conditions, quantity: str, time: int) -> tuple[float, float, float]:
    """Low, central and high value of a quantity over the cases at one time; NaN where not known."""
    column = conditions.columns.get(quantity)
    if column is None:
        return nan, nan, nan
    values = np.broadcast_to(column, conditions.shape)[:, time].astype(np.float64)
    if np.asarray(column).dtype == np.int8:
        values[values < 0] = nan
    known = values[~np.isnan(values)]
    if not known.size:
        return nan, nan, nan
    return float(known.min()), float(values[0]), float(known.max())
