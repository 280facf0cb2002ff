"""What the page to edit with does: a folder's rules, a draft of one, and what it says about reports of a station."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from advisor import places
from advisor.brief.situations import Known, SituationTrials
from advisor.checklist import aircraft, revision
from advisor.checklist.desk import check as desk
from advisor.checklist.evaluate import CANNOT_TELL, NOT_INDICATED, evaluate
from advisor.checklist.language import wording
from advisor.checklist.language.condition import ConditionError, compile_condition
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist, Rule, Situation
from advisor.checklist.toml import edit
from advisor.checklist.toml.edit import FIELDS, Opened, Written
from advisor.conditions import PHASES
from advisor.errors import AdvisorError, ChecklistError
from advisor.feeds.file import files_of
from advisor.quantities import CODE, FLAG, QUANTITIES
from advisor.report import reading
from advisor.report.model import Report

# today's report and the last thirty of the station
MOST_REPORTS = 31
# how a report is tried: a walk round an aircraft that leaves so long after it
NOW_MIN, OFF_BLOCK_MIN = 5, 65
FIRES, NOT, UNKNOWN = "fires", "does not", "not known"
SIGNS = (">=", ">", "<=", "<", "==", "!=")
_TEXTS = ("when", "weight", "text", "more", "must_when", "must_text", "must_more", "zone", "reason")
_SPACES = re.compile(r"\s+")


class CheckedFolder(NamedTuple):
    """A folder that passes: its checklist, and all that the check says of it."""

    checklist: Checklist
    told: desk.Checked


class RuleRow(msgspec.Struct, frozen=True):
    """A rule in the list of a folder."""

    written: Written
    said: str
    weight: str


class FolderRules(msgspec.Struct, frozen=True):
    """A folder's rules by file, and what is wrong with it."""

    folder: str
    name: str
    files: tuple[tuple[str, tuple[RuleRow, ...]], ...]
    faults: tuple[str, ...]


class DraftAnswer(msgspec.Struct, frozen=True):
    """What a rule does with a report, as it is saved and as it is drafted; "" where there is no such rule."""

    at: str
    raw: str
    saved: str
    drafted: str

    @property
    def differs(self) -> bool:
        """Whether the draft says something else."""
        return bool(self.drafted) and self.drafted != self.saved


class Draft(msgspec.Struct, frozen=True):
    """A rule being edited: its fields, in words, what is wrong with them, and what they do with reports.

    notes: what the check notes on the folder as it would be; less: what the rule then says less than the shipped one.
    """

    opened: Opened
    written: Written
    values: dict[str, str]
    during: tuple[str, ...]
    said: tuple[str, ...]
    faults: tuple[str, ...]
    answers: tuple[DraftAnswer, ...] = ()
    unread: str = ""
    notes: tuple[str, ...] = ()
    less: tuple[str, ...] = ()

    @property
    def counts(self) -> str:
        """How often the draft fires, in a sentence."""
        drafted = [one.drafted or one.saved for one in self.answers]
        if not drafted:
            return ""
        fires = sum(one.startswith(FIRES) for one in drafted)
        unknown = sum(one == UNKNOWN for one in drafted)
        return f"Of {len(drafted)} reports it fires in {fires}; in {unknown} it is not known."


def check(folder: Path) -> CheckedFolder:
    """The same as the command: a folder is read whole, its aircraft and feeds with it. Raises ChecklistError."""
    told = desk.check(folder, feeds=files_of)
    told.raise_faults()
    return CheckedFolder(revision.load(folder), told)


def listed(folder: Path) -> FolderRules:
    """A folder's rules. Raises ChecklistError where it holds none that can be shown."""
    faults: tuple[str, ...] = ()
    name = ""
    try:
        name = check(folder).checklist.name
    except ChecklistError as error:
        faults = _faults(error, folder)
    rules_by_file = []
    for file in edit.files(folder):
        try:
            rules = edit.opened(folder, file).rules
        except ChecklistError:
            continue
        if rules:
            rules_by_file.append((file, tuple(_row(one) for one in rules)))
    return FolderRules(str(folder), name, tuple(rules_by_file), faults)


def _row(one: Written) -> RuleRow:
    return RuleRow(one, _said(str(one.fields.get("when", "")))[0], str(one.fields.get("weight", "")))


