"""Everything that is wrong with what a form asks, at once: each field goes to the reader that the brief itself uses."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from functools import partial

from advisor import places
from advisor.brief import inputs
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist
from advisor.departure import read_at_or_before, read_heading, read_moment, read_off_block, stamp, to_unix, windows_of
from advisor.errors import AdvisorError, DepartureError
from advisor.web.model import Asked

Steps = dict[str, Callable[[], object]]


def faults(
    asked: Asked, clock: datetime, checklist: Checklist, fleet: Mapping[str, Profile]
) -> dict[str, AdvisorError]:
    """What is wrong, by field; fields that are not given are not looked at."""
    errors: dict[str, AdvisorError] = {}
    if asked.now is not None:
        errors |= _tried({"now": partial(read_moment, asked.now, what="now")})
    now = clock if asked.now is None or errors else read_moment(asked.now, what="now")
    errors |= _tried(_alone(asked, now, fleet))
    if "off_block" not in errors:
        errors |= _tried(_windows(asked, to_unix(now), checklist, fleet))
    return errors


def _tried(steps: Steps) -> dict[str, AdvisorError]:
    errors: dict[str, AdvisorError] = {}
    for name, act in steps.items():
        try:
            act()
        except AdvisorError as error:
            errors[name] = error
    return errors


def _alone(asked: Asked, now: datetime, fleet: Mapping[str, Profile]) -> Steps:
    """What can be read without the rest."""
    now_s = to_unix(now)
    steps: Steps = {
        "off_block": partial(read_off_block, asked.off_block, now_s),
        "aircraft": partial(_aircraft, asked.aircraft, fleet),
        "parked_since": partial(_passed, asked.parked_since, now_s, "parked-since"),
        "treated_at": partial(_passed, asked.treated_at, now_s, "treated-at"),
        "looked_at": partial(_looked, asked, now_s),
        "heading": partial(read_heading, asked.heading),
        "fuel_temperature": partial(inputs.read_within, asked.fuel_temperature, "degC", "fuel-temperature", -60, 60),
        "fuel_fill": partial(inputs.read_within, asked.fuel_fill, "percent", "fuel-fill", 0, 100),
    }
    if asked.reports:
        steps["reports"] = partial(inputs.read_texts, asked.reports, now)
    if asked.place is not None:
        steps["place"] = partial(places.find, asked.place)
    return steps


def _windows(asked: Asked, now: int, checklist: Checklist, fleet: Mapping[str, Profile]) -> Steps:
    """What is counted from off-block, each by itself."""
    profile = fleet.get(asked.aircraft or "") or fleet[checklist.default_aircraft]
    read = partial(
        windows_of, read_off_block(asked.off_block, now), now, checklist.windows[profile.windows], treated=True
    )
    spans = {name: span for name in ("walk_round", "doors_open") if (span := getattr(asked, name)) is not None}
    steps: Steps = {name: partial(read, given={name: span}) for name, span in spans.items()}
    if asked.take_off is not None:
        steps["take_off"] = partial(read, take_off=asked.take_off)
    return steps


def _aircraft(wanted: str | None, fleet: Mapping[str, Profile]) -> None:
    if wanted is not None and wanted not in fleet:
        raise DepartureError(f"{wanted[:40]!r} is not known", where="aircraft", hint=f"give one of {', '.join(fleet)}")


def _looked(asked: Asked, now: int) -> None:
    _passed(asked.looked_at, now, "looked-at")
    if asked.looked_at is not None and asked.seen is None:
        raise DepartureError("what was seen is not said", where="looked-at", hint="say what was seen, or leave it out")


def _passed(text: str | None, now: int, what: str) -> None:
    if text is not None and (at := read_at_or_before(text, now, what=what)) > now:
        raise DepartureError(f"{stamp(at)} is after now", where=what, hint="give a time that has passed")
