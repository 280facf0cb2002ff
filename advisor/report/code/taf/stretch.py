"""Stretches of a forecast while it is being read: base, FM and change groups, and the elements gathered in each.

Both readers, of text and of XML, gather their groups here, so that the same forecast gives the same elements.
Source: wmo-306-fm-51.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import pairwise
from math import isnan, nan
from typing import Any

from advisor.report.code.entries import LedgerEntry, changed, entry
from advisor.report.code.taf.groups import ELEMENT_OF
from advisor.report.code.unread import element_of, looks_like_cloud
from advisor.report.forecast import CLOUD, VISIBILITY, WEATHER, WIND, ChangeGroup, Elements, Period
from advisor.report.model import CONFLICT, DECODED, NOTED, CloudLayer


class StretchElements:
    """Gathers the elements of one stretch (base, FM or a change group) from its entries, in order."""

    __slots__ = ("cloud", "fields", "first", "mentioned", "noted", "unread", "weather")

    def __init__(self) -> None:
        self.fields: dict[str, Any] = {}
        self.mentioned: set[str] = set()
        self.weather: list[str] = []
        self.cloud: list[CloudLayer] = []
        self.unread: list[str] = []
        self.noted = False
        self.first: dict[str, LedgerEntry] = {}

    def take(self, new: LedgerEntry) -> LedgerEntry:
        """Take one entry. Returns it, or what became of it beside the others (said again, in conflict)."""
        status, kind = new.group.status, new.group.kind
        if status == NOTED:
            self.noted = True
            return new
        element = ELEMENT_OF.get(kind)
        if status != DECODED:
            self.unread.append(new.group.text)
            element = element or element_of(new.group.text)
            if element is not None:
                self._unknown(element, looks_like_cloud(new.group.text) or "")
            return new
        assert element is not None
        if new.words[:1] == ("//",):
            self._unknown(element)
            return new
        if kind in ("wind", "visibility"):
            before = self.first.get(kind)
            if before is not None:
                return self._again(new, before, element)
            self.first[kind] = new
        _TAKE[kind](self, new)
        self.mentioned.add(element)
        return new

    def _again(self, new: LedgerEntry, before: LedgerEntry, element: str) -> LedgerEntry:
        """Settle a second wind or visibility in one stretch."""
        text = new.group.text
        if before.words == new.words and before.numbers == new.numbers:
            return changed(new, status=NOTED, meaning=f"{new.group.meaning} (said again)")
        self._unknown(element)
        self.unread += [before.group.text, text]
        return changed(new, status=CONFLICT, meaning=f"{new.group.meaning}; said twice, differently")

    @property
    def empty(self) -> bool:
        """Whether nothing that can be read stands in the stretch."""
        return not self.mentioned and (bool(self.unread) or not self.noted)

    def tell_nothing(self) -> None:
        """Take everything as not known: a change without words changes nobody knows what."""
        for element in (WIND, VISIBILITY, WEATHER, CLOUD):
            self._unknown(element, "///")

    def _unknown(self, element: str, kind: str = "") -> None:
        """Take an element as not known. kind: of a cloud group of which no more was read."""
        self.mentioned.add(element)
        if element == WEATHER:
            self.fields["weather_missing"] = True
        elif element == CLOUD:
            self.cloud.append(CloudLayer("///", nan, kind))
        else:
            # a second reading of the same element must not fill it again
            self.first[element] = entry("", element, CONFLICT, "")
            for name in _NUMBERS[element]:
                self.fields.pop(name, None)

    def finish(self, whole: bool) -> Elements:
        """Make the elements. whole: base and FM say everything, so what they leave out is none (weather) or unknown."""
        fields = self.fields
        if self.cloud:
            fields["cloud"] = tuple(self.cloud)
            known = any(layer.cover != "///" or layer.type not in ("", "///") for layer in self.cloud)
            fields["sky"] = "layers" if known else fields.get("sky", "missing")
        if self.weather:
            fields["weather"] = tuple(self.weather)
        if whole:
            # a stretch that says everything has its cloud behind the weather: without it the text was cut
            if CLOUD not in self.mentioned and not self.weather:
                fields["weather_missing"] = True
            fields.setdefault("sky", "missing")
            self.mentioned.update((WIND, VISIBILITY, WEATHER, CLOUD))
        if self.unread:
            fields["unread"] = tuple(self.unread)
        return Elements(frozenset(self.mentioned), **fields)


_NUMBERS = {
    WIND: ("wind_direction_deg", "wind_variable", "wind_kt", "wind_is", "gust_kt", "gust_lost"),
    VISIBILITY: ("visibility_m", "visibility_is", "visibility_text"),
}


def _wind(g: StretchElements, read: LedgerEntry) -> None:
    n, fields = read.numbers, g.fields
    fields["wind_direction_deg"], fields["wind_kt"], fields["gust_kt"] = n["direction_deg"], n["kt"], n["gust_kt"]
    fields["gust_lost"] = "gust missing" in read.words
    if read.words:
        if "variable" in read.words:
            fields["wind_variable"] = True
        if "at least" in read.words:
            fields["wind_is"] = "at least"


def _visibility(g: StretchElements, read: LedgerEntry) -> None:
    fields, words = g.fields, read.words
    fields["visibility_m"], fields["visibility_is"], fields["visibility_text"] = read.numbers["m"], words[0], words[1]


def _cavok(g: StretchElements, read: LedgerEntry) -> None:
    if VISIBILITY not in g.mentioned:
        _visibility(g, read)
    g.mentioned.update((WEATHER, CLOUD))
    g.fields["sky"] = "CAVOK"


def _weather(g: StretchElements, read: LedgerEntry) -> None:
    if read.words[0] != "NSW":
        g.weather.append(read.words[0])


def _cloud(g: StretchElements, read: LedgerEntry) -> None:
    base = read.numbers["base_ft"]
    # a cover alone was cut before its height, and what stood behind it
    kind = "///" if read.group.text == read.words[0] else read.words[1]
    g.cloud.append(CloudLayer(read.words[0], base, kind))
    if read.words[0] == "VV" and not isnan(base):
        g.fields["vertical_visibility_ft"] = base


def _sky(g: StretchElements, read: LedgerEntry) -> None:
    g.fields["sky"] = read.words[0]


_TAKE: dict[str, Any] = {
    "wind": _wind,
    "visibility": _visibility,
    "CAVOK": _cavok,
    "weather": _weather,
    "cloud": _cloud,
    "vertical visibility": _cloud,
    "sky": _sky,
}


class Stretch:
    """A period or change group while it is being read. start, end: None where not given or not read.

    at: index of the group that opens it.
    """

    __slots__ = ("at", "end", "gathering", "indicator", "label", "period", "probability", "start")

    def __init__(
        self,
        indicator: str,
        label: str,
        start: datetime | None,
        end: datetime | None,
        *,
        probability: float = nan,
        period: int = 0,
    ) -> None:
        self.indicator, self.label, self.start, self.end = indicator, label, start, end
        self.probability, self.period, self.at = probability, period, 0
        self.gathering = StretchElements()


def settle(
    periods: Sequence[Stretch], changes: Sequence[Stretch], valid_from: datetime, valid_to: datetime
) -> tuple[tuple[Period, ...], tuple[ChangeGroup, ...]]:
    """Give periods their ends (where the next one begins) and changes without a time that of their period.

    periods: the base first, each with a start. Returns them in order of writing.
    """
    starts = [stretch.start or valid_from for stretch in periods]
    order = sorted(range(len(starts)), key=lambda i: (starts[i], i))
    ends = [valid_to] * len(starts)
    for i, following in pairwise(order):
        ends[i] = starts[following]
    return tuple(
        Period(stretch.label, start, end, stretch.gathering.finish(True))
        for stretch, start, end in zip(periods, starts, ends, strict=True)
    ), tuple(
        ChangeGroup(
            stretch.indicator,
            stretch.label,
            stretch.start or starts[stretch.period],
            stretch.end or ends[stretch.period],
            stretch.gathering.finish(stretch.indicator == "FM"),
            stretch.probability,
            stretch.period,
            stretch.start is not None,
        )
        for stretch in changes
    )
