"""The words that a condition may use: every quantity with its unit, range and meaning, found by the trade's own words.

All of it follows from the table of quantities and from the stages of physics.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Sequence
from math import isfinite

import msgspec

from advisor.checklist.rules import Rule
from advisor.errors import AdvisorError
from advisor.quantities import CODE, COLUMNS, FLAG, QUANTITIES, Quantity
from advisor.quantities.said import NOT_AMONG_THEM

WIDTH = 100
_LISTED = "advisor checklist terms lists those there are"


class Term(msgspec.Struct, frozen=True):
    """A quantity as people look it up.

    low, high: the range that a constant may lie in, null where it has none; values: of a code. needs: the inputs it
    follows from in the end; rules: ids of the checklist's rules that test it.
    """

    name: str
    unit: str
    low: float | None
    high: float | None
    meaning: str
    no_value: str
    needs: tuple[str, ...]
    rules: tuple[str, ...]
    also_called: tuple[str, ...]
    kind: str = "number"
    values: tuple[str, ...] = ()


def terms(rules: Iterable[Rule], inputs: Callable[[str], tuple[str, ...]]) -> tuple[Term, ...]:
    """Every quantity, in the order of the table.

    rules: of the checklist, for those that test it; inputs: what a quantity follows from in the end, by physics.
    """
    tested: dict[str, list[str]] = {name: [] for name in QUANTITIES}
    for rule in rules:
        named = dict.fromkeys((*rule.condition.quantities, *_raised(rule)))
        for name in named:
            tested[name].append(rule.id)
    return tuple(_term(row, tested[row.name], inputs(row.name)) for row in QUANTITIES.values())


def _raised(rule: Rule) -> tuple[str, ...]:
    raised = rule.raised
    return () if raised is None else raised.condition.quantities


def _term(row: Quantity, tested: Sequence[str], behind: Sequence[str]) -> Term:
    needs = (_input(name) for name in behind)
    return Term(
        name=row.name,
        unit=row.unit,
        low=row.low if isfinite(row.low) else None,
        high=row.high if isfinite(row.high) else None,
        meaning=row.meaning,
        no_value=row.no_value,
        needs=tuple(dict.fromkeys(needs)),
        rules=tuple(tested),
        also_called=row.also_called,
        kind=row.kind,
        values=row.values,
    )


# inputs as people give them, where the part of a report does not say it
_GIVEN = {
    "air_temperature_c": "temperature",
    "dew_point_c": "dew point",
    "runway_visual_range_m": "runway visual range",
    "fuel_temperature_c": "fuel temperature",
    "assumed_fuel_temperature_c": "temperature",
    "fuel_temperature_assumed": "fuel temperature",
    "parked_h": "parked since",
    "treated": "treated at",
    "deposit_seen": "seen",
    "frost_refuted": "seen",
    "ahead_min": "off-block",
    "off_block_in_min": "off-block",
    "report_age_min": "report",
    "aerodrome_closed": "report",
    "station_distance_km": "place",
    "station_height_difference_m": "place",
}
_EARLIER = ("peak_wind_kt", "seen_gust_kt", "snow_depth")


def _input(name: str) -> str:
    """What a person would give for an input: a part of a report, or something of the departure."""
    if name not in COLUMNS:
        return name
    row = COLUMNS[name]
    if name in _GIVEN:
        return _GIVEN[name]
    if row.part:
        return row.part
    return "earlier reports" if row.missing == "history" or name in _EARLIER else "weather"


def matching(known: Sequence[Term], word: str) -> tuple[Term, ...]:
    """The terms that a word stands for, the nearest first: by name, by what the trade calls it, by its meaning.

    Raises AdvisorError where none does, with the nearest word that one does.
    """
    asked = " ".join(word.casefold().replace("_", " ").split())
    if asked in NOT_AMONG_THEM:
        raise AdvisorError(NOT_AMONG_THEM[asked], where=word[:40], hint="advisor checklist terms lists those there are")
    ranked = [(rank, term) for term in known if (rank := _rank(term, asked)) is not None]
    if ranked:
        best = min(rank for rank, _ in ranked)
        # a word that names a quantity is not looked for in the sentences about others
        return tuple(term for rank, term in sorted(ranked, key=lambda pair: pair[0]) if rank <= max(best, 1))
    words = {called for term in known for called in (_spoken(term), *(one.casefold() for one in term.also_called))}
    near = difflib.get_close_matches(asked, sorted(words), n=1, cutoff=0.6)
    hint = f"did you mean {near[0]!r}?" if near else _LISTED
    raise AdvisorError("no quantity is called so", where=repr(word[:40]), hint=hint)


def _rank(term: Term, asked: str) -> int | None:
    """How near a term is to a word: 0 it is its name, 1 the trade's word or a part of the name, 2 in its meaning."""
    names = [name.casefold() for name in term.also_called]
    if asked in (_spoken(term), *names):
        return 0
    if asked and (_has(_spoken(term), asked) or any(_has(name, asked) for name in names)):
        return 1
    return 2 if asked and _has(term.meaning.casefold(), asked) else None


def _spoken(term: Term) -> str:
    return term.name.replace("_", " ")


def _has(text: str, asked: str) -> bool:
    """Whether a text has a word, or several in a row, or a word that begins so."""
    return f" {text}".find(f" {asked}") >= 0


def as_text(listed: Sequence[Term]) -> str:
    """Terms as plain text, a few lines each."""
    lines: list[str] = []
    for term in listed:
        lines += _wrapped(f"{term.name}  {_range(term)}".rstrip())
        lines.append(f"    {term.meaning}")
        parts = (
            ("no value", term.no_value),
            ("also", ", ".join(term.also_called)),
            ("needs", ", ".join(term.needs)),
            ("rules", ", ".join(term.rules) or "none"),
        )
        for title, said in parts:
            if said:
                lines += _wrapped(f"    {title}: {said}")
        lines.append("")
    return "\n".join(lines) + LANGUAGE if len(listed) > 1 else "\n".join(lines).rstrip() + "\n"


def _range(term: Term) -> str:
    if term.kind == FLAG:
        return "yes or no: write it alone, or after not"
    if term.kind == CODE:
        return "one of " + ", ".join(f'"{value}"' for value in term.values)
    unit = f" {term.unit}" if term.unit else ""
    if term.low is None or term.high is None:
        return f"a number{unit}"
    return f"{term.low:g} to {term.high:g}{unit}".replace("-", "−")


def _wrapped(text: str) -> list[str]:
    import textwrap

    return textwrap.wrap(text, WIDTH, subsequent_indent=" " * 8, break_long_words=False, break_on_hyphens=False)


LANGUAGE = """\
A condition compares these with constants in their own unit, written without it: gust_kt >= 28,
-2 <= air_temperature_c <= 15, light in ("full dark", "day"); a flag stands alone. not binds most, then
and, then or; parentheses group. What is not known is neither yes nor no; what does not exist is no.
A text may hold {quantity}: it is filled in with its unit, a flag as yes or no, a code as its word.
during: parked (now to the walk), walk_round, doors_open, off_block (from the walk's end), take_off.
"""
