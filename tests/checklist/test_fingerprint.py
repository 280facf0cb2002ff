"""The fingerprint counts every field of every structure, by construction, but for those that say otherwise."""

from __future__ import annotations

import typing
from types import UnionType
from typing import Annotated, Any, Literal

import msgspec
import pytest
from folders import advice, write

from advisor.checklist import revision
from advisor.checklist.entries import Override, WindowMinutes
from advisor.checklist.fingerprint import content, counted, fingerprint, same
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist, Loss, Rule
from advisor.conditions import Door, Sector

SHIPPED = revision.load()
# what these hold follows from the rest, or says where it was read
APART = {
    Rule: {"origin"},
    Profile: {"origin"},
    # sources count as far as rules refer to them
    Checklist: {"fingerprint", "sources", "changed", "losses", "folder"},
}
DOOR = Door("front", -90.0, 40.0, 60.0, (Sector(0.0, 90.0, 30.0, 35.0),))
WINDOW = WindowMinutes((-45, -25), (-50, -5), 15, 35)
RULE = Rule("one", "request", "snow", ("parked",), "must", "x", "common-practice", must_when="rain", must_text="y")
EXAMPLES: dict[type[msgspec.Struct], Any] = {
    Rule: RULE,
    Override: Override(),
    WindowMinutes: WINDOW,
    Profile: Profile("a", "A", "glider", "small", "small", "n", ("nose",), 1.0, 0.9, True, True, (DOOR,)),
    Door: DOOR,
    Sector: DOOR.sectors[0],
    Loss: Loss("one", "rule", "when", (), True, "a", "b"),
    Checklist: SHIPPED,
}


def other(value: Any, kind: Any) -> Any:
    """Another value of the same type."""
    origin, args = typing.get_origin(kind), typing.get_args(kind)
    if origin is Annotated:
        return other(value, args[0])
    if origin in (typing.Union, UnionType):
        return other(value, next(one for one in args if one is not type(None)))
    if origin is Literal:
        return next(one for one in args if one != value)
    if origin is dict:
        return {**value, "ZZZB": other(next(iter(value.values()), None), args[1])}
    if origin is tuple:
        first = value[0] if value else None
        return (other(first, args[0]), *value[1:])
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
        start = value if value is not None else EXAMPLES[kind]
        field = next(iter(msgspec.structs.fields(kind)))
        return msgspec.structs.replace(start, **{field.name: other(getattr(start, field.name), field.type)})
    if kind is bool:
        return not value
    if kind in (int, float):
        return (value or 0) + 3
    assert kind is str, kind
    return "hail" if value in ("snow", "rain") else f"{value or ''}x"


FIELDS = [(kind, field) for kind in EXAMPLES for field in msgspec.structs.fields(kind)]


@pytest.mark.parametrize(("kind", "field"), FIELDS, ids=[f"{kind.__name__}.{field.name}" for kind, field in FIELDS])
def test_every_field_counts_unless_it_says_otherwise(kind: type[msgspec.Struct], field: Any) -> None:
    one = EXAMPLES[kind]
    value = getattr(one, field.name)
    if field.name in ("when", "must_when"):
        changed: Any = "hail"
    else:
        changed = other(value, field.type)
    assert changed != value
    counts = content(msgspec.structs.replace(one, **{field.name: changed})) != content(one)
    assert counts == (field.name not in APART.get(kind, set()))


def test_a_field_that_is_new_counts_without_being_listed() -> None:
    class Later(Rule, frozen=True):
        season: str = ""

    common = msgspec.structs.asdict(RULE)
    assert "season" in dict(counted(Later))
    assert content(Later(**common, season="winter")) != content(Later(**common))


def test_all_that_a_checklist_holds_is_looked_into() -> None:
    """No structure lies in a checklist that the test above does not alter field by field."""
    met: set[type] = set()

    def walk(value: Any) -> None:
        if isinstance(value, msgspec.Struct):
            met.add(type(value))
            for field in msgspec.structs.fields(type(value)):
                if field.name not in APART.get(type(value), set()):
                    walk(getattr(value, field.name))
        elif isinstance(value, dict):
            for one in value.values():
                walk(one)
        elif isinstance(value, (tuple, list)):
            for one in value:
                walk(one)

    walk(SHIPPED)
    walk(EXAMPLES[Profile])
    assert met <= set(EXAMPLES)


def test_it_changes_with_a_door_s_limit_and_with_a_window(tmp_path) -> None:
    profile = (revision.aircraft.SHIPPED / "single-aisle-jet.toml").read_text(encoding="utf-8")
    folder = write(tmp_path / "own", own='[checklist]\nname = "Walk-round, shipped"\n')
    assert revision.load(folder).fingerprint == SHIPPED.fingerprint
    write(folder / "aircraft", jet=profile)
    assert revision.load(folder).fingerprint == SHIPPED.fingerprint
    write(folder / "aircraft", jet=profile.replace("operate = 35", "operate = 34", 1))
    first = revision.load(folder).fingerprint
    assert first != SHIPPED.fingerprint
    write(folder / "aircraft", jet=profile.replace("operate = 35", 'operate = "34 kt"', 1))
    assert revision.load(folder).fingerprint == first


def test_it_changes_with_the_title_of_a_source_that_is_used_only(tmp_path) -> None:
    def made(title: str, source: str) -> str:
        text = f'[[source]]\nkey = "ours"\ntitle = "{title}"\n' + advice("one", source=f'"{source}"')
        return revision.load(write(tmp_path / "own", own=text)).fingerprint

    assert made("A", "ours") != made("B", "ours")
    assert made("A", "common-practice") == made("B", "common-practice")


def test_spacing_and_order_of_a_condition_do_not_count() -> None:
    spaced = msgspec.structs.replace(RULE, when="gust_kt  >= 28.0 and\n snow", origin="operator")
    assert same(spaced, msgspec.structs.replace(RULE, when="snow and gust_kt>=28"))
    assert not same(spaced, RULE)


def test_a_number_that_is_not_there_is_the_same_as_itself() -> None:
    without = msgspec.structs.replace(EXAMPLES[Profile], emissivity=float("nan"))
    assert content(without) == content(without)
    assert fingerprint(SHIPPED) == SHIPPED.fingerprint
