"""Environmental-condition pre-check advisor: what the apron will be like, and what follows from it.

The door of the package: `advise` gives a `Brief` of a departure, `print` shows it, `to_json` writes it. Everything is
loaded on first use, so that importing the package costs nothing; type checkers, `dir` and `help` see it all the same.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime
    from pathlib import Path

    from advisor.brief.model import Brief as Brief
    from advisor.brief.model import to_json as to_json
    from advisor.checklist.profile import Profile
    from advisor.checklist.rules import Checklist as Checklist
    from advisor.conditions import Place as Place
    from advisor.errors import AdvisorError as AdvisorError
    from advisor.errors import ChecklistError as ChecklistError
    from advisor.errors import DepartureError as DepartureError
    from advisor.errors import FeedError as FeedError
    from advisor.errors import PlanError as PlanError
    from advisor.errors import ReportError as ReportError
    from advisor.report.forecast import Forecast as Forecast
    from advisor.report.model import Report as Report

__version__ = "0.1.0"
# where each name is defined; what stands here stands above for type checkers, and a test compares the two
_HOMES = {
    "Brief": "advisor.brief.model",
    "to_json": "advisor.brief.model",
    "Checklist": "advisor.checklist.rules",
    "Place": "advisor.conditions",
    "Report": "advisor.report.model",
    "Forecast": "advisor.report.forecast",
    "AdvisorError": "advisor.errors",
    "ReportError": "advisor.errors",
    "DepartureError": "advisor.errors",
    "ChecklistError": "advisor.errors",
    "PlanError": "advisor.errors",
    "FeedError": "advisor.errors",
}
__all__ = [  # noqa: RUF022 (what people come for stands first)
    "advise",
    "Brief",
    "to_json",
    "Place",
    "Report",
    "Forecast",
    "Checklist",
    "AdvisorError",
    "ReportError",
    "DepartureError",
    "ChecklistError",
    "PlanError",
    "FeedError",
    "__version__",
]


def advise(
    reports: str | Sequence[str | Report | Forecast],
    *,
    off_block: str | datetime,
    now: str | datetime,
    place: str | Place | None = None,
    aircraft: str | None = None,
    checklist: str | Path | Checklist | None = None,
    heading: float | str | None = None,
    parked_since: str | datetime | None = None,
    treated_at: str | datetime | None = None,
    seen: str | None = None,
    looked_at: str | datetime | None = None,
    fuel_temperature: float | str | None = None,
    fuel_fill: float | str | None = None,
    walk_round: str | tuple[datetime, datetime] | None = None,
    doors_open: str | tuple[datetime, datetime] | None = None,
    take_off: str | datetime | None = None,
    fleet: Mapping[str, Profile] | None = None,
    notes: Sequence[str] = (),
) -> Brief:
    """Brief of a departure: what to take, look at, ask for and leave shut, and why.

    This is the edge: the files of the checklist and of the aircraft profiles are read here, nothing behind it opens
    one. The same arguments give the same brief; the clock is never read.

    Parameters
    ----------
    reports
        Texts or readings of METAR, SPECI, TAF or IWXXM of one station, in any order.
    off_block
        An aware datetime, RFC 3339, or a time of day such as ``0640Z``. So are the other times below.
    now
        The present, an aware datetime or RFC 3339, never a time of day.
    place
        Location indicator, ``"LAT,LON"`` in degrees, or a Place. Default: the station of the reports.
    aircraft
        Id of a profile. Default: as the checklist says.
    checklist
        An operator's folder, laid over what is shipped, or a Checklist already loaded. Default: what is shipped.
    heading
        Of the nose on the stand, degrees true. Default: not known, the worst direction counts.
    parked_since
        Since when the aircraft stands outside.
    treated_at
        When it was last treated against ice.
    seen
        What somebody saw on the aircraft who looked: ``"nothing"``, ``"frost"``, ``"snow"`` or ``"ice"``. Nothing
        takes frost away that had not formed by then, for an hour; it lowers nothing that falls.
    looked_at
        When that was; default ``now``. Takes the same forms as ``treated_at``.
    fuel_temperature
        Of the fuel in the wing tanks, °C, -60 to 60, or a text with a unit such as ``"17 degF"``.
    fuel_fill
        How full the wing tanks are, percent, 0 to 100.
    walk_round, doors_open
        Start and end, as a pair or as ``"START/END"``. Default: by the checklist.
    take_off
        Default: by the checklist.
    fleet
        Profiles already loaded, by id. Default: those of the checklist's folder, over the shipped ones.
    notes
        What else has to be said at the top, as of a feed.

    Returns
    -------
    Brief
        Frozen; ``print`` shows its text form, `to_json` writes it.

    Raises
    ------
    ReportError
        No report, one without any use, or reports of two stations and no place.
    DepartureError
        A time, place, heading, aircraft or window that cannot be used.
    ChecklistError
        With every fault of every file of the folder.
    """
    from advisor import places
    from advisor.brief import advise as within

    made_by, profiles = _loaded(checklist, fleet)
    _shows_as_text()
    return within.advise(
        reports,
        off_block=off_block,
        now=now,
        place=place,
        aircraft=aircraft,
        checklist=made_by,
        heading=heading,
        parked_since=parked_since,
        treated_at=treated_at,
        seen=seen,
        looked_at=looked_at,
        fuel_temperature=fuel_temperature,
        fuel_fill=fuel_fill,
        walk_round=walk_round,
        doors_open=doors_open,
        take_off=take_off,
        fleet=profiles,
        gazetteer=places,
        notes=notes,
    )


@cache
def _shipped() -> Checklist:
    from advisor.checklist import revision

    return revision.load()


def _loaded(
    checklist: str | Path | Checklist | None, fleet: Mapping[str, Profile] | None
) -> tuple[Checklist, Mapping[str, Profile]]:
    """Checklist and profiles as given, or from their files. What is shipped is read once, a folder every time."""
    from advisor.checklist import revision

    if checklist is None:
        rules = _shipped()
    else:
        rules = checklist if isinstance(checklist, revision.Checklist) else revision.load(checklist)
    return rules, fleet or rules.profiles or _shipped().profiles


def _shows_as_text() -> None:
    """Let `print(brief)` show the text form.

    The brief lies below the rooms that show it and knows none of them. This door lies above both, so it is here that
    the two meet; the text's room is loaded when a brief is first shown.
    """
    from advisor.brief.model import Brief

    def text(brief: Brief) -> str:
        from advisor.render.text import render

        return render(brief).removesuffix("\n")

    Brief.__str__ = text  # type: ignore[assignment, method-assign]


if not TYPE_CHECKING:
    # hidden from type checkers, so that a name which is not there stays an error for them

    def __getattr__(name):
        """Load a public name from its home when it is first asked for."""
        if name not in _HOMES:
            raise AttributeError(f"module 'advisor' has no attribute {name!r}")
        from importlib import import_module

        attribute = getattr(import_module(_HOMES[name]), name)
        if name == "Brief":
            _shows_as_text()
        globals()[name] = attribute
        return attribute

    def __dir__():
        return sorted({*globals(), *__all__})
