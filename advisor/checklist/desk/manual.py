"""A checklist as a chapter of a manual: everything that it says, in words and in order. Pure.

What changed against an older one is marked; what was loosened or removed stands with its reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

import msgspec

from advisor.checklist.desk import compare
from advisor.checklist.fingerprint import same
from advisor.checklist.language import wording
from advisor.checklist.language.decide import SAME
from advisor.checklist.profile import Profile
from advisor.checklist.rules import CLASSES, PLACEHOLDER, Checklist, Rule, WindowMinutes, compiled
from advisor.conditions import Door
from advisor.sources import Source

PHASE_WORDS = {
    "parked": "parked, now to the walk",
    "walk_round": "walk-round",
    "doors_open": "doors open",
    "off_block": "before off-block",
    "take_off": "off-block to take-off",
}
CHAPTERS: tuple[tuple[str, str], ...] = (
    ("stop", "Wait or stop"),
    ("request", "Ask for"),
    ("gear", "Take and wear"),
    ("door", "Doors"),
    ("checkpoint", "On the walk"),
    ("caution", "Cautions"),
)
PROMISE = (
    "Only the inspection itself can tell what is on the aircraft; a line that does not come up promises nothing. "
    "Manuals, procedures, local rules and licensed people come first."
)
MARKED = "A bar at the side, and the word in brackets, mark what is new or changed against {since}."
MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()  # noqa: SIM905


class ManualLine(msgspec.Struct, frozen=True):
    """A line under a rule: what it says and about what."""

    title: str
    said: tuple[str, ...]


class Item(msgspec.Struct, frozen=True):
    """A rule, a group of windows or a profile. mark: "", "new" or "changed", against the older checklist."""

    ident: str
    title: str
    lines: tuple[ManualLine, ...]
    mark: str = ""
    head: str = ""


class Chapter(msgspec.Struct, frozen=True):
    """A numbered part of the print."""

    number: int
    title: str
    items: tuple[Item, ...] = ()
    words: tuple[str, ...] = ()


class Manual(msgspec.Struct, frozen=True):
    """The print as data.

    facts: of the cover. changes: what is less than in the older one, or removed, with its reason, then all else that
    differs. since: the older checklist, "" for none. made: when it was printed, "" where that is not said.
    """

    name: str
    revision: str
    fingerprint: str
    effective: str
    approver: str
    since: str
    made: str
    facts: tuple[tuple[str, str], ...]
    chapters: tuple[Chapter, ...]
    promise: str = PROMISE


def manual(checklist: Checklist, old: Checklist | None = None, *, printed_at: str = "") -> Manual:
    """The print of a checklist. old: what it is marked against, None for no marks. printed_at: RFC 3339, or ""."""
    since = "" if old is None else f"{old.name}, revision {old.revision} ({old.fingerprint})"
    chapters: list[Chapter] = []

    def add(title: str, items: Iterable[Item] = (), words: Iterable[str] = ()) -> None:
        listed, said = tuple(items), tuple(words)
        if listed or said:
            chapters.append(Chapter(len(chapters) + 1, title, listed, said))

    if old is not None:
        changes = compare.compare(old, checklist).rules
        less = [one for one in changes if one.change in compare.LOOSER]
        more = [one for one in changes if one.change not in (*compare.LOOSER, SAME)]
        add("Removed, or saying less", (_change(one) for one in less), () if less else ("Nothing says less.",))
        add("Other changes", (_change(one) for one in more), () if more else ("None.",))
    for key, title in CHAPTERS:
        add(title, (_rule(rule, checklist, old) for rule in checklist.rules if _chapter(rule) == key))
    add("Windows", _windows(checklist, old))
    add("Aircraft and their limits", _profiles(checklist, old))
    add("Sources", (_source(one) for one in checklist.used_sources))
    return Manual(
        checklist.name,
        checklist.revision,
        checklist.fingerprint,
        checklist.effective,
        checklist.approver,
        since,
        printed_at,
        _facts(checklist, since, printed_at),
        tuple(chapters),
    )


def _facts(checklist: Checklist, since: str, printed_at: str) -> tuple[tuple[str, str], ...]:
    own = sum(rule.origin == "operator" for rule in checklist.rules)
    facts = [
        ("Revision", checklist.revision),
        ("Effective", checklist.effective or "not stated"),
        ("Approved by", checklist.approver or "not stated"),
        ("Fingerprint", checklist.fingerprint),
        ("Rules", f"{len(checklist.rules)}, {own} of them the operator's own"),
        ("Usual aircraft", checklist.default_aircraft),
        ("Latest call", _lead(checklist)),
    ]
    facts += [("Marked against", since)] if since else []
    return (*facts, *((("Printed", printed_at),) if printed_at else ()))


def _lead(checklist: Checklist) -> str:
    leads = [f"{checklist.call_lead_min} min before off-block where a request has none of its own"]
    leads += [f"{minutes} min for {name}" for name, minutes in sorted(checklist.call_lead_by_class.items())]
    leads += [f"{minutes} min at {name}" for name, minutes in sorted(checklist.call_lead_by_station.items())]
    return "; ".join(leads)


def _chapter(rule: Rule) -> str:
    return "stop" if rule.stop else rule.kind


def _change(difference: compare.Difference) -> Item:
    what = {"lead_min": "latest call", "during": "phases", "text": "words"}.get(difference.what, difference.what)
    title = f"{difference.id}: {difference.change}"
    head = "" if difference.change in (compare.REMOVED, compare.ADDED, compare.TEXT) else what
    lines = [ManualLine("where", (difference.where,))] if difference.where else []
    if difference.change in compare.LOOSER:
        lines.append(ManualLine("reason", (difference.reason or "none given",)))
    return Item(f"change-{difference.id}-{difference.what}", title, tuple(lines), head=head)


def _rule(rule: Rule, checklist: Checklist, old: Checklist | None) -> Item:
    before = None if old is None else old.rule(rule.id)
    mark = "" if old is None else "new" if before is None else "" if same(before, rule) else "changed"
    lines = [ManualLine("when", wording.alternatives(rule.condition.node)), ManualLine("during", (_during(rule),))]
    lines.append(ManualLine("says", (_joined(rule.text, rule.more),)))
    if rule.must_when is not None:
        lines.append(ManualLine("a must where", wording.alternatives(compiled(rule.must_when).node)))
        if rule.must_text or rule.must_more:
            lines.append(ManualLine("and says", (_joined(rule.must_text or rule.text, rule.must_more),)))
    if rule.kind == "request":
        lines += _leads(rule)
    lines += [ManualLine("for", (said,)) for said in [_holds(rule)] if said]
    lines += _by_class(rule)
    if rule.reason:
        lines.append(ManualLine("reason", (rule.reason,)))
    lines.append(ManualLine("source", (_reference(checklist.sources[rule.source]),)))
    origin = "operator's own" if rule.origin == "operator" else "shipped"
    zone = "" if rule.zone in ("", "all") else f", at: {rule.zone.replace('-', ' ')}"
    return Item(f"rule-{rule.id}", rule.id, tuple(lines), mark, f"{rule.weight}, {origin}{zone}")


def _joined(*parts: str) -> str:
    """Texts as they are printed: what is filled in on the day stands in brackets by its name."""
    return PLACEHOLDER.sub(lambda found: f"[{wording.noun(found[1])}]", " ".join(part for part in parts if part))


def _during(rule: Rule) -> str:
    return "; ".join(PHASE_WORDS[phase] for phase in rule.during)


def _leads(rule: Rule) -> Iterator[ManualLine]:
    leads = [] if rule.lead_min is None else [f"{rule.lead_min} min before off-block"]
    leads += [f"{minutes} min at {station}" for station, minutes in sorted(rule.lead_by_station.items())]
    if leads:
        yield ManualLine("latest", ("; ".join(leads),))


def _holds(rule: Rule) -> str:
    """For whom, where and when it holds, where that is not everybody, everywhere and always."""
    bounds = []
    if set(rule.classes) != set(CLASSES):
        bounds.append(", ".join(name.replace("-", " ") for name in rule.classes))
    if rule.aircraft:
        bounds.append(f"aircraft {', '.join(rule.aircraft)} alone")
    if rule.stations:
        bounds.append(f"at {', '.join(rule.stations)} alone")
    if rule.months:
        bounds.append(f"in {', '.join(MONTHS[month - 1] for month in rule.months)} alone")
    return "; ".join(bounds)


def _by_class(rule: Rule) -> Iterator[ManualLine]:
    for class_id in CLASSES:
        override = rule.overrides.get(class_id)
        if override is None:
            continue
        changed: list[str] = [override.weight] if override.weight else []
        changed += [] if override.when is None else [f"when {wording.in_words(compiled(override.when).node)}"]
        if override.during is not None:
            held = rule.for_class(class_id)
            changed += [f"during {_during(held)}"] if held is not None else []
        lead = getattr(override, "lead_min", None)
        changed += [] if lead is None else [f"latest {lead} min before off-block"]
        changed += [_joined(override.text or "", override.more or "")] if override.text or override.more else []
        if override.must_text or override.must_more:
            changed.append(f"where a must: {_joined(override.must_text or '', override.must_more or '')}")
        yield ManualLine(class_id.replace("-", " "), (_chained(changed),))


def _chained(parts: Iterable[str]) -> str:
    """Parts in a row: after a sentence the next begins as one."""
    whole = ""
    for part in parts:
        if whole.endswith("."):
            whole += f" {part[:1].upper()}{part[1:]}"
        else:
            whole += f"; {part}" if whole else part
    return whole


def _reference(source: Source) -> str:
    locator = f", {source.locator}" if source.locator else ""
    return f"{source.title}{locator} ({source.standing})"


def _marked(name: str, now: object, before: Mapping[str, object] | None) -> str:
    if before is None:
        return ""
    if name not in before:
        return "new"
    # not a number is not even itself
    return "" if repr(before[name]) == repr(now) else "changed"


def _windows(checklist: Checklist, old: Checklist | None) -> Iterator[Item]:
    before = None if old is None else old.windows
    for name, window in checklist.windows.items():
        lines = (
            ManualLine("walk-round", (_span(window.walk_round),)),
            ManualLine("doors open", (_span(window.doors_open),)),
            ManualLine("take-off", (_take_off(window),)),
        )
        yield Item(f"windows-{name}", name, lines, _marked(name, window, before), "minutes from off-block")


def _span(span: tuple[int, int]) -> str:
    return f"{span[0]} to {span[1]}".replace("-", "−")


def _take_off(window: WindowMinutes) -> str:
    return f"+{window.take_off}, after a treatment +{window.take_off_treated}"


def _profiles(checklist: Checklist, old: Checklist | None) -> Iterator[Item]:
    before = None if old is None else {name: _content(one) for name, one in old.profiles.items()}
    for name, profile in checklist.profiles.items():
        lines = [
            ManualLine("class", (f"{profile.class_id.replace('-', ' ')}, {profile.size}, windows {profile.windows}",))
        ]
        lines += [ManualLine(door.name, (_limits(door),)) for door in profile.doors] or [ManualLine("doors", ("none",))]
        lines.append(ManualLine("manual", (profile.limits_note,)))
        lines.append(ManualLine("walk", (", ".join(zone.replace("-", " ") for zone in profile.walk),)))
        lines.append(ManualLine("surfaces", (_surfaces(profile),)))
        mark = _marked(name, _content(profile), before)
        origin = "operator's own" if profile.origin == "operator" else "shipped"
        yield Item(f"aircraft-{name}", profile.name, tuple(lines), mark, f"{name}, {origin}")


def _content(profile: Profile) -> Profile:
    return msgspec.structs.replace(profile, origin="")


def _limits(door: Door) -> str:
    limits = [f"operate {door.operate_kt:g} kt, stay open {door.stay_open_kt:g} kt"]
    limits += [
        f"wind from {sector.from_deg:g}° to {sector.to_deg:g}° off the nose: operate {sector.operate_kt:g} kt, "
        f"stay open {sector.stay_open_kt:g} kt"
        for sector in door.sectors
    ]
    return "; ".join(limits).replace("-", "−")


def _surfaces(profile: Profile) -> str:
    facts = [f"wing {profile.wing_height_m:g} m high"]
    if profile.emissivity == profile.emissivity:
        facts.append(f"emissivity {profile.emissivity:g}")
    facts.append("fuel touches the upper skin" if profile.tank_skin else "no fuel at the upper skin")
    facts.append("fuel stays cold after a flight" if profile.fuel_stays_cold else "fuel follows the air")
    return ", ".join(facts)


def _source(source: Source) -> Item:
    said = source.locator or "no locator"
    return Item(
        f"source-{source.key}", source.title, (ManualLine("standing", (source.standing,)), ManualLine("where", (said,)))
    )
