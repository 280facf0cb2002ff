"""The pages of the files that people write: every key, from the structures that really read them."""

from __future__ import annotations

import types
import typing
from collections.abc import Iterator
from typing import Annotated, Any, Literal

import msgspec

from advisor.checklist.aircraft import ProfileFile
from advisor.checklist.rules import ChecklistFile, PagesFile
from advisor.feeds.file import FeedsFile
from advisor.slots.files.holdover import HoldoverFile
from advisor.slots.files.pads import PadsFile
from advisor.slots.files.schedule import COLUMNS, NEEDED
from tables.markdown import code, plain, table
from tables.meanings import MEANINGS, SCHEDULE

CHECKLIST = """# The checklist folder

A folder of TOML files in UTF-8, laid over what is shipped, rule by rule. Every file of it is read; a key that is not
listed here is a fault, and a folder with a fault is refused whole, with every fault of every file in one run, each with
its line and what would be right. `advisor checklist check DIR` does that and says what the folder changes;
`advisor schema checklist` and `advisor schema aircraft` print the JSON Schema of a file.

A condition (`when`) is written in the [rule language](../../rule-language.md).
"""
SLOTS = """# Files for de-icing slots

`advisor slots SCHEDULE.csv --pads FILE.toml` reads a schedule, a pads file, and the holdover file that it names. All
times of day are UTC. `sample_reports/slots/` holds a whole example, whose figures are invented.
"""
SECTIONS: dict[str, tuple[tuple[str, str, type[msgspec.Struct]], ...]] = {
    "checklist": (
        ("Rules: `*.toml`", "", ChecklistFile),
        ("Pages: `pages*.toml`", "", PagesFile),
        ("Aircraft: `aircraft/*.toml`", "An aircraft in each file.", ProfileFile),
        ("Feeds: `feeds.toml`", "Here, or in the user's configuration folder. No source is built in.", FeedsFile),
    ),
    "slots": (
        ("Pads: the file given with `--pads`", "", PadsFile),
        ("Holdover times", "The table of the operator's own season; none is built in.", HoldoverFile),
    ),
}


def pages() -> dict[str, str]:
    """formats/checklist.md and formats/slots.md."""
    schedule = ["## Schedule: `SCHEDULE.csv`\n", "A departure in each row. Cells may be empty but for those needed.\n"]
    rows = [(code(name), "yes" if name in NEEDED else "", SCHEDULE[name]) for name in COLUMNS]
    schedule.append(table(("column", "needed", "meaning"), rows))
    return {
        "formats/checklist.md": "\n".join([CHECKLIST, *_sections("checklist")]),
        "formats/slots.md": "\n".join([SLOTS, *schedule, *_sections("slots")]),
    }


def _sections(page: str) -> Iterator[str]:
    for title, said, root in SECTIONS[page]:
        yield f"## {title}\n\n{said}\n"
        places: dict[type[msgspec.Struct], list[str]] = {}
        _walk(root, "", places)
        for one, paths in places.items():
            yield f"### {code(paths[0]) if paths[0] else 'The file itself'}\n\n{_first(one)}\n"
            if paths[1:]:
                yield f"The same keys stand in {', '.join(map(code, paths[1:]))}.\n"
            yield table(("key", "type", "needed", "meaning"), _rows(one))


def _walk(root: type[msgspec.Struct], path: str, places: dict[type[msgspec.Struct], list[str]]) -> None:
    """Gather a structure and all that lie below it, each with the tables of TOML in which it stands."""
    places.setdefault(root, []).append(path)
    for one in msgspec.structs.fields(root):
        for below, shape in _below(one.type):
            inner = f"{path.strip('[]')}.{one.encode_name}".lstrip(".")
            _walk(below, {"list": f"[[{inner}]]", "dict": f"[{inner}.ID]"}.get(shape, f"[{inner}]"), places)


def _below(kind: Any, shape: str = "") -> Iterator[tuple[type[msgspec.Struct], str]]:
    """The structures within a type, and whether they come as one, as a list or by id."""
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
        yield kind, shape
    origin = typing.get_origin(kind)
    if origin in (tuple, dict, typing.Union, types.UnionType, Annotated):
        for part in typing.get_args(kind):
            yield from _below(part, {tuple: "list", dict: "dict"}.get(origin, shape))


def _rows(one: type[msgspec.Struct]) -> Iterator[tuple[str, str, str, str]]:
    meanings = MEANINGS.get(one.__name__, {})
    for key in msgspec.structs.fields(one):
        if key.encode_name not in meanings:
            raise KeyError(f"{one.__name__}.{key.encode_name}: write what it means into docs/tables/meanings.py")
        yield code(key.encode_name), _type(key.type), _needed(key), meanings[key.encode_name]


def _needed(key: msgspec.structs.FieldInfo) -> str:
    if key.required:
        return "yes"
    value = key.default
    if value is None or value is msgspec.NODEFAULT or isinstance(value, (tuple, dict, msgspec.Struct)):
        return "no"
    text = {True: "true", False: "false"}.get(value, value) if isinstance(value, bool) else value
    return f"no, {code(str(text))}" if text != "" else "no"


def _type(kind: Any) -> str:
    """A type in words."""
    origin, args = typing.get_origin(kind), typing.get_args(kind)
    if origin is Annotated:
        said = next((one.description for one in args[1:] if isinstance(one, msgspec.Meta) and one.description), None)
        return plain(said) if said else _type(args[0])
    if origin is Literal:
        return "one of " + ", ".join(code(f'"{one}"') for one in args)
    if origin in (typing.Union, types.UnionType):
        return ", or ".join(_type(one) for one in args if one is not type(None))
    if origin is tuple:
        return f"list of: {_type(args[0])}" if args[-1] is Ellipsis else f"{len(args)} values: {_type(args[0])}"
    if origin is dict:
        return f"by id ({_type(args[0])}): {_type(args[1])}"
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
        return "table, see below"
    names = {"str": "text", "int": "whole number", "float": "number", "bool": "true or false", "date": "date"}
    return names.get(getattr(kind, "__name__", ""), plain(str(kind)))


def _first(one: type[msgspec.Struct]) -> str:
    """The first paragraph that the structure says of itself; its heading names the table already."""
    return plain((one.__doc__ or "").strip().partition("\n\n")[0].replace("`", ""))
