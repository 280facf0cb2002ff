"""A replay as text: what a checklist would have said, per rule and month."""

from __future__ import annotations

from collections.abc import Iterable

from advisor.archive.bank import OLDEST_S
from advisor.archive.result import Replay

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def render(replay: Replay) -> str:
    """The text of a replay, with a line end."""
    parts = [_head(replay), _rules(replay), _by_month(replay), _months(replay), _against(replay), _left(replay)]
    return "\n\n".join(part for part in parts if part) + "\n"


def _head(replay: Replay) -> str:
    span = f"{replay.from_} to {replay.until}" if replay.from_ else "no report"
    lines = [
        f"{title(replay)}, {span}.",
        *filter(None, [departures(replay)]),
        f"Checklist {replay.checklist.name} {replay.checklist.revision} ({replay.checklist.fingerprint}), "
        f"{replay.aircraft}.",
        "Each report as a brief an hour before the middle of the walk, without a forecast. What is not indicated here",
        "was not known to be absent: only an inspection can tell what is on an aircraft.",
    ]
    if replay.partial:
        lines.insert(0, "PARTIAL: this run was stopped or parts of it failed; the rest is as it would have been.")
    return "\n".join(lines)


def title(replay: Replay) -> str:
    """What was replayed, and of how many stations."""
    what = f"{replay.read:,} reports" if replay.bank is None else f"{replay.read:,} of {replay.bank.given:,} departures"
    return f"Replay of {what} of {replay.stations:,} stations"


def departures(replay: Replay) -> str:
    """Why departures of a bank were not replayed, and the first of them; "" where all were."""
    bank, lines = replay.bank, []
    if bank is not None and bank.without_report:
        some = [f"{one.off_block} {one.station}" for one in bank.first_without]
        more = bank.without_report - len(some)
        lines.append(
            f"{bank.without_report:,} without a report in the {OLDEST_S // 3600} h before the brief: "
            f"{', '.join(some)}{f' and {more:,} more' if more else ''}."
        )
    if bank is not None and bank.not_done:
        lines.append(f"{bank.not_done:,} may have theirs in parts that are missing.")
    return " ".join(lines)


def _rules(replay: Replay) -> str:
    width = max((len(rule.id) for rule in replay.rules), default=4)
    head = f"{'rule':<{width}}  expected    likely  possible  cannot tell  for want of"
    rows = [
        f"{rule.id:<{width}}  {rule.expected:>8}  {rule.likely:>8}  {rule.possible:>8}  {rule.cannot_tell:>11}  "
        + ", ".join(f"{name} {number}" for name, number in list(rule.wants.items())[:2])
        for rule in replay.rules
        if rule.expected or rule.likely or rule.possible or rule.cannot_tell
    ]
    return "\n".join(line.rstrip() for line in [head, *rows])


def _months(replay: Replay) -> str:
    head = "month      briefs  lines: median  p90  worst  de-icing calls a hundred briefs: expected  likely  possible"
    rows = []
    for month in replay.by_month:
        calls = (month.de_icing_expected, month.de_icing_likely, month.de_icing_possible)
        shares = [f"{100 * number / month.briefs:.1f}" for number in calls]
        rows.append(
            f"{month.month}  {month.briefs:>8}  {month.lines_median:>13}  {month.lines_p90:>3}  "
            f"{month.lines_worst:>5}  {shares[0]:>41}  {shares[1]:>6}  {shares[2]:>8}"
        )
    return "\n".join([head, *rows])


def _by_month(replay: Replay) -> str:
    """Rules by the month of the year: expected, likely and possible together, of a hundred briefs."""
    briefs: dict[int, int] = {}
    told: dict[str, dict[int, int]] = {}
    for month in replay.by_month:
        month_number = int(month.month[-2:])
        briefs[month_number] = briefs.get(month_number, 0) + month.briefs
        for rule, (expected, likely, possible, _) in month.rules.items():
            row = told.setdefault(rule, {})
            row[month_number] = row.get(month_number, 0) + expected + likely + possible
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


def _against(replay: Replay) -> str:
    if replay.against is None:
        return ""
    old = replay.against
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


def _left(replay: Replay) -> str:
    replayed = "replayed" if replay.bank is None else "departures replayed"
    lines = [
        f"{replay.reports:,} rows: {replay.read:,} {replayed} ({replay.partly:,} with a group not decoded), "
        f"{replay.refused:,} refused, {replay.doubled:,} doubled, {replay.nil:,} NIL."
    ]
    lines += [f"  refused: {one.where}: {one.why}" for one in replay.bad_rows]
    if replay.left_out:
        lines.append(f"Left out, no position: {_listed(f'{name} ({n})' for name, n in replay.left_out.items())}.")
    lines += [f"Failed twice and left out: {name}." for name in replay.failed]
    return "\n".join(lines)


def _listed(names: Iterable[str], most: int = 8) -> str:
    all_ = list(names)
    more = f" and {len(all_) - most} more" if len(all_) > most else ""
    return ", ".join(all_[:most]) + more
