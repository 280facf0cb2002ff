"""A fixed number of mutated texts on everything that reads what others wrote; what was found once stays tried."""

from __future__ import annotations

import difflib
import math
import textwrap
from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random

import msgspec
import pytest

from tests.fuzz.mutate import mutated
from tests.fuzz.seeds import seeds
from tests.fuzz.targets import targets

SEED = 20
# about a minute of one core in all; `python -m tests.fuzz` tries more
COUNTS = {
    "metar": 60_000,
    "taf": 40_000,
    "bulletin": 12_000,
    "iwxxm": 16_000,
    "condition": 100_000,
    "folder": 800,
    "schedule": 10_000,
    "pads": 3000,
    "actuals": 50_000,
    "replay": 1000,
    "brief": 600,
    "http": 600,
}
TEXTS = seeds(corpus=False)
# each failed once
FOUND = {
    "metar": [
        "KZZA 100550Z 6SM RA BR OVC019 07/04 A2966 RMK AO2 PK WND 02027/1243 SLP042 P9008 T00670044 $ $",
        "METAR ZZZA 100550Z COR VRB03KT CAVOK 24/10 A2992=  ZZZI 060520Z 11009KT 8000METAROVC920 00/M01RMK AO2",
        "METAR ZZZA 100550Z 24008KT 9999 M05/M07 Q0985 RMK PK WND 68530/15 4/999 I1999 SNINCR 99/999",
    ],
    "condition": ["wind_kt >= 1_0", "wind_kt >= 0x10", "wind_kt >= 3and fog", "wind_kt.8not in (3)", "always" * 300],
    "brief": [f"METAR ZZZA 100520Z 24008KT 9999 M00/M02 Q1013{chr(0xDCFF)}"],
    "schedule": ["x" * 200_000 + "\n"],
    "replay": ["station,valid,raw\nZZZA,9999-12-31T23:59:59Z,METAR ZZZA 101120Z 24007KT 9999 OVC040 05/M02 Q1002\n"],
}


@pytest.fixture(scope="module")
def tried(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Callable[[str], None]]]:
    yield targets(tmp_path_factory.mktemp("fuzz"))


@pytest.mark.long
@pytest.mark.parametrize("name", COUNTS)
def test_only_documented_refusals_and_nothing_dropped_or_out_of_bounds(
    name: str, tried: dict[str, Callable[[str], None]]
) -> None:
    for at in range(COUNTS[name]):
        text = mutated(Random(f"{SEED} {name} {at}"), TEXTS[name])
        try:
            tried[name](text)
        except Exception as error:
            pytest.fail(f"input {at}: {error!r}: {text[:2000]!r}")


@pytest.mark.parametrize(("name", "text"), [(name, text) for name, texts in FOUND.items() for text in texts])
def test_what_was_found_once_stays_mended(name: str, text: str, tried: dict[str, Callable[[str], None]]) -> None:
    tried[name](text)


def test_every_target_has_seeds_and_is_tried_here(tried: dict[str, Callable[[str], None]]) -> None:
    assert set(tried) == set(COUNTS) == set(TEXTS) and all(TEXTS.values())


def test_a_fault_would_be_seen() -> None:
    """The oracle itself: a reading that loses a group, a number beyond bounds, infinity in JSON."""
    from advisor.report import metar
    from tests.fuzz import targets as oracle

    read = metar.read("METAR ZZZA 100520Z 24008KT 9999 M00/M02 Q1013", now=oracle.NOW)
    with pytest.raises(AssertionError, match="dropped"):
        oracle.nothing_dropped(read, f"{read.raw} RERA")
    with pytest.raises(AssertionError, match="wind_kt"):
        import msgspec

        oracle.bounded(msgspec.structs.replace(read, wind_kt=400.0))
    with pytest.raises(AssertionError, match="JSON"):
        oracle.whole_json(b'{"a": Infinity}')


def test_a_folder_of_found_inputs_holds_none_that_still_fails(tried: dict[str, Callable[[str], None]]) -> None:
    for file in sorted((Path(__file__).parent / "found").glob("*.txt")):
        tried[file.name.split("-")[0]](file.read_bytes().decode("utf-8", "replace"))


def test_a_kept_answer_is_the_answer_and_belongs_to_who_asked() -> None:
    from tests.fuzz.memory import kept

    wrap = kept(textwrap.wrap)
    first = wrap("wind from 240 degrees at 8 knots", 12, break_on_hyphens=False)
    assert first == textwrap.wrap("wind from 240 degrees at 8 knots", 12, break_on_hyphens=False)
    first.append("changed")
    assert wrap("wind from 240 degrees at 8 knots", 12, break_on_hyphens=False) == first[:-1]
    assert wrap("wind from 240 degrees at 8 knots", 40, break_on_hyphens=False) != first[:-1]
    near = kept(difflib.get_close_matches)
    assert near("gusts", ["gust", "wind"], n=1) == difflib.get_close_matches("gusts", ["gust", "wind"], n=1)


def test_a_kind_of_fault_is_one_whatever_the_text_and_the_numbers() -> None:
    from tests.fuzz import targets as oracle
    from tests.fuzz.faults import kind

    def kind_of(what: Callable[[], None]) -> str:
        with pytest.raises(AssertionError) as fault:
            what()
        return kind(fault.value)

    lines = {kind_of(lambda text=text: oracle.one_line(ValueError(text))) for text in ("a\nb", "x" * 1500, "")}
    winds = {kind_of(lambda kt=kt: oracle.bounded(_Wind(kt))) for kt in (-4.0, 400.0, math.inf)}
    assert len(lines) == 1 and len(winds) <= 2 and all("wind_kt is" in one for one in winds)


class _Wind(msgspec.Struct):
    wind_kt: float
