"""The libraries that only archives need, loaded when first asked for."""

from __future__ import annotations

import importlib
from types import ModuleType

from advisor.errors import AdvisorError


def library(name: str) -> ModuleType:
    """A library of the extra "archive". Raises AdvisorError with the command that installs it."""
    try:
        return importlib.import_module(name)
    except ImportError:
        raise AdvisorError(
            f"{name.partition('.')[0]} is not installed", where="replay", hint="pip install 'advisor[archive]'"
        ) from None
