"""The example on a rule's page: the situation in which it fires, briefed, and the line that comes of it."""

from __future__ import annotations

import msgspec

from advisor import places
from advisor.brief.advise import advise
from advisor.checklist.aircraft import load_profiles
from advisor.checklist.rules import Checklist, Rule, Situation
from advisor.checklist.show import Example
from advisor.errors import AdvisorError
from advisor.render.text import told


def of(loaded: Checklist) -> Example:
    """A function that turns a rule and its situation into the words of a brief, by this checklist."""
    fleet = load_profiles()

    def example(rule: Rule, situation: Situation) -> str:
        asked = {key: value for key, value in msgspec.structs.asdict(situation).items() if value is not None}
        reports = asked.pop("report")
        try:
            brief = advise(
                [reports] if isinstance(reports, str) else reports,
                checklist=loaded,
                fleet=fleet,
                gazetteer=places,
                **asked,
            )
        except AdvisorError as error:
            return f"(no example: {error})"
        line = next((line for line in brief.advice if line.id == rule.id), None)
        return told(line, brief) if line is not None else "(the line does not come up there)"

    return example
