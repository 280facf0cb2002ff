"""What the commands print about checklists and profiles."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from advisor.checklist import revision
from advisor.checklist.language.condition import did_you_mean
from advisor.checklist.loosened import RULE, in_words
from advisor.checklist.profile import Profile
from advisor.checklist.rules import CLASSES, Checklist, Page, Rule, Situation, phases
from advisor.errors import AdvisorError

WIDTH = 80
Example = Callable[[Rule, Situation], str]


def page(loaded: Checklist, rule_id: str | None, example: Example | None = None) -> str:
    """One rule's page, or a line for every rule.

    rule_id: None for all. example: turns the situation in which the rule fires into the words of a brief.
    Raises AdvisorError for an id that is not there.
    """
    if rule_id is None:
        return listing(loaded)
    rule = loaded.rule(rule_id)
    if rule is None:
        raise unknown_rule(rule_id, loaded)
    pages = revision.load_pages(loaded.folder or None)
    return rule_page(loaded, rule, pages.get(rule_id, Page()), example)


def unknown_rule(rule_id: str, loaded: Checklist) -> AdvisorError:
    """The error for an id, given to a command, that no rule of a checklist has: the files are not at fault."""
    near = did_you_mean(rule_id, [one.id for one in loaded.rules])
    hint = f"{near} " if near.startswith("did you mean") else ""
    return AdvisorError(
        f"no rule {rule_id[:60]!r}", where=loaded.name, hint=f"{hint}`advisor checklist show` lists them"
    )


def listing(loaded: Checklist) -> str:
    """Every rule in a line: id, kind, weight, when; a star before an operator's own."""
    width = max((len(rule.id) for rule in loaded.rules), default=0)
    rows = []
    for rule in loaded.rules:
        mark = "*" if rule.origin == "operator" else " "
        rows.append(_cut(f"{mark} {rule.id:<{width}}  {rule.kind:<10}  {rule.weight:<6}  {rule.when}", 120))
    if any(rule.origin == "operator" for rule in loaded.rules):
        rows.append("* the operator's own")
    return "\n".join(rows) + "\n"


def rule_page(loaded: Checklist, rule: Rule, page: Page, example: Example | None) -> str:
    """A rule's page: what it does, why, an example, known limits, references, and what differs by class."""
    source = loaded.sources[rule.source]
    lines = [f"{rule.id}: {rule.kind}, {rule.weight}, {rule.origin}", f"  when    {rule.when}"]
    lines.append(f"  during  {_during(rule.during)}")
    if rule.zone:
        lines.append(f"  zone    {rule.zone}")
    lines += [f"  only    {where}" for where in [_where(rule)] if where]
    lead = [] if rule.lead_min is None else [f"{rule.lead_min} min before off-block"]
    lead += [f"{minutes} min at {station}" for station, minutes in sorted(rule.lead_by_station.items())]
    if lead:
        lines.append(f"  latest  {'; '.join(lead)}")
    lines.append(f"  says    {rule.text}")
    if rule.more:
        lines.append(f"          {rule.more}")
    if rule.must_when is not None:
        # words of its own: in a must rule they are all that changes
        lines.append(f"  where   {rule.must_when}")
        lines.append(f"  says    {rule.must_text or rule.text}" + ("" if rule.weight == "must" else " (a must)"))
        lines += [f"          {rule.must_more}"] if rule.must_more else []
    shown = _example(rule, page, example)
    references = [_reference(loaded, key) for key in dict.fromkeys((source.key, *page.references))]
    parts = [("What it does", page.does), ("Why", page.why), ("Example", shown), ("Known limits", page.limits)]
    for title, text in parts:
        lines += ["", title]
        lines += [f"  {line}" if line else "" for line in (text or "Nothing written yet.").strip().splitlines()]
    lines += ["", "References", *(f"  {reference}" for reference in references)]
    differences = _differences(rule)
    if differences:
        lines += ["", "By class of aircraft", *(f"  {line}" for line in differences)]
    if rule.id in loaded.loosened:
        classes = ", ".join(loaded.loosened_classes[rule.id])
        lines += ["", f'This checklist loosens the shipped "must" for {classes}.']
        lines += [f"  {in_words(loss)}" for loss in loaded.losses if loss.kind == RULE and loss.about == rule.id]
        lines += [f"  reason: {rule.reason}"] if rule.reason else []
    return _wrapped(lines)


def _where(rule: Rule) -> str:
    """For which aircraft, stations and months alone it holds, "" for all."""
    parts = (("aircraft", rule.aircraft), ("at", rule.stations), ("months", rule.months))
    return "; ".join(f"{word} {', '.join(map(str, held))}" for word, held in parts if held)


