"""A rule's condition as a tree in plain text: each part yes, no or not known, by phase and case, with its values."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from advisor.brief.trial import ConditionPart, InPhase, Trial
from advisor.quantities import FLAG, QUANTITIES

_SIGNS = {"yes": "y", "no": "n", "not known": "?"}
LEGEND = "y yes, n no, ? not known; a sign for each case:"


def tree(trial: Trial) -> list[str]:
    """Lines for a terminal, without the legend."""
    if trial.why_not:
        return [f"  {trial.why_not}"]
    phases = [("", phase) for phase in trial.phases] + [("must where: ", phase) for phase in trial.must]
    return [line for title, phase in phases for line in _phase(phase, title)]


def legend(cases: Sequence[str]) -> list[str]:
    """What the signs mean, and which case is which."""
    return [f"  {LEGEND}", *(f"    {at} {name}" for at, name in enumerate(cases, 1))] if cases else []


def cases_of(trial: Trial) -> tuple[str, ...]:
    """The names of the cases, in the order of the signs."""
    phase = next((one for one in trial.phases if one.parts), None)
    return () if phase is None else tuple(one.case for one in phase.parts[0].cases)


def _phase(phase: InPhase, title: str) -> Iterator[str]:
    name = phase.phase.replace("walk_round", "walk-round").replace("take_off", "take-off").replace("_", " ")
    span = f"{phase.from_[11:16]}Z to {phase.until[11:16]}Z"
    if phase.passed:
        yield f"  {title}{name}, {span}: has passed"
        return
    whole = [one.answer for one in phase.parts[0].cases]
    counts = ", ".join(f"{answer} in {whole.count(answer)}" for answer in _SIGNS if answer in whole)
    yield f"  {title}{name}, {span}: {counts} of {len(whole)} cases"
    rows = [(f"{mark}{part.asks}", part) for mark, part in zip(_marks(phase.parts), phase.parts, strict=True)]
    width = min(max(len(text) for text, _ in rows), 60)
    for text, part in rows:
        signs = "".join(_SIGNS[one.answer] for one in part.cases)
        yield f"    {text:<{width}}  {signs}  {_values(part)}".rstrip()


def _marks(parts: Sequence[ConditionPart]) -> Iterator[str]:
    """The branches in front of each part."""
    open_: list[bool] = []
    for part in parts:
        if part.depth == 0:
            yield ""
            continue
        del open_[part.depth - 1 :]
        yield "".join("│  " if more else "   " for more in open_) + ("└─ " if part.last else "├─ ")
        open_.append(not part.last)


def _values(part: ConditionPart) -> str:
    """The values behind a part over the cases: one, or the lowest and the highest, or words."""
    quantity = next((name for name in QUANTITIES if name in part.asks.split()), "")
    if not quantity or QUANTITIES[quantity].kind == FLAG:
        return ""
    known = [one.value for one in part.cases if one.value is not None]
    if not known:
        return "not known"
    if isinstance(known[0], str):
        text = ", ".join(dict.fromkeys(str(value) for value in known))
    else:
        low, high = min(known), max(known)
        text = _plain(low, quantity) if low == high else f"{_plain(low, quantity)} to {_plain(high, quantity)}"
        text = f"{text} {part.unit}".rstrip()
    return text if len(known) == len(part.cases) else f"{text}, else not known"


def _plain(value: object, quantity: str) -> str:
    return f"{value:.{QUANTITIES[quantity].decimals}f}".replace("-", "−")
