"""A page for every shipped rule, and the list of them."""

from __future__ import annotations

from collections.abc import Iterator

import advisor
from advisor.checklist import revision
from advisor.checklist.rules import CLASSES, Checklist, Page, Rule, Situation, phases
from tables.markdown import block, code, plain, prose, table, toctree
from tables.sources import linked

TITLES = {
    "gear": "What to take and wear",
    "checkpoint": "What to look at",
    "request": "What to ask for",
    "door": "Doors",
    "caution": "What to mind",
}
HEAD = """# The shipped rules

{count} rules for eight classes of aircraft; an operator's folder replaces or removes any of them by its id. Thresholds
are defaults for an operator to replace. A line that does not come up promises nothing: only the inspection itself can
tell what is on an aircraft.
"""


def pages() -> dict[str, str]:
    """rules/index.md and rules/ID.md."""
    checklist, written = revision.load_all()
    head = HEAD.format(count=len(checklist.rules))
    made = {"rules/index.md": "\n".join([head, *_lists(checklist)])}
    for rule in checklist.rules:
        made[f"rules/{rule.id}.md"] = "\n".join(_page(checklist, rule, written.get(rule.id, Page())))
    return made


def _lists(checklist: Checklist) -> Iterator[str]:
    for kind, title in TITLES.items():
        rules = [rule for rule in checklist.rules if rule.kind == kind]
        if rules:
            yield f"\n## {title}\n"
            rows = [(f"[{rule.id}]({rule.id}.md)", rule.weight, code(rule.when), plain(rule.text)) for rule in rules]
            yield table(("rule", "weight", "when", "says"), rows)
    yield toctree(rule.id for rule in checklist.rules).replace(":maxdepth: 1", ":hidden:")


def _page(checklist: Checklist, rule: Rule, page: Page) -> Iterator[str]:
    yield f"(rule-{rule.id})=\n# {rule.id}\n\n{plain(rule.text)}"
    if rule.more:
        yield f"\n{plain(rule.more)}"
    rows = [("kind", rule.kind), ("weight", rule.weight), ("when", code(rule.when)), ("during", _during(rule.during))]
    rows += [("zone", plain(rule.zone))] if rule.zone else []
    rows += [("shown before all else", "yes")] if rule.stop else []
    rows += [("latest", f"{rule.lead_min} min before off-block")] if rule.lead_min is not None else []
    if rule.must_when is not None:
        said = " ".join(filter(None, (rule.must_text, rule.must_more)))
        rows.append(("a must where", code(rule.must_when) + (f": {plain(said)}" if said else "")))
    yield "\n" + table(("", ""), rows)
    for title, text in (("What it does", page.does), ("Why", page.why)):
        yield f"## {title}\n\n{prose(text) or 'Nothing written yet.'}\n"
    yield f"## Example\n\n{_example(checklist, rule, page)}\n"
    yield f"## Known limits\n\n{prose(page.limits) or 'Nothing written yet.'}\n"
    yield "## References\n"
    keys = dict.fromkeys((rule.source, *page.references))
    yield "\n".join(f"* {linked(checklist.sources[key])}" for key in keys) + "\n"
    differences = list(_differences(rule))
    if differences:
        yield "## By class of aircraft\n\n" + table(("class", "differs"), differences)


def _example(checklist: Checklist, rule: Rule, page: Page) -> str:
    parts = []
    for title, situation in (("It comes up here", page.fires), ("It does not come up here", page.near_miss)):
        if situation is None:
            continue
        parts.append(f"{title}:\n\n{block(_given(situation))}")
        line = next((one for one in _brief(checklist, situation).advice if one.id == rule.id), None)
        if situation is page.fires:
            if line is None:
                raise ValueError(f"{rule.id}: does not come up in its own example")
            parts.append(f"and says, *{line.status}*:\n\n> {plain(line.text)}\n")
        elif line is not None and line.status == "expected":
            raise ValueError(f"{rule.id}: comes up where its page says that it does not")
    return "\n".join(parts) or "There is none; the known limits say why."


def _asked(situation: Situation) -> dict[str, object]:
    names = type(situation).__struct_fields__
    return {name: value for name in names if (value := getattr(situation, name)) is not None}


def _given(situation: Situation) -> str:
    asked = _asked(situation)
    report = asked.pop("report")
    reports = [report] if isinstance(report, str) else list(report)
    options = [f"--{name.replace('_', '-')} {value}" for name, value in asked.items()]
    return "\n".join([*reports, " ".join(options)])


def _brief(checklist: Checklist, situation: Situation) -> advisor.Brief:
    asked = _asked(situation)
    report = asked.pop("report")
    return advisor.advise([report] if isinstance(report, str) else list(report), checklist=checklist, **asked)


def _differences(rule: Rule) -> Iterator[tuple[str, str]]:
    for class_id in CLASSES:
        one = rule.overrides.get(class_id)
        if class_id not in rule.classes:
            yield class_id, "does not apply"
        elif one is not None:
            parts = [
                one.weight or "",
                "" if one.when is None else f"when {code(one.when)}",
                "" if one.during is None else f"during {_during(phases(one.during))}",
                "" if one.zone is None else f"zone {plain(one.zone)}",
                *(plain(text) for text in (one.text, one.more, one.must_text, one.must_more) if text),
            ]
            yield class_id, "; ".join(part for part in parts if part)


def _during(during: tuple[str, ...]) -> str:
    return ", ".join(code(phase) for phase in during)