def _said(when: str) -> tuple[str, ...]:
    """A condition in words; what is wrong with it where it cannot be read."""
    try:
        return wording.alternatives(compile_condition(when).node)
    except ConditionError as error:
        return (f"cannot be read: {error.what}",)


def _faults(error: ChecklistError, folder: Path) -> tuple[str, ...]:
    """The faults of an error, with files named as they lie in the folder."""
    return tuple(one.replace(f"{folder}/", "") for one in (error.faults or (str(error),)))


def found(folder: Path, file: str, rule_id: str) -> tuple[Opened, Written]:
    """A rule in its file. Raises ChecklistError where it is not there."""
    opened = edit.opened(folder, file)
    written = next((one for one in opened.rules if one.id == rule_id), None)
    if written is None:
        raise ChecklistError(f"no rule {rule_id[:60]!r}", where=file, hint="open the folder again")
    return opened, written


def as_saved(opened: Opened, written: Written) -> Draft:
    """A rule as it stands in its file."""
    values = {name: _shown(value) for name, value in written.fields.items() if name != "during"}
    during = written.fields.get("during", ())
    chosen = (during,) if isinstance(during, str) else tuple(during)
    return Draft(opened, written, values, chosen, _said(values.get("when", "")), ())


def _shown(value: Any) -> str:
    return "" if value is None else str(value)


def drafted(opened: Opened, written: Written, form: Mapping[str, Sequence[str]]) -> Draft:
    """A rule as the form has it. form: every value of each field."""
    values = {name: form.get(name, ("",))[-1] for name in (*_TEXTS, "lead_min")}
    # a condition is one line in a file, however it was broken in the form
    values = {name: _SPACES.sub(" ", value).strip() for name, value in values.items()}
    added = _comparison(form)
    if added:
        join = " and " if form.get("join", ("and",))[-1] == "and" else " or "
        values["when"] = f"({values['when']}){join}{added}" if values["when"] else added
    during = tuple(phase for phase in PHASES if phase in form.get("during", ()))
    return Draft(opened, written, values, during, _said(values["when"]), ())


def _comparison(form: Mapping[str, Sequence[str]]) -> str:
    """What is to be added to the condition; "" for nothing."""
    term = form.get("term", ("",))[-1].strip()
    row = QUANTITIES.get(term)
    sign, value = form.get("sign", (">=",))[-1], form.get("value", ("",))[-1].strip()
    if row is None or "add" not in form.get("do", ()):
        return ""
    if row.kind == FLAG:
        return f"not {term}" if sign == "!=" else term
    if row.kind == CODE:
        return f'{term} {sign if sign in ("==", "!=") else "=="} "{value}"'
    return f"{term} {sign if sign in SIGNS else '>='} {value}"


def fields_of(draft: Draft) -> dict[str, Any]:
    """The fields as a file holds them. Raises ChecklistError for a number that is none."""
    fields: dict[str, Any] = {name: draft.values.get(name, "") for name in _TEXTS}
    minutes = draft.values.get("lead_min", "")
    if minutes and not minutes.isascii():
        minutes = "?"
    if minutes and not minutes.isdigit():
        raise ChecklistError(
            f"lead_min: {minutes[:20]!r} is no number of minutes", hint="write a whole number, or none"
        )
    fields["lead_min"] = int(minutes) if minutes else None
    before = draft.written.fields.get("during")
    one = draft.during[0] if len(draft.during) == 1 and isinstance(before, str) else list(draft.during)
    fields["during"] = one
    return {name: fields[name] for name in FIELDS if name in fields}


def text_of(draft: Draft) -> str:
    """The file's text with the draft in it. Raises ChecklistError."""
    return edit.rewritten(draft.opened.text, draft.written.id, fields_of(draft))


