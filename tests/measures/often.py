"""How often does a brief cry wolf? Over real reports at their own times; writes OFTEN.md beside this file.

Run: python tests/measures/often.py PATH/metars.jsonl [EVERY]. Each report is briefed as if issued 20 minutes ago for an
off-block time an hour ahead, at its own station, for the default aircraft.
"""

from __future__ import annotations

import json
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

from advisor.advice import Brief
from advisor.brief import advise
from advisor.errors import AdvisorError
from advisor.report import metar, place
from advisor.report.model import Report

FROST_LINES = ("de-icing-request", "wing-upper-surface")
FROST = {"frost_margin_c", "tank_frost_margin_c"}


def briefs(path: Path, every: int) -> Iterator[tuple[Report, Brief]]:
    """Reports with the brief of an hour ahead; those of unknown stations or without a usable group are left out."""
    with path.open(encoding="utf-8") as file:
        for number, line in enumerate(file):
            if number % every:
                continue
            row = json.loads(line)
            issued = datetime.fromisoformat(row["valid"])
            try:
                report = metar.read(row["raw"], now=issued)
                now = report.issued + timedelta(minutes=20)
                where = place.look_up(report.station)
                if where is None:
                    continue
                yield report, advise([report], now=now, off_block=now + timedelta(minutes=60), place=where)
            except AdvisorError:
                continue


def dry_and_windy_or_overcast(report: Report) -> bool:
    """Below +10 °C, no precipitation, and wind over 10 kt or overcast below 1500 m."""
    low_overcast = any(layer.cover in ("OVC", "VV") and layer.base_ft < 1500 / 0.3048 for layer in report.cloud)
    return (
        report.temperature_c < 10 and not report.weather and not report.weather_missing
        and not report.recent_weather and (report.wind_kt > 10 or low_overcast)
    )  # fmt: skip


def main(path: Path, every: int) -> str:
    """The table as Markdown."""
    month: dict[str, Counter[str]] = defaultdict(Counter)
    windy: Counter[str] = Counter()
    lines: Counter[int] = Counter()
    for report, brief in briefs(path, every):
        tally = month[f"{report.issued:%Y-%m}"]
        tally["briefs"] += 1
        told = [line for line in brief.advice if line.status != "cannot tell"]
        lines[len(told)] += 1
        tally["over 12 lines"] += len(told) > 12
        request = next((line for line in brief.advice if line.id == "de-icing-request"), None)
        if request is not None:
            tally[request.status] += 1
        if dry_and_windy_or_overcast(report):
            windy["briefs"] += 1
            frost = [line for line in brief.advice if line.id in FROST_LINES and line.status == "possible"
                     and any(item.quantity in FROST for item in line.because)]  # fmt: skip
            windy["possible frost"] += bool(frost)
    columns = ("expected", "possible", "cannot tell", "over 12 lines")
    out = [f"| month | briefs | de-icing request {' | '.join(columns)} |", "|---|---|---|---|---|---|"]
    for name, tally in sorted(month.items()):
        shares = [f"{100 * tally[key] / tally['briefs']:.1f} %" for key in columns]
        out.append(f"| {name} | {tally['briefs']} | " + " | ".join(shares) + " |")
    share = 100 * windy["possible frost"] / max(1, windy["briefs"])
    out += ["", f"Below +10 °C, nothing falling, wind over 10 kt or overcast below 1500 m: {windy['briefs']} briefs, "
            f"{share:.1f} % with a possible frost line (at most a third is the aim)."]  # fmt: skip
    middle = sorted(lines.elements())
    out.append(f"Lines told: median {middle[len(middle) // 2]}, 90th percentile {middle[len(middle) * 9 // 10]}.")
    return "\n".join(out) + "\n"


if __name__ == "__main__":
    table = main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1)
    sys.stdout.write(table)
