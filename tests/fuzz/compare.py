"""Tries one target in another way than `python -m tests.fuzz`, to see which finds more. See FINDINGS.md.

python -m tests.fuzz.compare WAY TARGET SECONDS FOLDER [ROUND]

WAY: own, the mutator of this folder; hypothesis, with its examples kept in FOLDER; atheris, guided by what of the
advisor is reached, its corpus kept in FOLDER; both, atheris with changes of our mutator in every other input. atheris
is no dependency of the project: `pip install atheris` into an environment of its own, with the other libraries on
PYTHONPATH. SECONDS: of processor. A line of JSON is added to FOLDER/WAY.jsonl.
"""

from __future__ import annotations

import json
import os
import re
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from random import Random

from tests.fuzz import seeds
from tests.fuzz.faults import kind
from tests.fuzz.mutate import ODD, mutated

# of the corpus, so that no way spends its time on reading what it begins with
REAL = 500
SLOW_S = 2.0


class Tried:
    """What was tried on one target, and the kinds of fault with the second and the number at which each came."""

    def __init__(self, way: str, target: str, seconds: float, folder: Path, round_number: int) -> None:
        self.way, self.target, self.seconds, self.folder, self.round_number = way, target, seconds, folder, round_number
        self.texts = seeds.seeds(True, REAL)[target]
        self.read: Callable[[str], None] = lambda text: None
        self.inputs = 0
        self.kinds: dict[str, tuple[float, int, str]] = {}
        self.begun = time.process_time()

    def spent(self) -> float:
        return time.process_time() - self.begun

    def over(self) -> bool:
        return self.spent() >= self.seconds

    def one(self, text: str) -> None:
        self.inputs += 1
        start = time.process_time()
        try:
            self.read(text)
        except Exception as error:
            self.kinds.setdefault(kind(error), (round(self.spent(), 1), self.inputs, text[:1000]))
        if time.process_time() - start > SLOW_S:
            self.kinds.setdefault("slow", (round(self.spent(), 1), self.inputs, text[:1000]))

    def write(self) -> None:
        row = {"target": self.target, "round": self.round_number, "seconds": round(self.spent(), 1)}
        with (self.folder / f"{self.way}.jsonl").open("a") as file:
            file.write(json.dumps({**row, "inputs": self.inputs, "kinds": self.kinds}) + "\n")
        print(f"{self.way} {self.target}: {self.inputs:,} inputs in {self.spent():.0f} s, kinds: {list(self.kinds)}")
        sys.stdout.flush()


def readers() -> dict[str, Callable[[str], None]]:
    from tests.fuzz.targets import targets

    return targets(Path(tempfile.mkdtemp()))


def own(tried: Tried) -> None:
    tried.read = readers()[tried.target]
    tried.begun = time.process_time()
    while not tried.over():
        tried.one(mutated(Random(f"31 {tried.round_number} {tried.target} {tried.inputs}"), tried.texts))
    tried.write()


