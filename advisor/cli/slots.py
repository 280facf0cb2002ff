"""The command `slots`: opens what the user names, reads the clock, shows progress, keeps the best plan on Ctrl-C."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.cli.io import Decimal, WholeOption, output_option, present, texts_of, write
from advisor.errors import PlanError

if TYPE_CHECKING:
    from advisor.slots.result import Plan

FORMATS = ("text", "json", "html", "csv", "ics")
SECONDS = 20.0
MOST_NIGHTS = 10_000


@click.command("slots")
@click.argument("schedule", metavar="SCHEDULE.csv")
@click.argument("files", metavar="[REPORT]...", nargs=-1)
@click.option("--report", "reports", multiple=True, metavar="TEXT", help="Report text; may be repeated.")
@click.option("--pads", required=True, metavar="FILE.toml", help="Pads, treatment minutes, margins and prices.")
@click.option("--place", metavar="TEXT", help='Indicator or "LAT,LON". Default: the pads file\'s, else the station.')
@click.option("--now", metavar="TIME", help="Take this as the present, RFC 3339. Default: the system clock.")
@click.option("--checklist", metavar="DIR", help="The operator's folder, laid over what is shipped.")
@click.option("--previous", metavar="PLAN.json", help="The plan before: what has begun stays, few others move.")
@click.option("--actuals", metavar="FILE.csv", help="What has happened so far: off, at pad, begun, finished, departed.")
@click.option("--what-if", is_flag=True, help="Variants beside the plan: a pad fewer, longer treatment, the worst.")
@click.option(
    "--rehearse",
    type=WholeOption(1, MOST_NIGHTS),
    metavar="N",
    help="Carry the plan out on N drawn nights, beside first come, first served.",
)
@click.option("--seed", type=WholeOption(0, 2**32 - 1), default=0, show_default=True, help="Of the drawn nights.")
@click.option(
    "--time-limit",
    type=Decimal(0.1, 3600),
    default=SECONDS,
    show_default=True,
    metavar="S",
    help="Seconds for reading, planning, the order and all variants together.",
)
@click.option("--format", "form", type=click.Choice(FORMATS), default="text", show_default=True, help="What to print.")
@output_option
def command(
    schedule: str,
    files: tuple[str, ...],
    reports: tuple[str, ...],
    pads: str,
    place: str | None,
    now: str | None,
    checklist: str | None,
    previous: str | None,
    actuals: str | None,
    what_if: bool,
    rehearse: int | None,
    seed: int,
    time_limit: float,
    form: str,
    output: str | None,
) -> None:
    """Plan de-icing slots: who needs treatment, where, from when to when, and when each can take off.

    What is listed as not indicated promises nothing: only the inspection itself can tell.
    """
    begun = time.monotonic()
    from advisor.slots.inputs import read_night
    from advisor.slots.plan import make

    moment = int(present(now).timestamp())
    _keep_inputs(output, (schedule, pads, previous, actuals, *files))
    texts = texts_of(files, reports)
    night = read_night(
        Path(schedule),
        texts,
        now=moment,
        pads_file=Path(pads),
        place=place,
        checklist=Path(checklist) if checklist else None,
        previous=Path(previous) if previous else None,
        happened=Path(actuals) if actuals else None,
    )
    # named by other inputs: known once those are read
    named = [] if night.pads.holdover is None else [str(night.pads.holdover)]
    folder = [] if checklist is None else [str(file) for file in Path(checklist).rglob("*") if file.is_file()]
    _keep_inputs(output, [*named, *folder])
    with _effort(max(0.0, time_limit - (time.monotonic() - begun))) as effort:
        variants = None
        if what_if:
            from advisor.slots.whatif import variants as drawn_variants

            variants = drawn_variants(effort.nights, seed)
        plan = make(night, effort, rehearse=None if rehearse is None else (rehearse, seed), variants=variants)
    write(_render(plan, form), output)
    wanted = [one for one in plan.departures if one.steps]
    if wanted and len(plan.unplanned) == len(wanted):
        raise PlanError(
            f"none of {len(wanted)} treatments could be planned: {plan.unplanned[0].flight}: {plan.unplanned[0].why}",
            where="slots",
            hint="open more pads, or for longer",
        )


def _keep_inputs(output: str | None, inputs: Sequence[str | None]) -> None:
    """Refuse to write over what the plan is made from."""
    if output is None or not Path(output).exists():
        return
    for name in inputs:
        if name not in (None, "-") and Path(str(name)).exists() and Path(str(name)).samefile(output):
            raise click.UsageError(f"--output {output}: is an input of this plan; give another file")


@contextmanager
def _effort(seconds: float) -> Iterator[Any]:
    """A time limit by the clock, a bar on a terminal, and Ctrl-C that ends the search and keeps the plan."""
    import signal
    import threading

    from advisor.slots.plan import Effort

    pressed: list[int] = []

    def stop(number: int, frame: Any) -> None:
        if pressed:
            raise KeyboardInterrupt
        pressed.append(number)

    main = threading.current_thread() is threading.main_thread()
    before = signal.signal(signal.SIGINT, stop) if main else None
    try:
        with _bar(seconds, time.monotonic) as tell:
            yield Effort(seconds, time.monotonic, stop=lambda: bool(pressed), progress=tell)
    finally:
        if main:
            signal.signal(signal.SIGINT, before)


@contextmanager
def _bar(seconds: float, clock: Callable[[], float]) -> Iterator[Callable[[float, float], None]]:
    """Progress on standard error with the gap, on a terminal only."""
    if not sys.stderr.isatty():
        yield lambda objective, bound: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("slots"), BarColumn(), TextColumn("{task.fields[gap]}"), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("slots", total=seconds, gap="")
        begun = clock()

        def tell(objective: float, bound: float) -> None:
            share = max(0.0, objective - bound) / max(objective, 1e-9)
            gap = f"gap {100 * share:.1f} %" if objective < 1e20 else ""
            progress.update(task, completed=min(seconds, clock() - begun), gap=gap)

        yield tell


def _render(plan: Plan, form: str) -> bytes:
    if form == "json":
        from advisor.slots.result import to_json

        return to_json(plan)
    if form == "html":
        from advisor.render.slots.board import board

        return board(plan).encode("utf-8")
    if form == "csv":
        from advisor.render.slots.files import csv_table

        return csv_table(plan).encode("utf-8")
    if form == "ics":
        from advisor.render.slots.files import calendar

        return calendar(plan)
    from advisor.render.slots.text import text

    return text(plan).encode("utf-8")
