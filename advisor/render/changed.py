"""What changed since an earlier brief, in sentences: the weather first, then lines and doors by name. Pure."""

from __future__ import annotations

from advisor.brief.changes import Change, changes
from advisor.brief.model import Brief, HazardOut
from advisor.render import words

# smaller changes are within what a report rounds to, and say nothing (ours)
AIR_C, GUST_KT = 1.0, 5.0
# hazards that leave something on the aircraft
LYING = (
    "frost",
    "snow",
    "ice-pellets",
    "freezing-rain",
    "freezing-drizzle",
    "freezing-precipitation",
    "freezing-fog",
    "lying-snow",
    "deposit",
)


def change_said(change: Change) -> str:
    """What became of a line since an earlier brief."""
    return {
        "added": f"new ({change.after})",
        "gone": "gone",
        "raised": f"raised from {change.before} to {change.after}",
        "lowered": f"lowered from {change.before} to {change.after}",
        "moved": f"latest time now {words.clock(change.after)}, was {words.clock(change.before)}",
    }[change.what]


def changes_said(before: Brief, brief: Brief) -> list[str]:
    """What changed since an earlier brief: the weather first, then lines and doors by name."""
    names = {line.id: line.short for one in (before, brief) for line in one.advice}
    weather = weather_said(before, brief)
    lines = [
        f"{names.get(change.id) or change.id.removeprefix('door: ')}: {change_said(change)}"
        for change in changes(before, brief)
    ]
    return [*([weather] if weather else []), *lines] or ["nothing changed in the lines below"]


def weather_said(before: Brief, after: Brief) -> str:
    """What changed in the weather, as "fog came; air at the walk now −1 °C, was 2"; "" where nothing did."""
    old = {one.key: one for one in before.hazards if one.key != "dark"}
    new = {one.key: one for one in after.hazards if one.key != "dark"}
    phrases = []
    for key, hazard in new.items():
        was = old.get(key)
        if was is None and key == "seen":
            phrases.append(hazard.words)
        elif was is None:
            phrases.append(
                f"{hazard.words} came" if hazard.status == "expected" else f"{hazard.words} now {hazard.status}"
            )
        elif was.status != hazard.status:
            phrases.append(f"{hazard.words} {hazard.status}, was {was.status}")
    phrases += [_ended(one) for key, one in old.items() if key not in new]
    for name, word, unit, least in (("air_temperature_c", "air", "°C", AIR_C), ("gust_kt", "gust", "kt", GUST_KT)):
        first, last = _central(before, name), _central(after, name)
        if first is not None and last is not None and abs(last - first) >= least:
            phrases.append(f"{word} at the walk now {words.amount(last, 0)} {unit}, was {words.amount(first, 0)}")
        elif (first is None) != (last is None):
            phrases.append(f"{word} {'now known' if first is None else 'no longer known'}")
    text = "; ".join(phrases)
    return f"{text[:1].upper()}{text[1:]}"


def _ended(hazard: HazardOut) -> str:
    """A hazard that is no longer foreseen; of what may lie, and of what was seen, that says nothing."""
    if hazard.key == "seen":
        return f"{hazard.words} was stated before and is not now"
    lies = "; what formed or fell may lie" if hazard.key in LYING else ""
    return f"{hazard.words} no longer foreseen{lies}"


def _central(brief: Brief, name: str) -> float | None:
    """A value at the start of the walk, in the central case."""
    start = brief.windows.walk_round[0]
    row = next((row for row in brief.timeline if row["at"] >= start), None)
    value = None if row is None else row.get(name)
    return value.get("central") if isinstance(value, dict) else value


def sentences(before: Brief, after: Brief) -> tuple[str, ...]:
    """Each must-line, and each door, that came, went or changed its status, the graver changes first."""
    musts = {line.id: line.short for brief in (before, after) for line in brief.advice if line.weight == "must"}
    texts = []
    for change in changes(before, after):
        if change.what == "moved" or not (change.id in musts or change.id.startswith("door: ")):
            continue
        name = musts.get(change.id) or change.id.removeprefix("door: ")
        texts.append(f"{name[:1].upper()}{name[1:]}: {change_said(change)}")
    return tuple(texts)
