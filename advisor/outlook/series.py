"""The reports of one station in order of time, and which of them holds when."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from advisor.conditions import Floats
from advisor.report.model import Report


def in_order(reports: Sequence[Report]) -> tuple[Report, ...]:
    """Reports of one station in order of time; NIL left out, corrections in place of what they correct, no doubles."""
    best: dict[float, Report] = {}
    for report in sorted(reports, key=lambda one: (one.issued, one.corrected, one.kind == "SPECI", one.raw)):
        if not report.nil:
            best[report.issued.timestamp()] = report
    return tuple(best.values())


def beside(reports: Sequence[Report], used: Sequence[Report]) -> tuple[Report, ...]:
    """The same series with a report in place of each that another one of the same minute contradicts; () for none.

    used: in order, as in_order gives them. A correction contradicts nothing: it stands in place of what it corrects.
    """
    others = {}
    first: dict[datetime, Report] = {}
    for used_report in used:
        first.setdefault(used_report.issued, used_report)
    for report in reports:
        other = first.get(report.issued)
        if (
            other is not None
            and report is not other
            and not report.nil
            and report.corrected == other.corrected
            and _said(report) != _said(other)
        ):
            others[report.issued] = report
    return tuple(others.get(one.issued, one) for one in used) if others else ()


def _said(report: Report) -> Report:
    """A report without its spelling."""
    return replace(report, kind="", raw="", groups=())


def newest(reports: Sequence[Report]) -> Report | None:
    """The report to go by: the last one issued, None where none has anything to go by."""
    used = in_order(reports)
    return used[-1] if used else None


def governing(used: Sequence[Report], unix_s: Floats) -> NDArray[np.intp]:
    """Index of the report that holds at each time: the last one issued, the first one before that."""
    issued = np.array([report.issued.timestamp() for report in used])
    return np.maximum(np.searchsorted(issued, unix_s, side="right") - 1, 0)
