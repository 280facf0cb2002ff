"""A second evaluator, slow and scalar, written from DESIGN.md; shares nothing with the one it checks.

A condition is a tree of tuples:
("always",) · ("flag", name) · ("compare", name, op, number) · ("chain", low, op, name, op, high) ·
("in", name, values) · ("not", tree) · ("and", trees) · ("or", trees). Truth is "yes", "no" or "unknown".
Values are numbers by name: NaN or no entry is not known, None is a value that does not exist.
"""

from __future__ import annotations

import math
import operator
import random
import re

OPS = {"<": operator.lt, "<=": operator.le, ">": operator.gt, ">=": operator.ge, "==": operator.eq, "!=": operator.ne}
BINDING = {"or": 1, "and": 2, "not": 3}
TOKEN = re.compile(
    r"""\s*(?:(?P<number>-?\d+(?:\.\d+)?)|(?P<word>"[^"]*"|'[^']*')|(?P<name>[a-z_0-9]+)|(?P<sign>[<>=!]=|[<>(),]))"""
)


def truth(tree, values):
    """DESIGN.md: unknown is neither yes nor no, `not` swaps, missing is tested before any comparison."""
    kind = tree[0]
    if kind == "always":
        return "yes"
    if kind == "not":
        return {"yes": "no", "no": "yes", "unknown": "unknown"}[truth(tree[1], values)]
    if kind in ("and", "or"):
        found = [truth(part, values) for part in tree[1]]
        strong, weak = ("no", "yes") if kind == "and" else ("yes", "no")
        return strong if strong in found else "unknown" if "unknown" in found else weak
    name = tree[3] if kind == "chain" else tree[1]
    value = values.get(name, math.nan)
    if value is None:
        # docs/rule-language.md: a value that does not exist is no, not missing
        return "no"
    if math.isnan(value):
        return "unknown"
    if kind == "flag":
        return "yes" if value == 1 else "no"
    if kind == "compare":
        return "yes" if OPS[tree[2]](value, tree[3]) else "no"
    if kind == "chain":
        return "yes" if OPS[tree[2]](tree[1], value) and OPS[tree[4]](value, tree[5]) else "no"
    return "yes" if value in tree[2] else "no"


def read(written, words=None):
    """The tree of a condition, by docs/rule-language.md; ValueError for what is none. words: as for text."""
    tokens, at = [], 0
    while written[at:].strip():
        found = TOKEN.match(written, at)
        if found is None:
            raise ValueError(written[at:])
        kind = found.lastgroup
        tokens.append((kind, found[kind]))
        at = found.end()
    if tokens == [("name", "always")]:
        return ("always",)
    tree = _either(tokens, words or {})
    if tokens:
        raise ValueError(tokens)
    return tree


def _either(tokens, words):
    parts = [_both(tokens, words)]
    while tokens and tokens[0][1] == "or":
        tokens.pop(0)
        parts.append(_both(tokens, words))
    return parts[0] if len(parts) == 1 else ("or", parts)


def _both(tokens, words):
    parts = [_denied(tokens, words)]
    while tokens and tokens[0][1] == "and":
        tokens.pop(0)
        parts.append(_denied(tokens, words))
    return parts[0] if len(parts) == 1 else ("and", parts)


def _denied(tokens, words):
    if tokens[0][1] == "not":
        tokens.pop(0)
        return ("not", _denied(tokens, words))
    if tokens[0][1] == "(":
        tokens.pop(0)
        inner = _either(tokens, words)
        _expect(tokens, ")")
        return inner
    return _asked(tokens, words)


def _asked(tokens, words):
    """A flag, a comparison, a chain or a list."""
    if tokens[0][0] == "number":
        low, below, name, above, high = (tokens.pop(0)[1] for _ in range(5))
        return ("chain", float(low), below, name, above, float(high))
    name = tokens.pop(0)[1]
    sign = tokens[0][1] if tokens else ""
    if sign in OPS:
        tokens.pop(0)
        return ("compare", name, sign, _constant(tokens, name, words))
    if sign not in ("in", "not"):
        return ("flag", name)
    if sign == "not":
        tokens.pop(0)
    _expect(tokens, "in")
    _expect(tokens, "(")
    values = []
    while tokens[0][1] != ")":
        values.append(_constant(tokens, name, words))
        if tokens[0][1] == ",":
            tokens.pop(0)
    tokens.pop(0)
    return ("not", ("in", name, values)) if sign == "not" else ("in", name, values)


def _constant(tokens, name, words):
    kind, said = tokens.pop(0)
    return words[name].index(said[1:-1]) if kind == "word" else float(said)


def _expect(tokens, wanted):
    if tokens.pop(0)[1] != wanted:
        raise ValueError(wanted)


def names(tree):
    """Every quantity that a condition asks for."""
    if tree[0] == "always":
        return set()
    if tree[0] == "not":
        return names(tree[1])
    if tree[0] in ("and", "or"):
        return set().union(*(names(part) for part in tree[1]))
    return {tree[3] if tree[0] == "chain" else tree[1]}


