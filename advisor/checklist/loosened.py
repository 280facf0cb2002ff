"""In what a checklist says less than the one that it is laid over: rules, windows, leads and limits. Pure."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from functools import lru_cache
from math import inf, isnan

import msgspec

from advisor.checklist.entries import WindowMinutes
from advisor.checklist.fields import CLASSES, ClassId
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist, Loss, Rule, compiled
from advisor.conditions import Door

RULE, WINDOWS, LEAD, AIRCRAFT = "rule", "windows", "lead", "aircraft"
GONE, NONE = "gone", "none"
# what is not the same and not more counts as less, an undecided comparison included
_NOT_LESS = ("same", "tightened")
_Found = tuple[str, bool, str, str]  # what, must, was, now


def losses(old: Checklist, new: Checklist) -> tuple[Loss, ...]:
    """Everything in which new says less than old, in the order of old's rules; what it says more is not looked at."""
    all_losses: list[Loss] = []
    for rule in old.rules:
        after = new.rule(rule.id)
        if after != rule:
            all_losses += rule_losses(rule, after)
    all_losses += _windows(WINDOWS, WINDOWS, CLASSES, old.windows, new.windows)
    all_losses += _leads(old, new)
    for name, before in old.profiles.items():
        all_losses += _profile(before, new.profiles.get(name), old, new)
    return tuple(all_losses)


def rule_losses(old: Rule, new: Rule | None) -> tuple[Loss, ...]:
    """In what a rule says less than it did; None where it is gone. Classes that lose the same stand together."""
    together: dict[_Found, list[ClassId]] = {}
    for class_id in CLASSES:
        before = old.for_class(class_id)
        if before is None:
            continue
        after = None if new is None else new.for_class(class_id)
        if after is None:
            what = "removed" if new is None else "classes"
            class_losses: Iterator[_Found] = iter([(what, _must(before) is not None, before.when, GONE)])
        else:
            class_losses = _in_class(before, after)
        for loss in class_losses:
            together.setdefault(loss, []).append(class_id)
        if new is not None and after is not None:
            for loss in _words(class_id, old, new, before, after):
                together.setdefault(loss, []).append(class_id)
    return tuple(
        Loss(old.id, RULE, what, tuple(classes), must, was, now) for (what, must, was, now), classes in together.items()
    )


def _must(rule: Rule | None) -> Rule | None:
    """The part of a rule that is a must: all of it, what must_when raises, or nothing."""
    return rule if rule is None or rule.weight == "must" else rule.raised


def _in_class(before: Rule, after: Rule) -> Iterator[_Found]:
    musts = _must(before), _must(after)
    must = musts[0] is not None
    if musts[0] is not None:
        if musts[1] is None:
            yield "weight", True, "must", after.weight
        else:
            yield from _asked(musts[0], musts[1], True)
            if _unreached(after, musts[1]) and not _unreached(before, musts[0]):
                yield "when", True, musts[0].when, f"{after.when} and {musts[1].when}"
    if before.weight != "must":
        yield from _asked(before, after, False)
    if before.kind != after.kind:
        yield "kind", must, before.kind, after.kind
    if before.stop and not after.stop:
        yield "stop", must, "stop", "no stop"
    for what in ("aircraft", "stations", "months"):
        was, now = getattr(before, what), getattr(after, what)
        if now and not (was and set(was) <= set(now)):
            yield what, must, _listed(was) or "all", _listed(now)
    if before.kind == "request" and after.kind == "request":
        yield from _later(before, after, must)


def _asked(before: Rule, after: Rule, must: bool) -> Iterator[_Found]:
    if before.when != after.when and _compared(before.when, after.when) not in _NOT_LESS:
        yield "when", must, before.when, after.when
    if not set(before.during) <= set(after.during):
        yield "during", must, _listed(before.during), _listed(after.during)


def _later(before: Rule, after: Rule, must: bool) -> Iterator[_Found]:
    """A latest time that comes later than it did; a lead of its own and none cannot be compared."""
    if before.lead_min is not None and (after.lead_min is None or after.lead_min < before.lead_min):
        yield "lead_min", must, f"{before.lead_min} min", _minutes(after.lead_min)
    elif before.lead_min is None and after.lead_min is not None:
        yield "lead_min", must, _minutes(None), f"{after.lead_min} min"
    lead = after.lead_min or 0
    for station, minutes in before.lead_by_station.items():
        now = after.lead_by_station.get(station, lead)
        if now < minutes:
            yield "lead_min", must, f"{minutes} min at {station}", f"{now} min"
    for station, minutes in after.lead_by_station.items():
        if station not in before.lead_by_station and minutes < (before.lead_min or 0):
            yield "lead_min", must, f"{before.lead_min} min", f"{minutes} min at {station}"


