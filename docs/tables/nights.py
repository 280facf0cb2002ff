"""A worked night, step by step, and a gallery of all sample situations with their pictures."""

from __future__ import annotations

import shlex
import textwrap
import tomllib
from pathlib import Path

from click.testing import CliRunner

import advisor
from advisor.cli.main import main
from advisor.render.picture.chart import charts
from tables.markdown import block, plain, toctree

SAMPLES = Path(advisor.__file__).parents[1] / "sample_reports"
WORKED = "light-snow-at-night"
GALLERY = """# Gallery

Every sample situation with its pictures and its brief, drawn when these pages were built. Weather, stations, operators
and aircraft are invented.
"""
NIGHT = """# A worked night

One departure from the report to the walk, then the de-icing slots of a whole bank of departures. Everything below was
run when these pages were built; weather, station and aircraft are invented.
"""


def pages() -> dict[str, str]:
    """gallery/index.md, a page and two pictures a situation, and night.md."""
    names = sorted(path.parent.name for path in SAMPLES.glob("*/departure.toml"))
    made = {"gallery/index.md": "\n".join([GALLERY, toctree(names)])}
    for name in names:
        made |= _situation(name)
    made["night.md"] = _night()
    return made


def _asked(name: str) -> tuple[str, dict[str, str], list[str]]:
    """Report, what is asked, and what the file says of itself."""
    folder = SAMPLES / name
    text = (folder / "departure.toml").read_text(encoding="utf-8")
    said = [line.removeprefix("# ") for line in text.splitlines() if line.startswith("# ")]
    return (folder / "report.txt").read_text(encoding="utf-8"), tomllib.loads(text)["ask"], said[:2]


def _title(name: str) -> str:
    return name.replace("-", " ").capitalize()


def _situation(name: str) -> dict[str, str]:
    report, ask, said = _asked(name)
    brief = advisor.advise(report, **ask)
    timeline, stand = charts(brief, printed=True)
    parts = [f"# {_title(name)}\n", *(f"{plain(line)}\n" for line in said), block(report), _options(ask)]
    parts += [_picture(f"{name}-timeline.svg", "from now to take-off"), _picture(f"{name}-stand.svg", "the stand")]
    parts += ["## The brief\n", block(str(brief))]
    return {
        f"gallery/{name}.md": "\n".join(parts),
        f"gallery/{name}-timeline.svg": timeline,
        f"gallery/{name}-stand.svg": stand,
    }


def _picture(name: str, what: str, folder: str = "") -> str:
    return f"![{what}]({folder}{name})\n"


def _options(ask: dict[str, str]) -> str:
    return block(" ".join(f"--{name.replace('_', '-')} {value}" for name, value in ask.items()), "console")


def _ran(*words: str) -> str:
    """A command as typed, and what it printed."""
    done = CliRunner().invoke(main, [word.replace("sample_reports", str(SAMPLES)) for word in words])
    if done.exit_code:
        raise RuntimeError(f"advisor {' '.join(words)}: {done.output}")
    typed = " \\\n    ".join(textwrap.wrap(f"$ advisor {shlex.join(words)}", 76, break_on_hyphens=False))
    return block(f"{typed}\n{done.stdout}", "console")


def _night() -> str:
    report, ask, said = _asked(WORKED)
    folder = f"sample_reports/{WORKED}"
    options = [part for name, value in ask.items() for part in (f"--{name.replace('_', '-')}", value)]
    bank = "sample_reports/slots"
    pads, now = ["--pads", f"{bank}/pads.toml"], ["--now", "2027-01-10T04:30:00Z"]
    parts = [NIGHT, *(f"{plain(line)}\n" for line in said)]
    parts += ["## The report\n", block(report), "Every group of it, and what became of it:\n"]
    parts += [_ran("decode", f"{folder}/report.txt", "--now", ask["now"])]
    parts += ["## The brief\n", "What to take, look at, ask for and leave shut, why, and what could not be told:\n"]
    parts += [_ran("brief", f"{folder}/report.txt", *options)]
    parts += ["The same as pictures: bands are what the report allows, the line is the central case.\n"]
    parts += [_picture(f"{WORKED}-{one}.svg", what, "gallery/") for one, what in _PICTURES]
    parts += ["## One line's rule\n", _ran("checklist", "show", "torch")]
    parts += ["## The bank of departures\n", "Who needs treatment, on which pad, from when to when:\n"]
    parts += [_ran("slots", f"{bank}/schedule.csv", f"{bank}/report.txt", *pads, *now)]
    return "\n".join(parts)


_PICTURES = (("timeline", "from now to take-off"), ("stand", "the stand from above"))