def text(tree, words=None, outer=0):
    """The tree in the rule language, with no more parentheses than it needs. words: texts of a code by its position."""
    kind = tree[0]
    if kind == "always":
        return "always"
    if kind == "flag":
        return tree[1]
    if kind == "compare":
        return f"{tree[1]} {tree[2]} {_value(tree[1], tree[3], words)}"
    if kind == "chain":
        return f"{tree[1]:g} {tree[2]} {tree[3]} {tree[4]} {tree[5]:g}"
    if kind == "in":
        listed = ", ".join(_value(tree[1], value, words) for value in tree[2])
        return f"{tree[1]} in ({listed},)"
    if kind == "not":
        written = f"not {text(tree[1], words, BINDING['not'])}"
    else:
        written = f" {kind} ".join(text(part, words, BINDING[kind] + 1) for part in tree[1])
    return f"({written})" if BINDING[kind] < outer else written


def _value(name, value, words):
    return repr(words[name][int(value)]) if words and name in words else f"{value:g}"


def phase_times(phase, windows, now):
    """Start and end, and whether the window has wholly passed. windows: walk, doors (pairs), off_block, take_off."""
    start, end = {
        "parked": (now, windows["walk"][0]),
        "walk_round": windows["walk"],
        "doors_open": windows["doors"],
        "off_block": (windows["walk"][1], windows["off_block"]),
        "take_off": (windows["off_block"], windows["take_off"]),
    }[phase]
    return max(start, now), end, end < now


def evaluate(tree, during, rows, times, windows, now):
    """Status, deciding case and time, first and last time. rows: [case][time] of values by name."""
    spans = [phase_times(phase, windows, now) for phase in during]
    spans = [(start, end) for start, end, passed in spans if not passed]
    if not spans:
        return "not indicated", None, None
    inside = [at for at, time in enumerate(times) if any(start <= time <= end for start, end in spans)]
    covered = all(times and times[0] <= start and times[-1] >= end for start, end in spans)
    asked, known = sorted(names(tree)), {}

    def answer(values):
        # the same values have the same answer
        key = tuple(map(values.get, asked))
        if key not in known:
            known[key] = truth(tree, values)
        return known[key]

    answers = [[answer(row[at]) for at in inside] for row in rows]
    cases = []
    for found in answers:
        if "yes" in found or tree == ("always",):
            cases.append("yes")
        elif "unknown" in found or not covered:
            cases.append("unknown")
        else:
            cases.append("no")
    if all(case == "yes" for case in cases):
        status, wanted = "expected", "yes"
    elif "yes" in cases:
        # the first case is the central one
        status, wanted = "likely" if cases[0] == "yes" else "possible", "yes"
    elif "unknown" in cases:
        status, wanted = "cannot tell", "unknown"
    else:
        return "not indicated", None, None
    firsts = [(found.index(wanted), case) for case, found in enumerate(answers) if wanted in found]
    if not firsts:
        return status, None, None
    held = [times[inside[at]] for each in answers for at, one in enumerate(each) if one == wanted]
    # the central case where it says so; of the others the one that says yes first, or the first that is not known
    central = [(at, case) for at, case in firsts if case == 0]
    at, case = central[0] if central else min(firsts) if wanted == "yes" else min(firsts, key=lambda one: one[1])
    return status, (case, inside[at]), (min(held), max(held))


def random_tree(rng: random.Random, numbers, flags, codes, depth=3):
    """A random condition. numbers: name to (low, high) for constants; codes: name to how many values."""
    kind = rng.choice(["flag", "compare", "compare", "chain", "in", "code", "not", "and", "or", "and", "or"])
    if depth == 0 and kind in ("not", "and", "or"):
        kind = "compare"
    if kind == "flag":
        return ("flag", rng.choice(flags))
    if kind == "not":
        return ("not", random_tree(rng, numbers, flags, codes, depth - 1))
    if kind in ("and", "or"):
        parts = [random_tree(rng, numbers, flags, codes, depth - 1) for _ in range(rng.randint(2, 3))]
        return (kind, parts)
    if kind == "code":
        name = rng.choice(list(codes))
        if rng.random() < 0.5:
            return ("compare", name, rng.choice(["==", "!="]), rng.randrange(codes[name]))
        return ("in", name, rng.sample(range(codes[name]), 2))
    name = rng.choice(list(numbers))
    low, high = numbers[name]
    if kind == "compare":
        return ("compare", name, rng.choice(list(OPS)), rng.randint(low, high))
    if kind == "in":
        return ("in", name, rng.sample(range(low, high + 1), 2))
    first, last = sorted(rng.sample(range(low, high + 1), 2))
    return ("chain", first, rng.choice(["<", "<="]), name, rng.choice(["<", "<="]), last)