def _words(class_id: ClassId, old: Rule, new: Rule, before: Rule, after: Rule) -> Iterator[_Found]:
    """Words that a class had of its own and has no more, and words for the graver part that are gone."""
    must = _must(before) is not None
    had, has = old.overrides.get(class_id), new.overrides.get(class_id)
    for name in ("text", "more", "must_text", "must_more"):
        own = None if had is None else getattr(had, name)
        if own and not (has is not None and getattr(has, name)) and getattr(after, name) != own:
            yield "text", must, own, getattr(after, name) or NONE
        elif own is None and name != "text" and getattr(before, name) and not getattr(after, name):
            # whoever writes a rule in other words may do without these: said, but no must that is gone
            yield "text", False, getattr(before, name), NONE


def _unreached(rule: Rule, must: Rule) -> bool:
    """Whether a part that is a must lies outside its rule's own condition, where nobody asks for it."""
    return rule.weight != "must" and _compared(must.when, rule.when) not in _NOT_LESS


@lru_cache(maxsize=1024)
def _compared(old: str, new: str) -> str:
    return compiled(old).compare(compiled(new))


def _windows(
    about: str,
    kind: str,
    classes: tuple[ClassId, ...],
    old: Mapping[str, WindowMinutes],
    new: Mapping[str, WindowMinutes],
) -> Iterator[Loss]:
    for name, before in old.items():
        if name in new:
            yield from _window(about, kind, classes, name, before, new[name])


def _window(
    about: str, kind: str, classes: tuple[ClassId, ...], name: str, before: WindowMinutes, after: WindowMinutes
) -> Iterator[Loss]:
    for part in ("walk_round", "doors_open"):
        was, now = getattr(before, part), getattr(after, part)
        if now[0] > was[0] or now[1] < was[1]:
            yield Loss(about, kind, WINDOWS, classes, True, f"{name} {_spoken(part)} {_span(was)}", _span(now))
    for part in ("take_off", "take_off_treated"):
        was, now = getattr(before, part), getattr(after, part)
        if now < was:
            yield Loss(about, kind, WINDOWS, classes, True, f"{name} {_spoken(part)} +{was} min", f"+{now} min")


def _span(span: tuple[int, int]) -> str:
    return f"{span[0]} to {span[1]} min".replace("-", "−")


def _spoken(part: str) -> str:
    return part.replace("take_off", "take-off").replace("walk_round", "walk-round").replace("_", " ")


def _leads(old: Checklist, new: Checklist) -> Iterator[Loss]:
    about = "call lead"
    if new.call_lead_min < old.call_lead_min:
        yield Loss(about, LEAD, "lead_min", CLASSES, True, f"{old.call_lead_min} min", f"{new.call_lead_min} min")
    for class_id in CLASSES:
        was = old.call_lead_by_class.get(class_id, old.call_lead_min)
        now = new.call_lead_by_class.get(class_id, new.call_lead_min)
        if now < min(was, new.call_lead_min):
            yield Loss(about, LEAD, "lead_min", (class_id,), True, f"{was} min", f"{now} min")
    for station in {**old.call_lead_by_station, **new.call_lead_by_station}:
        was = old.call_lead_by_station.get(station, old.call_lead_min)
        now = new.call_lead_by_station.get(station, new.call_lead_min)
        if now < min(was, new.call_lead_min):
            yield Loss(about, LEAD, "lead_min", CLASSES, True, f"{was} min", f"{now} min at {station}")


def _profile(before: Profile, after: Profile | None, old: Checklist, new: Checklist) -> Iterator[Loss]:
    classes = tuple(name for name in CLASSES if name == before.class_id)

    def loss(what: str, was: str, now: str) -> Loss:
        return Loss(before.id, AIRCRAFT, what, classes, True, was, now)

    if after is None:
        yield loss("removed", before.name, GONE)
        return
    if after.class_id != before.class_id:
        yield loss("classes", before.class_id, after.class_id)
    if after.windows != before.windows and before.windows in old.windows and after.windows in new.windows:
        was, now = old.windows[before.windows], new.windows[after.windows]
        yield from _window(before.id, AIRCRAFT, classes, after.windows, was, now)
    for name, means in (("tank_skin", "fuel touches the skin"), ("fuel_stays_cold", "fuel stays cold")):
        if getattr(before, name) and not getattr(after, name):
            yield loss("surfaces", means, f"not: {means}")
    if after.wing_height_m > before.wing_height_m:
        # more wind reaches a higher wing, and wind keeps a skin warm
        yield loss("surfaces", f"wing {before.wing_height_m:g} m high", f"wing {after.wing_height_m:g} m high")
    if _milder(before.emissivity, after.emissivity):
        yield loss("surfaces", f"emissivity {_number(before.emissivity)}", f"emissivity {_number(after.emissivity)}")
    doors = {door.name: door for door in after.doors}
    for door in before.doors:
        if door.name not in doors:
            yield loss("doors", door.name, GONE)
        elif doors[door.name] != door:
            yield from (loss("doors", *said) for said in _limits(door, doors[door.name]))


