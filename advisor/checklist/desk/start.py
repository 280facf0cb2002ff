"""Begins an operator's folder, and copies a shipped rule into one. The only place of the desk that writes files."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import tree_sitter
import tree_sitter_toml

from advisor.checklist import revision
from advisor.checklist.language.condition import did_you_mean
from advisor.errors import AdvisorError

PATTERN = Path(__file__).parent.parent.parent / "data" / "start"


def start(folder: Path) -> tuple[Path, ...]:
    """Write a folder with comments, without a fault but for limits left blank; the files written.

    The folder is whole or not there. Raises AdvisorError where something stands there already, or cannot be written.
    """
    if os.path.lexists(folder) and not (folder.is_dir() and not any(folder.iterdir())):
        raise AdvisorError("is there already", where=str(folder), hint="give a folder that is new or empty")
    try:
        parent = folder.absolute().parent
        parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=f".{folder.name}-", dir=parent) as half:
            whole = Path(half) / "whole"
            shutil.copytree(PATTERN, whole, copy_function=shutil.copyfile)
            if folder.is_dir():
                folder.rmdir()
            whole.rename(folder)
    except OSError as error:
        raise _unwritten(folder, error) from None
    return tuple(sorted(path for path in folder.rglob("*") if path.is_file()))


def copy(rule_id: str, folder: Path) -> tuple[Path, ...]:
    """Copy a shipped rule whole, as it stands in its file: with class tables, page and situations; the files written.

    Raises AdvisorError for an id that is not shipped, one that the folder has already, or files that cannot be written.
    """
    texts = [(path, path.read_text(encoding="utf-8")) for path in sorted(revision.SHIPPED.glob("*.toml"))]
    rule = _joined(_blocks(text, rule_id) for path, text in texts if not path.name.startswith("pages"))
    if not rule:
        known = [one.id for one in revision.load().rules]
        raise AdvisorError(
            f"no shipped rule {rule_id[:60]!r}",
            where="copy",
            hint=f"{did_you_mean(rule_id, known)}; `advisor checklist show` lists them",
        )
    page = _joined(_page(text, rule_id) for path, text in texts if path.name.startswith("pages"))
    _not_there(rule_id, folder)
    files = {f"{rule_id}.toml": f"# A copy of the shipped rule, to change.\n{rule}"}
    if page:
        files[f"pages-{rule_id}.toml"] = page
    for name in files:
        if os.path.lexists(folder / name):
            raise AdvisorError("is there already", where=str(folder / name), hint="rename it, or take it away")
    written: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in files.items():
            with (folder / name).open("x", encoding="utf-8", newline="\n") as file:
                written.append(folder / name)
                file.write(text)
    except OSError as error:
        for path in written:
            path.unlink(missing_ok=True)
        raise _unwritten(folder, error) from None
    return tuple(written)


def _not_there(rule_id: str, folder: Path) -> None:
    """Refuse where the folder writes or removes the rule. A folder with faults is not looked into further."""
    for path in sorted(folder.glob("*.toml")) if folder.is_dir() else ():
        try:
            blocks = _blocks(path.read_text(encoding="utf-8"), rule_id)
        except (OSError, UnicodeDecodeError):
            continue
        if blocks:
            hint = "change it there, or take it away before you copy"
            raise AdvisorError(f"has the rule {rule_id!r} already", where=str(path), hint=hint)


def _unwritten(folder: Path, error: OSError) -> AdvisorError:
    return AdvisorError(
        error.strerror or "cannot be written", where=str(folder), hint="give a folder that can be written"
    )


def _joined(parts: Iterator[str]) -> str:
    return "\n".join(part for part in parts if part)


def _tables(text: str) -> Iterator[tuple[str, str]]:
    """Each table of a file in order: its heading, and its text up to the next."""
    raw = text.encode("utf-8")
    parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))
    nodes = [one for one in parser.parse(raw).root_node.children if one.type in ("table", "table_array_element")]
    for node in nodes:
        key = node.children[1]
        heading = raw[key.start_byte : key.end_byte].decode("utf-8")
        lines = raw[node.start_byte : node.end_byte].decode("utf-8").rstrip().split("\n")
        # comments at the end speak of what comes next
        while lines[-1].startswith("#") or not lines[-1].strip():
            lines.pop()
        yield heading, "\n".join(lines) + "\n"


def _blocks(text: str, rule_id: str) -> str:
    """The [[advice]] of a rule with the tables that belong to it, "" where it is not there."""
    kept: list[str] = []
    inside = False
    for heading, body in _tables(text):
        if heading == "advice":
            inside = _names(body, rule_id)
        elif not heading.startswith("advice."):
            inside = False
        if inside:
            kept.append(body)
    return "\n".join(kept)


def _names(body: str, rule_id: str) -> bool:
    import tomli

    try:
        return bool(tomli.loads(body)["advice"][0].get("id") == rule_id)
    except (tomli.TOMLDecodeError, KeyError, IndexError, AttributeError, TypeError):
        return False


def _page(text: str, rule_id: str) -> str:
    own = (f"page.{rule_id}", f'page."{rule_id}"')
    kept = [
        body
        for heading, body in _tables(text)
        if heading in own or heading.startswith(tuple(f"{name}." for name in own))
    ]
    return "\n".join(kept)