def hypothesis(tried: Tried) -> None:
    """The same kinds of change, each choice drawn by hypothesis, which steers towards longer texts."""
    from hypothesis import HealthCheck, given, seed, settings, target
    from hypothesis import strategies as st
    from hypothesis.database import DirectoryBasedExampleDatabase

    tried.read = readers()[tried.target]
    parts_of = re.compile(r"\s+|[<>=\",;{}\[\]()]|[^\s<>=\",;{}\[\]()]+").findall
    known = sorted({part for text in tried.texts for part in parts_of(text)})
    signs = st.lists(st.sampled_from("0123456789/ABCKMPSTVZ+- .:\n="), max_size=4).map("".join)
    piece = st.one_of(st.sampled_from(ODD), st.sampled_from(known), st.text(max_size=5), signs)
    spot = st.integers(0, 400)
    change = st.tuples(
        st.sampled_from(("drop", "twice", "swap", "put", "put", "sign", "sign", "cut")), spot, spot, piece
    )

    def changed(drawn: tuple[str, list[tuple[str, int, int, str]]]) -> str:
        parts = parts_of(drawn[0])
        for what, first, second, new in drawn[1]:
            if parts:
                _change(parts, what, first % len(parts), second, new)
        return "".join(parts)

    mutants = st.tuples(st.sampled_from(tried.texts), st.lists(change, min_size=1, max_size=6)).map(changed)
    examples = DirectoryBasedExampleDatabase(tried.folder / "examples" / tried.target)
    batch = 0
    tried.begun = time.process_time()
    while not tried.over():
        batch += 1

        @seed(tried.round_number * 1000 + batch)
        @settings(database=examples, max_examples=1000, deadline=None, suppress_health_check=list(HealthCheck))
        @given(st.one_of(mutants, mutants, mutants, st.text()))
        def some(text: str) -> None:
            target(float(min(len(text), 4000)))
            if not tried.over():
                tried.one(text)

        some()
    tried.write()


def _change(parts: list[str], what: str, at: int, second: int, new: str) -> None:
    if what == "drop":
        del parts[at : at + 1 + second % 5]
    elif what == "twice":
        parts[at:at] = parts[at : at + 1 + second % 8] * (1 + second % 3)
    elif what == "swap":
        other = second % len(parts)
        parts[at], parts[other] = parts[other], parts[at]
    elif what == "put":
        parts[at : at + second % 2] = [new, *([" "] if second % 3 else [])]
    elif what == "sign":
        spot = second % (len(parts[at]) + 1)
        parts[at] = parts[at][:spot] + new[:1] + parts[at][spot + second % 2 :]
    else:
        del parts[at:]


def guided(tried: Tried) -> None:
    import atheris

    with atheris.instrument_imports(include=["advisor"]):
        tried.read = readers()[tried.target]
    corpus = tried.folder / tried.way / tried.target
    corpus.mkdir(parents=True, exist_ok=True)
    for at, text in enumerate(tried.texts):
        (corpus / f"given-{at}").write_bytes(text.encode())
    words = tried.folder / "words.txt"
    quoted = ["".join(f"\\x{byte:02x}" for byte in word.encode()) for word in ODD if 0 < len(word) < 60]
    words.write_text("".join(f'"{word}"\n' for word in quoted))

    def one(data: bytes) -> None:
        if not tried.inputs:
            tried.begun = time.process_time()
        tried.one(data.decode("utf-8", "replace"))
        if tried.over():
            tried.write()
            os._exit(0)

    def change(data: bytes, most: int, number: int) -> bytes:
        random = Random(number)
        if random.random() < 0.5:
            return bytes(atheris.Mutate(data, most))
        text = data.decode("utf-8", "replace")
        texts = tried.texts if random.random() < 0.3 else [text, text, text, random.choice(tried.texts)]
        return mutated(random, texts).encode("utf-8", "replace")[:most]

    given = [sys.argv[0], str(corpus), f"-seed={31 + tried.round_number}", f"-dict={words}", "-timeout=60"]
    given += ["-rss_limit_mb=4000", "-verbosity=0", f"-artifact_prefix={tried.folder}/"]
    atheris.Setup(given, one, **({"custom_mutator": change} if tried.way == "both" else {}))
    atheris.Fuzz()


WAYS = {"own": own, "hypothesis": hypothesis, "atheris": guided, "both": guided}


def main() -> None:
    if len(sys.argv) < 5 or sys.argv[1] not in WAYS:
        raise SystemExit(__doc__)
    way, target, seconds, folder = sys.argv[1], sys.argv[2], float(sys.argv[3]), Path(sys.argv[4])
    folder.mkdir(parents=True, exist_ok=True)
    WAYS[way](Tried(way, target, seconds, folder, int(sys.argv[5]) if len(sys.argv) > 5 else 1))


if __name__ == "__main__":
    main()
