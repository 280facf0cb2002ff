"""A folder's rules tried on situations or on a report of today: what holds, what does not, and why."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, Literal

import msgspec

from advisor.brief.advise import Weighed
from advisor.brief.trial import Trial, trial
from advisor.checklist.desk.situations import FIRES, WrittenSituation
from advisor.checklist.evaluate import CANNOT_TELL, NOT_INDICATED
from advisor.checklist.rules import Rule, Situation
from advisor.errors import AdvisorError
from advisor.render.tree import cases_of, legend, tree

# looks at a departure by the names of a brief's options; raises AdvisorError
Weigher = Callable[[Mapping[str, Any]], Weighed]


class Tried(msgspec.Struct, frozen=True, kw_only=True):
    """One rule in one situation. situation: "fires", "near_miss" or "given"; holds: None where nothing was expected.

    file, line: where the situation is written. error: why it cannot be briefed.
    """

    rule: str
    situation: str
    holds: bool | None
    status: str = ""
    file: str = ""
    line: int = 0
    error: str = ""
    trial: Trial | None = None


class Tries(msgspec.Struct, frozen=True, kw_only=True):
    """All of them. without: the folder's rules that it writes no situation for."""

    schema: Literal["try/1"] = "try/1"
    checklist: str
    revision: str
    fingerprint: str
    tried: tuple[Tried, ...]
    without: tuple[str, ...] = ()

    @property
    def failed(self) -> tuple[Tried, ...]:
        """Those in which a rule does not do what its situation says."""
        return tuple(one for one in self.tried if one.holds is False)


def in_situations(written: Iterable[WrittenSituation], rules: Mapping[str, Rule], weigh: Weigher) -> tuple[Tried, ...]:
    """Each situation briefed, and whether its rule does there what the situation's name says."""
    return tuple(_in_situation(one, rules[one.rule], weigh) for one in written)


def _in_situation(written: WrittenSituation, rule: Rule, weigh: Weigher) -> Tried:
    try:
        rule_trial = trial(rule, weigh(asked_of(written.situation)))
    except AdvisorError as error:
        return Tried(
            rule=written.rule,
            situation=written.name,
            holds=False,
            file=written.file,
            line=written.line,
            error=str(error),
        )
    # what cannot be told is no line that comes up, and no silence either
    fires = rule_trial.status not in (NOT_INDICATED, CANNOT_TELL)
    holds = fires if written.name == FIRES else rule_trial.status == NOT_INDICATED
    return Tried(
        rule=written.rule,
        situation=written.name,
        holds=holds,
        status=rule_trial.status,
        file=written.file,
        line=written.line,
        trial=rule_trial,
    )


def asked_of(situation: Situation) -> dict[str, Any]:
    """A situation by the names of a brief's arguments; reports is a list."""
    asked = {key: value for key, value in msgspec.structs.asdict(situation).items() if value is not None}
    report = asked.pop("report")
    return {"reports": [report] if isinstance(report, str) else list(report), **asked}


def on_report(rules: Iterable[Rule], weighed: Weighed) -> tuple[Tried, ...]:
    """Rules on one departure, nothing expected of them."""
    found = (trial(rule, weighed) for rule in rules)
    return tuple(Tried(rule=one.rule, situation="given", holds=None, status=one.status, trial=one) for one in found)


def as_text(tries: Tries, *, trees: bool) -> str:
    """A line for each, and a tree for those that do not hold. trees: for all."""
    lines: list[str] = []
    explained: tuple[str, ...] = ()
    for tried in tries.tried:
        lines.append(_line(tried))
        if tried.trial is not None and (trees or tried.holds is False):
            lines += tree(tried.trial)
            cases = cases_of(tried.trial)
            if cases != explained:
                lines += legend(cases)
                explained = cases
    if tries.without:
        lines.append(f"no situation of its own: {', '.join(tries.without)}")
    if not tries.tried:
        lines.append("nothing to try: no rule here writes fires or near_miss")
    return "\n".join(lines) + "\n"


def _line(tried: Tried) -> str:
    where = f" ({tried.file}:{tried.line})" if tried.file else ""
    if tried.error:
        return f"{tried.rule}, {tried.situation}: does not hold: {tried.error}{where}"
    lead = f"{tried.rule}, {tried.situation}: {tried.status}"
    if tried.holds is None:
        return lead
    if tried.holds:
        return f"{lead}, as it should be{where}"
    return f"{lead}, but it should {'' if tried.situation == 'fires' else 'not '}come up: does not hold{where}"
