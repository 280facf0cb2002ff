"""Environmental-condition pre-check advisor: what the apron will be like, and what follows from it.

The public names are loaded on first use, so that importing the package costs nothing.
"""

from __future__ import annotations

from typing import Any

__version__ = "0.1.0"
_HOMES = {
    "advise": "advisor.brief.advise",
    "Brief": "advisor.brief.model",
    "AdvisorError": "advisor.errors",
    "ReportError": "advisor.errors",
    "DepartureError": "advisor.errors",
    "ChecklistError": "advisor.errors",
    "PlanError": "advisor.errors",
    "FeedError": "advisor.errors",
}
__all__ = [*_HOMES, "__version__"]


def __getattr__(name: str) -> Any:
    """Load a public name from its home when it is first asked for."""
    if name not in _HOMES:
        raise AttributeError(f"module 'advisor' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)
