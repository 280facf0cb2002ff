"""What a word that is not known may have meant: the other words of the trade first, then those spelt nearly so."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from advisor.quantities import Quantity
from advisor.quantities.said import NOT_AMONG_THEM

_MOST = 3


def meant(word: str, quantities: Mapping[str, Quantity]) -> str:
    """A hint for a word: the quantities that the trade calls so, why there is none, or the nearest name."""
    import difflib

    asked = plain(word)
    if asked in NOT_AMONG_THEM:
        return NOT_AMONG_THEM[asked]
    by_word: dict[str, list[str]] = {}
    for row in quantities.values():
        for called in (row.name.rpartition("_")[0], *row.also_called):
            by_word.setdefault(plain(called), []).append(row.name)
    quantity_names = by_word.get(asked, [])
    if not quantity_names and word not in quantities:
        names = {plain(name): name for name in quantities}
        near = difflib.get_close_matches(asked, [*names, *by_word], n=1, cutoff=0.75)
        if near and near[0] not in names:
            quantity_names = by_word[near[0]]
    if not quantity_names:
        return did_you_mean(word, quantities)
    listed = [repr(name) for name in dict.fromkeys(quantity_names)][:_MOST]
    return f"did you mean {' or '.join(listed)}?"


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A hint that names the nearest of the known words, or how they can be listed."""
    import difflib

    choices = list(known)
    near = difflib.get_close_matches(word, choices, n=1, cutoff=0.55)
    if not near:
        near = [choice for choice in choices if word and word in choice][:1]
    if near:
        return f"did you mean {near[0]!r}?"
    return f"one of {', '.join(choices)}" if len(choices) <= 16 else "it is not in the vocabulary"


def plain(word: str) -> str:
    """A word as it is looked up: small letters, spaces for underscores."""
    return " ".join(word.casefold().replace("_", " ").split())
