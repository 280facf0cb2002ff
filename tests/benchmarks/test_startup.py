"""How long `advisor brief` takes as a whole process, beside an interpreter that loads what it cannot do without."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

import pytest

PAIRS = 15
MOST = 2.0
BARE = [sys.executable, "-c", "import numpy, metar.Metar, astral.sun"]
REPORT = "METAR ZZZA 100520Z 24008KT 9999 FEW020 M00/M02 Q1013"
BRIEF = ["brief", "--report", REPORT, "--off-block", "0640Z", "--now", "2027-01-10T05:25:00Z", "--place"]
# both as people do: coordinates, or a real indicator, which has to be looked up
PLACES = {"coordinates": "61.4,9.8", "a station": "ENVA"}


def command() -> list[str]:
    """The installed command, or the module where there is none."""
    script = Path(sys.executable).with_name("advisor")
    return [str(script)] if script.exists() else [sys.executable, "-m", "advisor"]


def seconds(words: list[str]) -> tuple[float, float]:
    """Processor and wall time of a process, byte code kept as it is for anybody who uses the command."""
    surroundings = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    start = time.perf_counter()
    child = subprocess.Popen(words, env=surroundings, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    assert child.returncode == 0
    return used.ru_utime + used.ru_stime, time.perf_counter() - start


@pytest.mark.parametrize("where", PLACES)
def test_a_brief_starts_in_about_the_time_of_its_libraries(where: str, capsys: pytest.CaptureFixture[str]) -> None:
    words = [*command(), *BRIEF, PLACES[where]]
    for _ in range(2):  # byte code and the disk's cache
        seconds(words), seconds(BARE)
    pairs = [(seconds(words), seconds(BARE)) for _ in range(PAIRS)]
    # once it is in the disk's cache a start is all work: processor time does not hang on what else the machine does
    ratio = statistics.median(whole[0] / bare[0] for whole, bare in pairs)
    whole, bare = (statistics.median(wall for _, wall in column) * 1000 for column in zip(*pairs, strict=True))
    by_wall = statistics.median(whole[1] / bare[1] for whole, bare in pairs)
    with capsys.disabled():
        print(
            f"\nadvisor brief with {where}: {whole:.0f} ms, its libraries alone {bare:.0f} ms; "
            f"ratio {ratio:.2f} of processor time, {by_wall:.2f} of the clock's"
        )
    assert ratio <= MOST
