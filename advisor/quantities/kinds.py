"""What a quantity is: one row of the table that everything else reads."""

from __future__ import annotations

import math
from typing import Any

from msgspec import Struct

NUMBER, FLAG, CODE, SET = "number", "flag", "code", "set"
EACH_CASE, EACH_TIME, EACH_DOOR = "case, time", "time", "door, case, time"

# how the worse of two values is taken
LOWER, HIGHER = "lower", "higher"
ANY = "any"  # yes outranks not known, which outranks no
ALL = "all"  # what either allows
SAME = "same or not known"
FIRST = "first"
BY_WIND, BY_CLOUD = "by the case's wind", "by the case's cloud"
NONE = ""  # never joined: derived, or of the departure


class Quantity(Struct, frozen=True, kw_only=True):
    """One row of the vocabulary.

    name: with its unit. kind: "number" (float64, NaN missing), "flag" (int8 0, 1 or -1), "code" (int8, -1 missing,
    values by position) or "set" (int64, a bit a class). decimals: as shown. low, high: the range a threshold may lie
    in. values: of a code. not_told: of a set, the class for
    what nobody told. shape: over what it varies.
    shown: part of a brief's timeline.
    worse: how the worse of two values is taken where two readings are joined. part: which part of a forecast says it:
    "wind", "visibility", "cloud" or "weather". passes: over two hours after the report that says it. foretold: a
    forecast would say it, so that without one it is not known later.
    missing: the input to name where it is not known, "" for its own name. settled_by: what decides it where the report
    was understood. unbounding: where it is yes, what rests on it has no bound.
    absent: the flag that says where there is no such value at all, so that a comparison with it is no. no_value: when
    there is none, in words. also_called: what the trade calls it. levels: of a number whose whole values have names.
    """

    name: str
    unit: str = ""
    decimals: int = 0
    meaning: str
    low: float = -math.inf
    high: float = math.inf
    kind: str = NUMBER
    values: tuple[str, ...] = ()
    not_told: int = 0
    shape: str = EACH_CASE
    shown: bool = False
    worse: str = NONE
    part: str = ""
    passes: bool = False
    foretold: bool = False
    missing: str = ""
    settled_by: tuple[str, ...] = ()
    unbounding: bool = False
    absent: str = ""
    no_value: str = ""
    also_called: tuple[str, ...] = ()
    levels: tuple[str, ...] = ()

    def said(self, value: float) -> str:
        """A value in words: a number with its unit, yes or no, the word of a code or level; "unknown" where missing."""
        if not math.isfinite(value) or (self.kind != NUMBER and value < 0):
            return "unknown"
        if self.kind == FLAG:
            return "yes" if value else "no"
        names = self.values if self.kind == CODE else self.levels
        if names and float(value).is_integer() and 0 <= value < len(names):
            return names[int(value)]
        return f"{value:.{self.decimals}f} {self.unit}".strip().replace("-", "−")


def number_row(name: str, unit: str, decimals: int, span: tuple[float, float], meaning: str, **more: Any) -> Quantity:
    """A number with the range that a threshold may lie in; more: as for Quantity."""
    return Quantity(name=name, unit=unit, decimals=decimals, meaning=meaning, low=span[0], high=span[1], **more)


def flag_row(name: str, meaning: str, **more: Any) -> Quantity:
    """A flag; more: as for Quantity."""
    return Quantity(name=name, meaning=meaning, low=0, high=1, kind=FLAG, **more)


def weather_row(name: str, meaning: str, **more: Any) -> Quantity:
    """A flag of the weather groups: over two hours after the report, said by a forecast's weather."""
    return flag_row(name, meaning, worse=ANY, part="weather", passes=True, missing="precipitation", **more)


def code_row(name: str, values: tuple[str, ...], meaning: str, **more: Any) -> Quantity:
    """A code whose values are named by position; more: as for Quantity."""
    return Quantity(name=name, meaning=meaning, kind=CODE, values=values, **more)
