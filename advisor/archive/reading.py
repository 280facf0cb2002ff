"""Reports of an archive read into a table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from advisor.archive.table import Bools, Sets, Table, empty, put
from advisor.errors import ReportError
from advisor.report import metar


@dataclass(frozen=True)
class Read:
    """What was read. table: a row a report, those that cannot be read empty; refused: their positions, and why."""

    table: Table
    refused: dict[int, str]

    @property
    def usable(self) -> Bools:
        """Reports with anything to go by: read, and not NIL."""
        made: Bools = self.table.usable & ~self.table.nil
        made[list(self.refused)] = False
        return made


def read(texts: Sequence[str], at_s: NDArray[np.int64]) -> Read:
    """Read reports in full. at_s: their times, for month and year, seconds since 1970 UTC."""
    weather, told = Sets(), Sets()
    table = empty(len(texts), weather, told)
    refused: dict[int, str] = {}
    for row, text in enumerate(texts):
        try:
            report = metar.read(text, now=datetime.fromtimestamp(int(at_s[row]), UTC))
        except ReportError as wrong:
            refused[row] = wrong.what
            continue
        put(table, [row], [report], weather, told)
    return Read(table, refused)