def tried(folder: Path, draft: Draft, reports: Sequence[Report], place: str, chosen: str) -> Draft:
    """The draft with what is wrong with it, and what it does with reports beside what the saved rule does.

    place: "" for the station of the reports; chosen: id of an aircraft, "" for the checklist's.
    """
    faults: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    less: tuple[str, ...] = ()
    after: Checklist | None = None
    try:
        after, told = edit.tried(folder, draft.opened.file, text_of(draft), check)
        notes = tuple(_short(one.file, one.line, one.message) for one in told.notes)
        less = tuple(_less(one) for one in told.loosened if one.about == draft.written.id)
    except ChecklistError as error:
        faults = _faults(error, folder)
    try:
        before: Checklist | None = check(folder).checklist
    except ChecklistError:
        before = None
    answers, unread = _answers(folder, draft.written.id, before, after, reports, place, chosen)
    return msgspec.structs.replace(draft, faults=faults, answers=answers, unread=unread, notes=notes, less=less)


def _short(file: str, line: int, message: str) -> str:
    return f"{Path(file).name}:{line}: {message}"


def _less(one: desk.Loosened) -> str:
    """What a draft says less than what is shipped, in words."""
    return f"{one.what}: {one.was}, now {one.now} ({', '.join(one.classes)})"


def saved(folder: Path, draft: Draft, digest: str) -> None:
    """Save the draft, or raise ChecklistError and write nothing. digest: of the file as it was opened."""
    edit.save(folder, draft.opened.file, digest, text_of(draft), check)


def reports_of(texts: Sequence[str], now: datetime) -> tuple[Report, ...]:
    """The reports in texts, the newest first, at most 31. Raises ReportError where a text cannot be read."""
    read = [one for text in texts for one in reading.read_all(text, now=now) if isinstance(one, Report)]
    unique = {one.raw: one for one in read if not one.nil}
    return tuple(sorted(unique.values(), key=lambda one: one.issued, reverse=True)[:MOST_REPORTS])


def _answers(
    folder: Path,
    rule_id: str,
    before: Checklist | None,
    after: Checklist | None,
    reports: Sequence[Report],
    place: str,
    chosen: str,
) -> tuple[tuple[DraftAnswer, ...], str]:
    """What becomes of a rule with each report, and why there is nothing where there is nothing."""
    sides = [one for one in (before, after) if one is not None]
    if not reports or not sides:
        return (), ""
    fleet = aircraft.load_profiles(folder if before is not None else None)
    profile = fleet.get(chosen) or fleet.get(sides[0].default_aircraft)
    if profile is None:
        return (), f"no aircraft {chosen!r}"
    try:
        told = tuple(
            DraftAnswer(
                f"{report.issued:%Y-%m-%d %H%MZ}",
                report.raw,
                _status(before, rule_id, report, place, profile),
                _status(after, rule_id, report, place, profile),
            )
            for report in reports
        )
    except AdvisorError as error:
        return (), str(error)
    return told, ""


def _status(side: Checklist | None, rule_id: str, report: Report, place: str, profile: Profile) -> str:
    rule: Rule | None = None if side is None else side.rule(rule_id)
    if side is None or rule is None:
        return ""
    if rule.for_class(profile.class_id) is None:
        return f"{NOT}, not for this class"
    situation = Situation(
        report=report.raw,
        now=_stamp(report.issued + timedelta(minutes=NOW_MIN)),
        off_block=_stamp(report.issued + timedelta(minutes=OFF_BLOCK_MIN)),
        place=place or None,
    )
    conditions, windows, now = SituationTrials(side.windows, Known({}, places)).weathered(situation, profile)
    (result,) = evaluate([rule], conditions, windows, now, profile.class_id)
    if result.status == NOT_INDICATED:
        return NOT
    return UNKNOWN if result.status == CANNOT_TELL else f"{FIRES}, {result.status}, {result.rule.weight}"


def _stamp(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def fleet(folder: Path) -> tuple[list[tuple[str, str]], str]:
    """The aircraft of a folder, id and name, and the usual one; what is shipped where the folder cannot be used."""
    try:
        profiles, usual = aircraft.load_profiles(folder), check(folder).checklist.default_aircraft
    except ChecklistError:
        profiles, usual = aircraft.load_profiles(), revision.load().default_aircraft
    return [(profile.id, profile.name) for profile in profiles.values()], usual


def terms() -> list[tuple[str, str]]:
    """The words that a condition may use, each with what it means."""
    return [(name, f"{row.meaning}{f', {row.unit}' if row.unit else ''}") for name, row in QUANTITIES.items()]
