"""What the commands of the operator's desk share: folders, situations, and what a page has as an example."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from advisor.brief.witness import Search
    from advisor.checklist.desk.coverage import Coverage
    from advisor.checklist.desk.weathered import Weathered
    from advisor.checklist.profile import Profile
    from advisor.checklist.rules import Checklist, Page, Situation

SHIPPED = "shipped"


def read(name: str) -> tuple[Checklist, dict[str, Page]]:
    """The checklist and pages of a folder; "shipped" names what is shipped.

    Raises ChecklistError with every fault of every file.
    """
    from advisor.checklist import revision

    return revision.load_all(None if name == SHIPPED else Path(name))


def search(old: tuple[Checklist, dict[str, Page]], new: tuple[Checklist, dict[str, Page]]) -> Search:
    """A search for situations in which two checklists differ."""
    from advisor import places
    from advisor.brief.situations import Known
    from advisor.brief.witness import Search, Side
    from advisor.checklist.toml import situations

    hazards, _ = situations.shipped()
    own = {name: page.fires for pages in (new[1], old[1]) for name, page in pages.items() if page.fires is not None}
    usual = [one.situation for one in hazards]
    before, after = (Side(one[0], fleet(one[0])) for one in (old, new))
    return Search(before, after, usual, own, Known({}, places))


def fleet(checklist: Checklist) -> dict[str, Profile]:
    """The aircraft of a checklist, by id. Raises ChecklistError with every fault of every file."""
    from advisor.checklist import aircraft

    return aircraft.load_profiles(checklist.folder or None)


def coverage_of(name: str) -> Coverage:
    """Coverage of the checklist of a folder. Raises ChecklistError with every fault of every file."""
    from advisor import places
    from advisor.brief.situations import Known, SituationTrials
    from advisor.checklist.desk import coverage
    from advisor.checklist.toml import situations
    from advisor.errors import AdvisorError

    checklist, pages = read(name)
    hazards, stations = situations.shipped()
    tried = SituationTrials(checklist.windows, Known(stations, places))
    by_class = {profile.class_id: profile for profile in reversed(fleet(checklist).values())}

    def weather(situation: Situation, class_id: str) -> Weathered | None:
        profile = by_class.get(class_id)
        if profile is None:
            return None
        try:
            return tried.weathered(situation, profile)
        except AdvisorError:
            return None

    told = [coverage.SituationToTry(one.name, one.beside, one.situation) for one in hazards]
    found = search((checklist, pages), (checklist, pages))
    return coverage.coverage(checklist, told, weather, found.reaches)
