"""Tries mutated texts on everything that reads what others wrote. See FINDINGS.md.

python -m tests.fuzz --seconds 1200 [--seed 1] [--target metar] [--corpus] [--start 0] [--count 0]

--start: the number of the first input of each target, to go on behind a run that was made before.
--count: so many inputs of each target, however long that takes; 0 is as many as the seconds allow.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path
from random import Random

from tests.fuzz.faults import kind
from tests.fuzz.memory import keep_answers
from tests.fuzz.mutate import mutated
from tests.fuzz.seeds import seeds
from tests.fuzz.targets import targets

FOUND = Path(__file__).parent / "found"
# of the time, by how much can be tried in it
SHARES = {
    "metar": 6,
    "taf": 4,
    "bulletin": 2,
    "iwxxm": 3,
    "condition": 2,
    "folder": 1,
    "replay": 1,
    "brief": 2,
    "http": 2,
}


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--target", action="append")
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--count", type=int, default=0)
    parser.add_argument("--corpus", action="store_true", help="with the real reports beside the checkout")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        to_try = targets(Path(name))
        wanted = asked.target or list(to_try)
        texts = seeds(asked.corpus)
        share = asked.seconds / sum(SHARES.get(one, 1) for one in wanted)
        keep_answers()
        faults: dict[str, str] = {}
        total = 0
        for target in wanted:
            until, begun, count = time.monotonic() + share * SHARES.get(target, 1), time.monotonic(), asked.start
            slowest, slow_text = 0.0, ""
            while count < asked.start + asked.count if asked.count else time.monotonic() < until:
                text = mutated(Random(f"{asked.seed} {target} {count}"), texts[target])
                start = time.process_time()
                try:
                    to_try[target](text)
                except Exception as error:
                    if faults.setdefault(f"{target}: {kind(error)}", text) == text:
                        print(f"{target} {count}: {kind(error)}: {error}\n  {text[:400]!r}", flush=True)
                took = time.process_time() - start
                if took > slowest:
                    slowest, slow_text = took, text
                count += 1
            made = count - asked.start
            rate = made / (time.monotonic() - begun)
            print(
                f"{target}: {made:,} inputs, {rate:,.0f} a second, slowest {slowest * 1000:.0f} ms of processor "
                f"({len(slow_text):,} signs)",
                flush=True,
            )
            total += made
    FOUND.mkdir(exist_ok=True)
    for at, (what, text) in enumerate(faults.items()):
        (FOUND / f"{what.split(':')[0]}-{asked.seed}-{at}.txt").write_bytes(text.encode("utf-8", "replace"))
    print(
        f"{total:,} inputs, {len(faults)} kinds of fault; kept in {FOUND}" if faults else f"{total:,} inputs, no fault"
    )
    raise SystemExit(1 if faults else 0)


if __name__ == "__main__":
    main()
