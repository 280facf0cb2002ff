"""What came of the advice, as text. Pure."""

from __future__ import annotations

from advisor.record.outcomes import Outcomes, Share
from advisor.render import words


def as_text(found: Outcomes) -> str:
    """A line a rule, then what was missed, by month and by station."""
    out = ["INVENTED DEMONSTRATION DATA"] if found.invented else []
    out += [f"{found.walks} walks, {found.signed} signed" + (f", {found.first} to {found.last}" if found.first else "")]
    out += ["", f"{'rule':28} {'status':11} advised  found  not found  not looked at  missed  found of those looked at"]
    for rule in found.rules:
        name = words.rule_name(rule.id)[:28]
        rows = [(part.status, part, "") for part in rule.by_status]
        if len(rows) > 1:
            rows.append(("all", rule, str(rule.missed)))  # type: ignore[arg-type]
        else:
            rows = [(rows[0][0], rows[0][1], str(rule.missed))]
        for status, part, missed in rows:
            out.append(
                f"{name:28} {status:11} {part.advised:7}  {part.found:5}  {part.not_found:9}  {part.not_looked_at:13}"
                f"  {missed:>6}  {told(part.share)}"
            )
            name = ""
    if found.missed:
        out += ["", "Found where no line had asked to look:"]
        out += [f"  {one.zone.replace('-', ' ')}: {one.found}, {one.count} times" for one in found.missed]
    for title, groups in (("By month", found.by_month), ("By station", found.by_station)):
        if groups:
            out += ["", f"{title}:"]
            out += [
                f"  {one.name}: {one.walks} walks, {one.found} found, {one.not_found} not found, "
                f"{one.not_looked_at} not looked at, {one.missed} missed; {told(one.share)}"
                for one in groups
            ]
    return "\n".join(out)


def told(share: Share) -> str:
    """A share with its interval, or that there is none."""
    if share.central is None:
        return "nobody looked"
    return f"{100 * share.central:.0f} % ({100 * (share.low or 0):.0f} to {100 * (share.high or 0):.0f} %)"
