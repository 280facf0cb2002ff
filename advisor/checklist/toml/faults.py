"""What is wrong with a file, field by field, and where. Loaded only after a fault has been met."""

from __future__ import annotations

import copy
import re
import types
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, time
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import msgspec
import tomli
import tree_sitter
import tree_sitter_toml
from msgspec.structs import fields

from advisor.checklist.language.condition import did_you_mean
from advisor.checklist.toml.files import MOST_FAULTS, UNREADABLE, Document, Fault, PlacedFault

Path = tuple[str | int, ...]
Point = tuple[int, int]  # row and column in bytes, from 0
_INDEX = re.compile(r"\[(\d+)\]")


def field_faults(file: str, value: Any, wanted: Any, path: Path = ()) -> Iterator[Fault]:
    """Every fault of a value against a model: fields unknown, missing, of the wrong type or out of range."""
    wanted = _without_none(wanted)
    if isinstance(wanted, type) and issubclass(wanted, msgspec.Struct):
        yield from _struct_faults(file, value, wanted, path)
        return
    args = get_args(wanted)
    if get_origin(wanted) is dict:
        if not isinstance(value, dict):
            yield Fault(file, path, f"{_got(value)} cannot stand here", "needs a table")
            return
        for key, inner in value.items():
            if isinstance(key, str) and not _fits(key, args[0]):
                yield Fault(file, (*path, key), f"{key!r} cannot stand here", _needed(key, args[0]), at_key=True)
            else:
                yield from field_faults(file, inner, args[1], (*path, key))
        return
    if get_origin(wanted) is tuple and _is_struct(args[0]):
        if not isinstance(value, list):
            hint = f'write "[[{path[-1]}]]" above each' if path else ""
            yield Fault(file, path, f"{_got(value)} cannot stand here", hint)
            return
        for at, inner in enumerate(value):
            yield from field_faults(file, inner, args[0], (*path, at))
        return
    try:
        msgspec.convert(value, wanted)
    except msgspec.ValidationError as error:
        inner, part = value, wanted
        for index in _INDEX.findall(str(error).rpartition(" - at `$")[2]):
            if isinstance(inner, list):
                inner, part, path = inner[int(index)], _member(part, int(index)), (*path, int(index))
        yield Fault(file, path, f"{_got(inner)} cannot stand here", _needed(inner, part))


def _struct_faults(file: str, value: Any, wanted: type[msgspec.Struct], path: Path) -> Iterator[Fault]:
    if not isinstance(value, dict):
        yield Fault(file, path, f"{_got(value)} cannot stand here", "needs a table")
        return
    known = {field.encode_name: field for field in fields(wanted)}
    for key in value:
        if key not in known:
            yield Fault(
                file, (*path, key), "unknown field", did_you_mean(key, known), at_key=True, code="unknown-field"
            )
    for name, field in known.items():
        if name in value:
            yield from field_faults(file, value[name], field.type, (*path, name))
        elif field.required:
            yield Fault(file, (*path, name), "missing", f"needs {_phrase(field.type)}", code="missing-field")


def _without_none(wanted: Any) -> Any:
    if get_origin(wanted) in (Union, types.UnionType):
        rest = [part for part in get_args(wanted) if part is not types.NoneType]
        return rest[0] if len(rest) == 1 else Union[tuple(rest)]  # noqa: UP007 - built at run time
    return wanted


def _is_struct(wanted: Any) -> bool:
    return isinstance(wanted, type) and issubclass(wanted, msgspec.Struct)


def _fits(value: Any, wanted: Any) -> bool:
    try:
        msgspec.convert(value, wanted)
    except msgspec.ValidationError:
        return False
    return True


def _member(wanted: Any, index: int) -> Any:
    if get_origin(wanted) in (Union, types.UnionType):
        wanted = next((part for part in get_args(wanted) if get_origin(part) is tuple), wanted)
    args = get_args(wanted)
    if not args:
        return wanted
    return args[0] if args[-1] is Ellipsis or index >= len(args) else args[index]


def _needed(value: Any, wanted: Any) -> str:
    words = list(_words(wanted))
    if isinstance(value, str) and words:
        return _phrase(wanted)
    if isinstance(value, (date, time)) and "text" in _phrase(wanted):
        return "put it in quotes"
    return f"needs {_phrase(wanted)}"


def _words(wanted: Any) -> Iterator[str]:
    if get_origin(wanted) is Literal:
        yield from get_args(wanted)
    elif get_origin(wanted) in (Union, types.UnionType):
        for part in get_args(wanted):
            yield from _words(part)


