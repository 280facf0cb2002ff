"""What came of the advice, as text. Pure."""

from __future__ import annotations

from xml.sax.saxutils import escape

from advisor.record.outcomes import Outcomes, Share
from advisor.render import words


def as_text(outcomes: Outcomes) -> str:
    """A line a rule, then what was missed, by month and by station."""
    out = ["INVENTED DEMONSTRATION DATA"] if outcomes.invented else []
    out += [
        f"{outcomes.walks} walks, {outcomes.signed} signed"
        + (f", {outcomes.first} to {outcomes.last}" if outcomes.first else "")
    ]
    out += ["", f"{'rule':28} {'status':11} advised  found  not found  not looked at  missed  found of those looked at"]
    for rule in outcomes.rules:
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
    if outcomes.missed:
        out += ["", "Found where no line had asked to look:"]
        out += [f"  {one.zone.replace('-', ' ')}: {one.found}, {one.count} times" for one in outcomes.missed]
    for title, groups in (("By month", outcomes.by_month), ("By station", outcomes.by_station)):
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


WIDTH, LEFT, RIGHT, ROW = 640, 220, 90, 26


def drawing(rows: list[tuple[str, Share]], title: str) -> str:
    """A dot and its interval a row, from 0 to 100 %, as SVG; the numbers stand beside. Texts are escaped."""
    shown = [(name, one) for name, one in rows if one.central is not None]
    height = 30 + ROW * max(1, len(shown)) + 24
    span = WIDTH - LEFT - RIGHT

    def across(part: float) -> float:
        return round(LEFT + span * part, 1)

    parts = [
        f'<svg class="plot" viewBox="0 0 {WIDTH} {height}" role="img" xmlns="http://www.w3.org/2000/svg">',
        f"<title>{escape(title)}</title>",
    ]
    for tick in (0.0, 0.25, 0.5, 0.75, 1.0):
        at = across(tick)
        parts.append(f'<line class="grid" x1="{at}" y1="24" x2="{at}" y2="{height - 24}"/>')
        parts.append(f'<text x="{at}" y="{height - 6}" text-anchor="middle">{100 * tick:.0f} %</text>')
    for row, (name, share) in enumerate(shown):
        y = 30 + ROW * row + ROW / 2
        low, central, high = (across(value or 0.0) for value in (share.low, share.central, share.high))
        parts.append(f'<text x="{LEFT - 8}" y="{y + 5}" text-anchor="end">{escape(name)}</text>')
        parts.append(f'<line class="interval" x1="{low}" y1="{y}" x2="{high}" y2="{y}"/>')
        parts.append(f'<circle class="dot" cx="{central}" cy="{y}" r="5"/>')
        parts.append(f'<text x="{WIDTH - RIGHT + 8}" y="{y + 5}">{share.count} of {share.of}</text>')
    if not shown:
        parts.append(f'<text x="{LEFT}" y="44">nothing was looked at yet</text>')
    return "".join([*parts, "</svg>"])


def reliability(outcomes: Outcomes) -> list[tuple[str, Share]] | None:
    """Rows of the diagram of reliability; None until enough of each of likely and possible were looked at."""
    by_status = {one.status: one for one in outcomes.reliability}
    if any(by_status[status].share.of < outcomes.enough for status in ("likely", "possible")):
        return None
    return [(status, by_status[status].share) for status in ("expected", "likely", "possible")]
