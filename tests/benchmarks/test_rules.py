"""How fast rules are compiled, evaluated and loaded: ratios are checked, figures are only printed (pytest -s)."""

from __future__ import annotations

import time

import numpy as np
import tomli

from advisor.checklist.language.condition import compile_condition, evaluate_many
from advisor.checklist.revision import SHIPPED, load
from advisor.checklist.rules import compiled
from advisor.quantities import QUANTITIES

SHAPE = (24, 76)


def best(work, times=7):
    """Least processor time of several runs, ms."""
    found = []
    for _ in range(times):
        start = time.process_time()
        work()
        found.append((time.process_time() - start) * 1000)
    return min(found)


def sixty():
    return [rule.when for rule in load().rules][:60]


def columns(shape):
    rng = np.random.default_rng(1)
    table = {}
    for name, row in QUANTITIES.items():
        if row.kind == "number":
            table[name] = np.where(rng.random(shape) < 0.1, np.nan, rng.uniform(-20, 40, shape))
        else:
            table[name] = rng.integers(-1, 2, shape).astype(np.int8)
    return table


def test_compiling_a_rule_costs_no_more_than_a_few_bare_parses():
    texts = sixty()
    took = best(lambda: [compile_condition(text) for text in texts])
    bare = best(lambda: [compile(text.replace("\n", " "), "", "eval", 0x400) for text in texts])
    print(f"\ncompile sixty rules: {took:.2f} ms, Python's parser alone {bare:.2f} ms (aim: under 10 ms)")
    assert took < 12 * bare + 1


def test_rules_evaluated_together_cost_less_than_one_by_one():
    conditions = [compile_condition(text) for text in sixty()]
    table = columns(SHAPE)
    together = best(lambda: evaluate_many(conditions, table, SHAPE))
    alone = best(lambda: [condition.evaluate(table, SHAPE) for condition in conditions])
    print(f"\nevaluate sixty rules over {SHAPE}: {together:.2f} ms together, {alone:.2f} ms alone (aim: under 10 ms)")
    assert together < alone


def test_evaluation_grows_no_faster_than_the_table():
    conditions = [compile_condition(text) for text in sixty()]
    small, large = columns(SHAPE), columns((24, 760))
    few = best(lambda: evaluate_many(conditions, small, SHAPE))
    many = best(lambda: evaluate_many(conditions, large, (24, 760)))
    print(f"\nten times the table: {many / few:.1f} times the time")
    assert many < 30 * few


def test_loading_the_shipped_rules_costs_little_beside_reading_their_toml():
    texts = [path.read_text(encoding="utf-8") for path in SHIPPED.glob("*.toml") if not path.name.startswith("pages")]

    def cold():
        compiled.cache_clear()
        load()

    took, parsing = best(cold), best(lambda: [tomli.loads(text) for text in texts])
    print(f"\nload {len(load().rules)} shipped rules: {took:.2f} ms, TOML alone {parsing:.2f} ms (aim: under 12 ms)")
    assert took < 12 * parsing


def test_comparing_long_conditions_takes_no_longer_than_loading_rules():
    flags = [name for name, row in QUANTITIES.items() if row.kind == "flag"]
    one, two = (compile_condition(" or ".join(names)) for names in (flags, flags[1:]))
    took, loading = best(lambda: one.compare(two)), best(load)
    print(f"\ncompare two conditions over {len(flags)} flags: {took:.2f} ms")
    assert took < 20 * loading
