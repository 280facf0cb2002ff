"""XML parsed safely, and what is needed to find the way in an IWXXM document.

No DTD, no entities, nothing from outside; limits of size, depth and number of elements hold while parsing, so hostile
input is refused early. Elements are known by their local names: versions differ in the namespace, not in these.
Source: iwxxm.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from math import isfinite, nan
from typing import TYPE_CHECKING, NoReturn
from urllib.parse import unquote
from xml.etree.ElementTree import Element, ParseError, TreeBuilder

from advisor.errors import ReportError
from advisor.report.moments import FIRST, LAST

if TYPE_CHECKING:
    from collections.abc import Mapping

LARGEST = 5_000_000
DEEPEST = 60
MOST_ELEMENTS = 200_000
_HINT = "give IWXXM METAR, SPECI or TAF, single or collected"
_START = re.compile(r"(?:[^<\n]{0,80}\n){0,4}\s*<[?!A-Za-z]")
_VERSION = re.compile(r"/iwxxm/([0-9.-]+)")
_NUMBER = re.compile(r"[-+]?\d{1,9}(?:\.\d{1,9})?", re.ASCII)
_TIME = re.compile(r"(\d{4}-\d\d-\d\dT)(\d\d)(:\d\d(?::\d\d)?)(?:\.\d{1,6})?(Z|[+-]\d\d:\d\d)", re.ASCII)


class _Limited(TreeBuilder):
    """Builds the tree and counts while it does."""

    def __init__(self) -> None:
        super().__init__()
        self.depth = self.count = 0

    def start(self, tag: str, attrs: Mapping[str, str], /) -> Element:
        """Open an element. Raises ReportError beyond the limits."""
        self.depth += 1
        self.count += 1
        if self.depth > DEEPEST:
            refuse(f"elements nested deeper than {DEEPEST}")
        if self.count > MOST_ELEMENTS:
            refuse(f"more than {MOST_ELEMENTS} elements")
        return super().start(tag, dict(attrs))

    def end(self, tag: str, /) -> Element:
        """Close an element."""
        self.depth -= 1
        return super().end(tag)


def refuse(what: str) -> NoReturn:
    """Raise a ReportError about an XML document."""
    raise ReportError(what, where="XML", hint=_HINT)


def looks_like(text: str | bytes) -> bool:
    """Whether a text is XML, so that it goes to this reader and not to the one for the traditional code.

    text: its beginning is enough; a byte order mark and up to four lines of a bulletin's heading may stand before it.
    """
    start = text[:500]
    if isinstance(start, bytes):
        if start[:2] in (b"\xff\xfe", b"\xfe\xff"):
            return True
        start = start.decode("utf-8", "replace")
    return _START.match(start.translate(_MARKS).replace("\r", "")) is not None


_MARKS = str.maketrans("", "", "\ufeff\x01\x02\x03")


def parse(xml: str | bytes) -> Element:
    """Parse a document. Raises ReportError for anything that is not well-formed, harmless XML within the limits."""
    # loaded here since most runs never meet XML
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import DefusedXMLParser

    if not xml.strip():
        refuse("empty document")
    if len(xml) > LARGEST:
        refuse(f"{len(xml)} characters are too many, at most {LARGEST}")
    if looks_like(xml):
        # a heading in front of the document
        if isinstance(xml, str):
            xml = xml[xml.index("<") :]
        elif xml[:2] not in (b"\xff\xfe", b"\xfe\xff"):
            xml = xml[xml.index(b"<") :]
    parser = DefusedXMLParser(target=_Limited(), forbid_dtd=True, forbid_entities=True, forbid_external=True)
    try:
        parser.feed(xml)
        root = parser.close()
    except DefusedXmlException as error:
        raise ReportError("document types and entities are not allowed", where="XML", hint=_HINT) from error
    except ParseError as error:
        line, column = error.position
        raise ReportError("not well-formed", where=f"XML line {line}, column {column + 1}", hint=_HINT) from error
    except (ValueError, LookupError) as error:
        raise ReportError("the text cannot be decoded", where="XML", hint="UTF-8 is expected") from error
    assert isinstance(root, Element)
    return root


def local(element: Element) -> str:
    """Name of an element without its namespace."""
    tag = element.tag
    return tag.rpartition("}")[2] if isinstance(tag, str) else ""


def version(element: Element) -> str:
    """Version of IWXXM in an element's namespace, "" for none."""
    match = _VERSION.search(element.tag)
    return match[1].strip("-.") if match else ""