def _phrase(wanted: Any) -> str:
    origin, args = get_origin(wanted), get_args(wanted)
    if origin is Annotated:
        return next((meta.description for meta in args[1:] if getattr(meta, "description", None)), _phrase(args[0]))
    if origin is Literal:
        return f"one of {', '.join(args)}"
    if origin in (Union, types.UnionType):
        if len(args) == 2 and get_origin(args[1]) is tuple and get_args(args[1])[0] == args[0]:
            return f"{_phrase(args[0])}, or a list of them"
        return " or ".join(_phrase(part) for part in args if part is not types.NoneType)
    if origin is tuple:
        if args[-1] is Ellipsis:
            return f"a list, each {_phrase(args[0])}"
        return f"a list of {len(args)}, each {_phrase(args[0])}"
    if origin is dict or _is_struct(wanted):
        return "a table"
    return {
        str: "text",
        int: "a whole number",
        float: "a number",
        bool: "true or false",
        date: "a date such as 2027-01-10",
    }.get(wanted, "another value")


def _got(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return f"{value!r:.20}"
    if isinstance(value, str):
        return repr(value) if len(value) <= 40 else f"a text of {len(value)} characters"
    if isinstance(value, list):
        return "a list" if value else "an empty list"
    return "a date or time" if isinstance(value, (date, datetime, time)) else "a table"


# stand in for what is missing or wrong in a table, so that its other fields can still be checked
_NO_ID = f"{UNREADABLE}remove"
StandIns = Mapping[str, Mapping[str, Any]]
CHECKLIST_ROWS: StandIns = {
    "advice": {
        "id": UNREADABLE,
        "kind": "request",
        "when": "always",
        "during": "parked",
        "weight": "must",
        "text": "-",
        "source": "common-practice",
    },
    "source": {"key": UNREADABLE, "title": "-"},
}
PROFILE_ROWS: StandIns = {
    "": {"id": UNREADABLE, "name": "-", "size": "small", "windows": "small", "limits_note": "-", "walk": ["nose"]},
    "door": {"name": UNREADABLE, "bearing_deg": 0, "operate": 1, "stay_open": 1},
}


def readable(data: dict[str, Any], faults: Sequence[Fault], model: Any, stand_ins: StandIns) -> Any:
    """What can be read of a file in spite of its faults, None where nothing can.

    faults: what field_faults said of the same data. Wrong fields are left out, missing ones stood in for. stand_ins:
    by list of tables, "" for the file's own fields; a text that ends in - gets a number.
    """
    rest = copy.deepcopy(data)
    for fault in faults:
        path = _spoilt(fault.path, stand_ins)
        holder: Any = rest
        for part in path[:-1]:
            try:
                holder = holder[part]
            except (KeyError, IndexError, TypeError):
                holder = None
                break
        if isinstance(holder, dict):
            holder.pop(path[-1], None)
        elif isinstance(holder, list) and isinstance(path[-1], int):
            holder[path[-1]] = {} if path[0] in stand_ins else _NO_ID
    for name, fields_ in stand_ins.items():
        rows = rest.get(name) if name else [rest]
        for index, row in enumerate(rows if isinstance(rows, list) else ()):
            for key, value in fields_.items():
                row.setdefault(key, f"{value}{index}" if isinstance(value, str) and value == UNREADABLE else value)
    try:
        return msgspec.convert(rest, model)
    except msgspec.ValidationError:
        return None


def _spoilt(path: Path, stand_ins: StandIns) -> Path:
    """The smallest part of a file that cannot be used because of a fault at this path."""
    if path[0] == "windows" and len(path) > 1:
        return path[:2]
    if len(path) > 2 and path[2] in ("page", "fires", "near_miss", "sector"):
        return path[:3]
    if path[0] == "remove" and len(path) > 1:
        return path
    first = 2 if path[0] in stand_ins else 1
    return next((path[:at] for at in range(first, len(path)) if isinstance(path[at], int)), path)


def placed(faults: Sequence[Fault], documents: Mapping[str, Document]) -> tuple[PlacedFault, ...]:
    """Each fault with its line and column, once, in the order of file, line, column; the first thousand of them."""
    maps: dict[str, Positions] = {}
    rows: list[PlacedFault] = []
    for fault in faults:
        document = documents.get(fault.file)
        line, column = fault.place or (1, 1)
        if fault.place is None and document is not None:
            if fault.file not in maps:
                maps[fault.file] = Positions(document.text)
            line, column = maps[fault.file].place(fault)
        name = field_name(fault.path, document.data if document else None)
        file, name, what, hint = (_printable(text) for text in (fault.file, name, fault.what, fault.hint))
        rows.append(PlacedFault(file, line, column, name, fault.code, what, hint))
    rows.sort(key=lambda one: (one.file, one.line, one.column, str(one)))
    if len(rows) > MOST_FAULTS:
        last = rows[MOST_FAULTS]
        what = f"more than {MOST_FAULTS:,} faults"
        rows[MOST_FAULTS:] = [PlacedFault(last.file, last.line, last.column, "file", "many", what, "mend these first")]
    return tuple(dict.fromkeys(rows))


def _printable(text: str) -> str:
    return text if text.isprintable() else "".join(sign if sign.isprintable() else "\ufffd" for sign in text)


def field_name(path: Path, data: Any) -> str:
    """A field as people name it: advice.torch.when; a row without an id by its place, counted from 1."""
    name = ""
    for part in path:
        inner = data[part] if isinstance(data, list) and isinstance(part, int) and part < len(data) else None
        if isinstance(part, int):
            label = (
                next((inner[key] for key in ("id", "key", "name") if isinstance(inner.get(key), str)), "")
                if (isinstance(inner, dict))
                else ""
            )
            name += f".{_short(label)}" if label else f"[{part + 1}]"
        else:
            name += f".{_short(part)}" if name else _short(part)
            inner = data.get(part) if isinstance(data, dict) else None
        data = inner
    return name or "file"


def _short(name: str) -> str:
    return name if len(name) <= 60 else f"{name[:59]}…"


class Positions:
    """Where the keys and values of a TOML text stand; lines and columns count characters from 1."""

    def __init__(self, text: str) -> None:
        self.raw = text.encode("utf-8")
        self.lines = self.raw.split(b"\n")
        self.keys: dict[Path, Point] = {}
        self.values: dict[Path, Point] = {(): (0, 0)}
        self.nodes: dict[Path, tree_sitter.Node] = {}
        self.counts: dict[Path, int] = {}
        parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))
        for child in parser.parse(self.raw).root_node.children:
            if child.type == "pair":
                self._pair(child, ())
            elif child.type in ("table", "table_array_element"):
                self._table(child)

    def place(self, fault: Fault) -> tuple[int, int]:
        """Line and column of a fault; of the nearest table around it where the field is not there."""
        path = fault.path
        if fault.at_key and path in self.keys:
            return self._at(self.keys[path])
        if fault.offset is not None and path in self.nodes:
            return self._inside(self.nodes[path], fault.offset)
        while path not in self.values:
            path = path[:-1]
        return self._at(self.values[path])

    def _at(self, point: Point) -> tuple[int, int]:
        row, column = point
        return row + 1, len(self.lines[row][:column].decode("utf-8", "replace")) + 1

    def _table(self, node: tree_sitter.Node) -> None:
        key = node.children[1]
        parts = self._key(key)
        path: Path = ()
        for at, part in enumerate(parts):
            path = (*path, part)
            if at < len(parts) - 1 and path in self.counts:
                path = (*path, self.counts[path] - 1)
            self.keys.setdefault(path, key.start_point)
        self.values.setdefault(path, node.start_point)
        if node.type == "table_array_element":
            self.counts[path] = self.counts.get(path, 0) + 1
            path = (*path, self.counts[path] - 1)
            self.keys[path], self.values[path] = key.start_point, node.start_point
        for child in node.children:
            if child.type == "pair":
                self._pair(child, path)

    def _pair(self, node: tree_sitter.Node, base: Path) -> None:
        key, value = node.children[0], node.children[-1]
        path = base
        for part in self._key(key):
            path = (*path, part)
            self.keys.setdefault(path, key.start_point)
            self.values.setdefault(path, key.start_point)
        self._value(value, path)

    def _value(self, node: tree_sitter.Node, path: Path) -> None:
        self.values[path], self.nodes[path] = node.start_point, node
        if node.type == "array":
            members = [child for child in node.children if child.is_named and child.type != "comment"]
            for at, child in enumerate(members):
                self._value(child, (*path, at))
        elif node.type == "inline_table":
            for child in node.children:
                if child.type == "pair":
                    self._pair(child, path)

    def _key(self, node: tree_sitter.Node) -> list[str]:
        if node.type == "dotted_key":
            return [part for child in node.children if child.is_named for part in self._key(child)]
        text = self.raw[node.start_byte : node.end_byte].decode("utf-8", "replace")
        if node.type == "quoted_key":
            try:
                return [str(tomli.loads(f"key = {text}")["key"])]
            except tomli.TOMLDecodeError:
                return [text[1:-1]]
        return [text]

    def _inside(self, node: tree_sitter.Node, offset: int) -> tuple[int, int]:
        """Where a character of a text value stands, escapes and several lines allowed for."""
        raw = self.raw[node.start_byte : node.end_byte].decode("utf-8", "replace")
        line, column = self._at(node.start_point)
        mark = raw[:3] if raw[:3] in ('"""', "'''") else raw[:1]
        position = len(mark)
        if len(mark) == 3 and raw[position : position + 1] == "\n":
            position += 1
        while offset > 0 and position < len(raw) - len(mark):
            position = _after(raw, position, mark)
            offset -= 1
        before = raw[:position]
        if "\n" in before:
            return line + before.count("\n"), len(before) - before.rfind("\n")
        return line, column + position


def _after(raw: str, position: int, mark: str) -> int:
    """The place after one character of a TOML text, an escape counted as one."""
    if raw[position] != "\\" or mark[0] == "'":
        return position + 1
    if raw[position + 1] in "uUx":
        return position + 2 + {"u": 4, "U": 8, "x": 2}[raw[position + 1]]
    if raw[position + 1] in " \t\n":
        while raw[position + 1] in " \t\n":
            position += 1
        return _after(raw, position + 1, mark)
    return position + 2
