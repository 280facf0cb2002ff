"""The libraries that only archives need, loaded when first asked for."""

from __future__ import annotations

import importlib
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.errors import AdvisorError


def library(name: str) -> ModuleType:
    """A library of the extra "archive". Raises AdvisorError with the command that installs it."""
    try:
        return importlib.import_module(name)
    except ImportError:
        raise AdvisorError(
            f"{name.partition('.')[0]} is not installed", where="replay", hint="pip install 'advisor[archive]'"
        ) from None


def distinct(numbers: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.intp]]:
    """The distinct values of an array, in the order in which they come up, and which of them each is.

    By hashing, which a sort of all of them would take many times as long for.
    """
    encoded: Any = library("pyarrow").array(numbers).dictionary_encode()
    return encoded.dictionary.to_numpy(), encoded.indices.to_numpy().astype(np.intp)


def first_places(which: NDArray[np.intp], kinds: int) -> NDArray[np.intp]:
    """Where each of so many kinds comes up first. which: the kind at each place, every kind somewhere."""
    first = np.empty(kinds, dtype=np.intp)
    # of several written to one place the last stays
    first[which[::-1]] = np.arange(which.size)[::-1]
    return first