def _example(rule: Rule, page: Page, example: Example | None) -> str:
    if page.fires is None:
        return ""
    reports = (page.fires.report,) if isinstance(page.fires.report, str) else page.fires.report
    given = "\n".join((*reports, f"now {page.fires.now}, off-block {page.fires.off_block}"))
    return f"{given}\n{example(rule, page.fires)}" if example is not None else given


def _reference(loaded: Checklist, key: str) -> str:
    source = loaded.sources[key]
    locator = f", {source.locator}" if source.locator else ""
    return f"{source.title}{locator} ({source.standing})"


def _differences(rule: Rule) -> list[str]:
    rows = []
    for class_id in CLASSES:
        if class_id not in rule.classes:
            rows.append(f"{class_id}: does not apply")
            continue
        override = rule.overrides.get(class_id)
        if override is None:
            continue
        changed = [
            override.weight or "",
            "" if override.when is None else f"when {override.when}",
            "" if override.during is None else f"during {_during(phases(override.during))}",
            "" if override.zone is None else f"zone {override.zone}",
            "" if override.lead_min is None else f"latest {override.lead_min} min before off-block",
        ]
        graver = " ".join(filter(None, (override.must_text, override.must_more)))
        words = [*filter(None, (override.text, override.more)), f"Where it is graver: {graver}" if graver else ""]
        told = ["; ".join(part for part in changed if part), *words]
        rows.append(f"{class_id}: " + " ".join(part for part in told if part))
    return rows


def _during(during: Iterable[str]) -> str:
    return ", ".join(phase.replace("walk_round", "walk-round").replace("_", " ") for phase in during)


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1].rstrip() + "…"


def _wrapped(lines: Iterable[str]) -> str:
    out: list[str] = []
    for line in lines:
        lead = line[: len(line) - len(line.lstrip())]
        hanging = lead + ("        " if lead == "  " and line[2:9].rstrip() in _LABELS else "  " if not lead else "")
        out += textwrap.wrap(line, WIDTH, subsequent_indent=hanging, break_on_hyphens=False) or [""]
    return "\n".join(out) + "\n"


_LABELS = ("only", "when", "during", "zone", "latest", "says", "where")


def profiles_data(profiles: Mapping[str, Profile]) -> list[dict[str, Any]]:
    """The profiles as data: id, name, size, class, windows, doors, surfaces, walking order, note on the limits."""
    return [
        {
            "id": profile.id,
            "name": profile.name,
            "size": profile.size,
            "class": profile.class_id,
            "windows": profile.windows,
            "origin": profile.origin,
            "doors": [
                {
                    "door": door.name,
                    "bearing_deg": door.bearing_deg,
                    "operate_kt": door.operate_kt,
                    "stay_open_kt": door.stay_open_kt,
                    "sectors": [
                        {
                            "from_deg": sector.from_deg,
                            "to_deg": sector.to_deg,
                            "operate_kt": sector.operate_kt,
                            "stay_open_kt": sector.stay_open_kt,
                        }
                        for sector in door.sectors
                    ],
                }
                for door in profile.doors
            ],
            "wing_height_m": profile.wing_height_m,
            "emissivity": None if profile.emissivity != profile.emissivity else profile.emissivity,
            "tank_skin": profile.tank_skin,
            "fuel_stays_cold": profile.fuel_stays_cold,
            "walk": list(profile.walk),
            "limits_note": profile.limits_note,
        }
        for profile in profiles.values()
    ]


def profiles_text(profiles: Mapping[str, Profile]) -> str:
    """The profiles as people read them: a line each, its doors below with their two limits."""
    lines = []
    for profile in profiles.values():
        own = "" if profile.origin == "shipped" else ", the operator's own"
        lines.append(f"{profile.id}: {profile.name} ({profile.size}{own})")
        if not profile.doors:
            lines.append("  no doors")
        for door in profile.doors:
            row = f"  {door.name:<28} {_bearing(door.bearing_deg):<10} operate {door.operate_kt:.0f} kt"
            lines.append(f"{row}, stay open {door.stay_open_kt:.0f} kt{', less in sectors' if door.sectors else ''}")
    for note in dict.fromkeys(profile.limits_note for profile in profiles.values()):
        lines += textwrap.wrap(note, WIDTH)
    return "\n".join(lines) + "\n"


def _bearing(bearing_deg: float) -> str:
    side = "nose" if bearing_deg == 0 else "tail" if abs(bearing_deg) == 180 else "right" if bearing_deg > 0 else "left"
    return side if bearing_deg in (0, 180, -180) else f"{abs(bearing_deg):.0f}° {side}"