def attribute(element: Element, name: str) -> str:
    """Value of an attribute by its local name, "" where absent."""
    for key, value in element.attrib.items():
        if key.rpartition("}")[2] == name:
            return value.strip()
    return ""


def code(element: Element) -> str:
    """Return the code at the end of a link, as DZ in …/306/4678/DZ; "" where there is none."""
    return unquote(attribute(element, "href").rstrip("/").rpartition("/")[2])


def nil(element: Element) -> str:
    """Why an element is empty: the end of its nilReason, "" where it has none."""
    return attribute(element, "nilReason").rstrip("/").rpartition("/")[2].rpartition(":")[2]


def words(element: Element) -> str:
    """Text of an element with single blanks."""
    return " ".join((element.text or "").split())


class XmlDocument:
    """A parsed document: finds elements by local names, and remembers which leaves were used."""

    def __init__(self, root: Element) -> None:
        self.root = root
        self.used: set[int] = set()
        self._named: dict[str, Element] | None = None

    def child(self, element: Element | None, *path: str) -> Element | None:
        """First descendant along a path of local names, None where there is none."""
        for name in path:
            if element is None:
                return None
            element = next((one for one in element if local(one) == name), None)
        return element

    def children(self, element: Element | None, name: str) -> list[Element]:
        """Children of a local name."""
        return [] if element is None else [one for one in element if local(one) == name]

    def find(self, element: Element | None, name: str) -> Element | None:
        """First element of a local name at any depth."""
        return None if element is None else next((one for one in element.iter() if local(one) == name), None)

    def resolved(self, element: Element | None) -> Element | None:
        """Follow a link inside the document once, as phenomenonTime has to the validity."""
        if element is None or len(element):
            return element
        target = attribute(element, "href")
        if not target.startswith("#"):
            return element
        if self._named is None:
            self._named = {attribute(one, "id"): one for one in self.root.iter()}
        return self._named.get(target[1:], element)

    def use(self, element: Element | None) -> None:
        """Mark an element and all in it as accounted for."""
        if element is not None:
            self.used.update(id(one) for one in element.iter())

    def leftovers(self, element: Element) -> Iterator[str]:
        """Yield the leaves that nothing has used, each as name and value."""
        for node in element.iter():
            if len(node) == 0 and id(node) not in self.used:
                leaf_text = " ".join(
                    part for part in (words(node) or code(node) or nil(node), attribute(node, "uom")) if part
                )
                if leaf_text:
                    yield f"{local(node)} {leaf_text}"

    def number(self, element: Element | None, units: dict[str, float]) -> float:
        """Value of an element in our unit; NaN where it is absent, empty, no number or of an unknown unit.

        units: factor to our unit by the document's unit. Not marked as used where it says something that is not read.
        """
        if element is None:
            return nan
        text = words(element)
        factor = units.get(attribute(element, "uom"), nan)
        if text and _NUMBER.fullmatch(text) and isfinite(factor):
            self.used.add(id(element))
            return float(text) * factor
        if not text:
            self.used.add(id(element))
        return nan


def moment(text: str) -> datetime | None:
    """Read a time with its offset as aware UTC, None where it is none; hour 24 is the end of the day.

    Raises ReportError for a time at an end of the calendar, as of the year 9999.
    """
    match = _TIME.fullmatch(text.strip())
    if match is None:
        return None
    day, hour, rest, zone = match.groups()
    try:
        time = datetime.fromisoformat(f"{day}{'00' if hour == '24' else hour}{rest}{zone}")
    except ValueError:
        return None
    if not FIRST <= time <= LAST:
        refuse(f"{text.strip()} lies outside the calendar")
    time = time.astimezone(UTC)
    return time + timedelta(days=1) if hour == "24" else time


def times(document: XmlDocument, element: Element | None) -> tuple[datetime | None, datetime | None]:
    """Begin and end of the time in an element; both the same for an instant, None where it cannot be read."""
    element = document.resolved(element)
    if element is None:
        return None, None
    at = document.find(element, "timePosition")
    if at is not None:
        found = moment(words(at))
        return found, found
    begin, end = document.find(element, "beginPosition"), document.find(element, "endPosition")
    return (moment(words(begin)) if begin is not None else None), (moment(words(end)) if end is not None else None)
