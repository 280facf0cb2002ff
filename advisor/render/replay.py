"""A replay as text: what a checklist would have said, per rule and month."""

from __future__ import annotations

from collections.abc import Iterable

from advisor.archive.result import Replay

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def render(made: Replay) -> str:
    """The text of a replay, with a line end."""
    parts = [_head(made), _rules(made), _by_month(made), _months(made), _against(made), _left(made)]
    return "\n\n".join(part for part in parts if part) + "\n"


def _head(made: Replay) -> str:
    span = f"{made.from_} to {made.until}" if made.from_ else "no report"
    lines = [
        f"Replay of {made.read:,} reports of {made.stations:,} stations, {span}.",
        f"Checklist {made.checklist.name} {made.checklist.revision} ({made.checklist.fingerprint}), {made.aircraft}.",
        "Each report as a brief an hour before the middle of the walk, without a forecast. What is not indicated here",
        "was not known to be absent: only an inspection can tell what is on an aircraft.",
    ]
    if made.partial:
        lines.insert(0, "PARTIAL: this run was stopped or parts of it failed; the rest is as it would have been.")
    return "\n".join(lines)


def _rules(made: Replay) -> str:
    width = max((len(rule.id) for rule in made.rules), default=4)
    head = f"{'rule':<{width}}  expected    likely  possible  cannot tell  for want of"
    rows = [
        f"{rule.id:<{width}}  {rule.expected:>8}  {rule.likely:>8}  {rule.possible:>8}  {rule.cannot_tell:>11}  "
        + ", ".join(f"{name} {number}" for name, number in list(rule.wants.items())[:2])
        for rule in made.rules
        if rule.expected or rule.likely or rule.possible or rule.cannot_tell
    ]
    return "\n".join(line.rstrip() for line in [head, *rows])


def _months(made: Replay) -> str:
    head = "month      briefs  lines: median  p90  worst  de-icing calls a hundred briefs: expected  likely  possible"
    rows = []
    for month in made.by_month:
        calls = (month.de_icing_expected, month.de_icing_likely, month.de_icing_possible)
        shares = [f"{100 * number / month.briefs:.1f}" for number in calls]
        rows.append(
            f"{month.month}  {month.briefs:>8}  {month.lines_median:>13}  {month.lines_p90:>3}  "
            f"{month.lines_worst:>5}  {shares[0]:>41}  {shares[1]:>6}  {shares[2]:>8}"
        )
    return "\n".join([head, *rows])


def _by_month(made: Replay) -> str:
    """Rules by the month of the year: expected, likely and possible together, of a hundred briefs."""
    briefs: dict[int, int] = {}
    told: dict[str, dict[int, int]] = {}
    for month in made.by_month:
        at = int(month.month[-2:])
        briefs[at] = briefs.get(at, 0) + month.briefs
        for rule, (expected, likely, possible, _) in month.rules.items():
            row = told.setdefault(rule, {})
            row[at] = row.get(at, 0) + expected + likely + possible
    there = sorted(briefs)
    rows = {
        rule: [100 * row.get(at, 0) / briefs[at] for at in there]
        for rule, row in told.items()
        if 0 < sum(row.values()) < sum(briefs.values())
    }
    if not rows:
        return ""
    width = max(map(len, rows))
    head = f"{'told, of a hundred briefs':<{width}}" + "".join(f"{MONTHS[at - 1]:>7}" for at in there)
    lines = [f"{rule:<{width}}" + "".join(f"{value:>7.1f}" for value in row) for rule, row in rows.items()]
    return "\n".join([head, *lines])


def _against(made: Replay) -> str:
    if made.against is None:
        return ""
    old = made.against
    lines = [f"Against {old.name} {old.revision} ({old.fingerprint}):"]
    if not old.rules:
        return lines[0] + " nothing changes in these reports."
    width = max(len(rule.id) for rule in old.rules)
    lines.append(f"{'rule':<{width}}  gained    lost  raised  lowered  cannot tell: more  fewer")
    for rule in old.rules:
        lines.append(
            f"{rule.id:<{width}}  {rule.gained:>6}  {rule.lost:>6}  {rule.raised:>6}  {rule.lowered:>7}  "
            f"{rule.untold:>17}  {rule.told_apart:>5}"
        )
        lines += [
            f"  {one.change}: {one.at} {one.raw}{'' if one.alike else ' (a brief does not)'}" for one in rule.examples
        ]
    return "\n".join(lines)


def _left(made: Replay) -> str:
    lines = [
        f"{made.reports:,} rows: {made.read:,} replayed ({made.partly:,} with a group not decoded), {made.refused:,} "
        f"refused, {made.doubled:,} doubled, {made.nil:,} NIL."
    ]
    lines += [f"  refused: {one.where}: {one.why}" for one in made.bad_rows]
    if made.left_out:
        lines.append(f"Left out, no position: {_listed(f'{name} ({n})' for name, n in made.left_out.items())}.")
    lines += [f"Failed twice and left out: {name}." for name in made.failed]
    return "\n".join(lines)


def _listed(names: Iterable[str], most: int = 8) -> str:
    all_ = list(names)
    more = f" and {len(all_) - most} more" if len(all_) > most else ""
    return ", ".join(all_[:most]) + more
