"""Reads and checks everything that a plan is made from. The one place of the planner that opens what a user names."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from advisor.checklist import aircraft, revision
from advisor.errors import ChecklistError
from advisor.slots import demand, replan
from advisor.slots.files import actuals, holdover, pads, schedule
from advisor.slots.night import Night


def read_night(
    departures: Path,
    reports: Sequence[str],
    *,
    now: int,
    pads_file: Path,
    place: str | None = None,
    checklist: Path | None = None,
    previous: Path | None = None,
    happened: Path | None = None,
    inside: bool = False,
) -> Night:
    """A night from its files, for the command and for the server.

    departures: the schedule; reports: texts; now: seconds since 1970 UTC; pads_file: it names the holdover file and
    may name the place; place: goes before that; checklist: the operator's folder; previous: the plan before this one;
    happened: actuals, what has happened so far.
    inside: refuse a holdover file that lies outside the pads file's folder (for the server, whose pads come from afar).
    Raises ReportError, DepartureError or ChecklistError, each with what is wrong, where, and what would be right.
    """
    loaded = revision.load(checklist)
    fleet = aircraft.load_profiles(checklist)
    rows = schedule.read(departures, fleet, now)
    night_pads = pads.load(pads_file, now)
    last = max(max(row.off_block, row.take_off_until or 0) for row in rows)
    weather = demand.read_weather(reports, now, last, place or night_pads.place)
    table = None
    if night_pads.holdover is not None:
        if inside and not night_pads.holdover.resolve().is_relative_to(pads_file.resolve().parent):
            hint = "give the name of a file beside the pads file"
            raise ChecklistError("holdover leads out of its folder", where=str(pads_file), hint=hint)
        table = holdover.load(night_pads.holdover, now, last, night_pads.treatment.fluid, night_pads.treatment.dilution)
    before = None if previous is None else replan.read(previous)
    so_far = {} if happened is None else actuals.read(happened, rows, [pad.name for pad in night_pads.pads], now)
    return Night(rows, weather, night_pads, loaded, fleet, table, before, so_far)