def _milder(was: float, now: float) -> bool:
    if isnan(now):
        return not isnan(was)
    return isnan(was) or now < was


def _limits(before: Door, after: Door) -> Iterator[tuple[str, str]]:
    """The limits of a door that are higher than they were, the wind from anywhere."""
    for name, words in (("operate_kt", "operate"), ("stay_open_kt", "stay open")):
        worst, worst_bearing = 0.0, 0
        for bearing in range(-180, 180):
            more = limit(after, bearing, name) - limit(before, bearing, name)
            if more > worst:
                worst, worst_bearing = more, bearing
        if worst > 0:
            was, now = limit(before, worst_bearing, name), limit(after, worst_bearing, name)
            where = "" if not (before.sectors or after.sectors) else f" from {worst_bearing}° off the nose"
            yield f"{before.name} {words} {was:g} kt", f"{now:g} kt{where}"


def limit(door: Door, bearing_deg: float, name: str) -> float:
    """A door's limit for the wind from one bearing: the lowest of its sectors there, else its own. kt.

    name: "operate_kt" or "stay_open_kt".
    """
    lowest = inf
    for sector in door.sectors:
        span = (sector.to_deg - sector.from_deg) % 360.0
        if span == 0.0 and sector.to_deg != sector.from_deg:
            span = 360.0
        if (bearing_deg - sector.from_deg) % 360.0 <= span:
            lowest = min(lowest, getattr(sector, name))
    return float(getattr(door, name)) if lowest == inf else float(lowest)


def _listed(values: tuple[object, ...]) -> str:
    return ", ".join(str(value) for value in values)


def _minutes(lead: int | None) -> str:
    return "as the window or the call lead says" if lead is None else f"{lead} min"


def _number(value: float) -> str:
    return "of each variant" if isnan(value) else f"{value:g}"


def for_brief(checklist: Checklist, profile: Profile) -> tuple[str, ...]:
    """What a brief says of the losses that concern its aircraft: a line a rule, its windows, its lead, its limits.

    Only what a must rests on: a "should" that says less is for `advisor checklist check`.
    """
    by_subject: dict[str, list[str]] = {}
    for loss in checklist.losses:
        if not loss.must or profile.class_id not in loss.classes or not _concerns(loss, profile):
            continue
        why = _why(loss, checklist)
        short = {name: textwrap.shorten(getattr(loss, name), _LONG, placeholder=" …") for name in ("was", "now")}
        words = in_words(msgspec.structs.replace(loss, classes=CLASSES, **short))
        by_subject.setdefault(f"{loss.about}{why}", []).append(words)
    return tuple(f"{about}: {'; '.join(words)}" for about, words in by_subject.items())


def _concerns(loss: Loss, profile: Profile) -> bool:
    if loss.kind == AIRCRAFT:
        return loss.about == profile.id
    return loss.kind != WINDOWS or loss.was.partition(" ")[0] == profile.windows


def _why(loss: Loss, checklist: Checklist) -> str:
    said = reason(loss, checklist)
    return f" ({said.rstrip('.')})" if said else ""


def reason(loss: Loss, checklist: Checklist) -> str:
    """Why something says less, in the operator's words; "" where nobody wrote it."""
    rule = checklist.rule(loss.about) if loss.kind == RULE else None
    return checklist.reasons.get(loss.about.replace(" ", "-"), "") or (rule.reason if rule is not None else "")


def in_words(loss: Loss) -> str:
    """A loss in a sentence, without its subject: "when: gust_kt >= 28, now gust_kt >= 40"."""
    if loss.what == "removed":
        return "removed"
    if loss.what == "classes" and loss.now == GONE:
        return f"no more for {_classes(loss.classes)}"
    where = "" if set(loss.classes) == set(CLASSES) or loss.kind == AIRCRAFT else f" ({_classes(loss.classes)})"
    what = "" if loss.what == loss.about else f"{_WORDS.get(loss.what, loss.what)}: "
    if loss.what == "text":
        was, now = (repr(textwrap.shorten(one, _SHORT, placeholder=" …")) for one in (loss.was, loss.now))
        return f"{what}{was}, now {'gone' if loss.now == NONE else now}{where}"
    return f"{what}{loss.was}, now {loss.now}{where}"


def _classes(classes: tuple[str, ...]) -> str:
    return "every class" if len(classes) == len(CLASSES) else ", ".join(classes)


_SHORT, _LONG = 60, 100
_WORDS = {"lead_min": "latest call", "text": "words"}
