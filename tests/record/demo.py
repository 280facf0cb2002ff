"""Invented walks, drawn so that what should come out is known: every one is marked as invented.

python -m tests.record.demo DIR [WALKS] [SEED]      writes them into a record under DIR
"""

from __future__ import annotations

import random
import sys
from datetime import timedelta
from pathlib import Path

from advisor.record.database import address
from advisor.record.store import Addition, Record
from tests.record.places import Clock, opening

# how often each status is found, in this invented winter
SHARES = {"expected": 0.85, "likely": 0.6, "possible": 0.2, "cannot tell": 0.1}
LOOKED = 0.9
MISSED = 0.05
RULES = {"wing-upper-surface": "wings", "leading-edge-and-tail": "tail", "probes-and-ports": "nose"}
ALIKE = {"weight": "must", "text": "Look"}
STATIONS = ("ZZZA", "ZZZB", "ZZZC")


def write(record: Record, clock: Clock, walks: int, seed: int) -> None:
    """Write so many invented walks, a few a day."""
    draw = random.Random(seed)
    for at in range(walks):
        clock.at += timedelta(hours=draw.uniform(2, 14))
        name = f"invented-{at}"
        lines = [
            {
                "id": rule,
                "kind": "checkpoint",
                "status": draw.choice(list(SHARES)),
                "weight": "must",
                "zone": zone,
                "text": "Look",
            }
            for rule, zone in RULES.items()
        ]
        record.add(opening(name, lines=lines, station=draw.choice(STATIONS), invented=True))
        for line in lines:
            if draw.random() < LOOKED:
                seen = draw.random() < SHARES[line["status"]]
                found = draw.choice(("frost", "snow", "ice")) if seen else "nothing seen"
                record.add(Addition("found", name, {"walk": name, "line": line["id"], "found": found}))
        if draw.random() < MISSED:
            record.add(Addition("found", name, {"walk": name, "zone": "left-engine", "found": "ice"}))
        record.add(Addition("signed", name, {"walk": name, "by": "invented", "role": "invented"}))


def main() -> None:
    """Write a demonstration record."""
    folder = Path(sys.argv[1])
    clock = Clock("2026-11-01T05:00:00+00:00")
    record = Record(address(folder, None), clock)
    write(record, clock, int(sys.argv[2]) if len(sys.argv) > 2 else 400, int(sys.argv[3]) if len(sys.argv) > 3 else 1)
    record.close()


if __name__ == "__main__":
    main()
