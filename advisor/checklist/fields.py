"""The fields of the files that operators write: what each may hold, in the words in which a fault says it."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta

Kind = Literal["gear", "checkpoint", "request", "door", "caution"]
Phase = Literal["parked", "walk_round", "doors_open", "off_block", "take_off"]
Weight = Literal["must", "should"]
ClassId = Literal[
    "light-aircraft",
    "glider",
    "helicopter",
    "uncrewed",
    "twin-turboprop",
    "regional-jet",
    "single-aisle-jet",
    "wide-body-jet",
]
Standing = Literal["the operator's", "published", "common practice", "from memory", "invented"]
CLASSES: tuple[ClassId, ...] = (
    "light-aircraft",
    "glider",
    "helicopter",
    "uncrewed",
    "twin-turboprop",
    "regional-jet",
    "single-aisle-jet",
    "wide-body-jet",
)
# fields without a tower, a stand or a runway condition report
SMALL_CLASSES: tuple[ClassId, ...] = ("light-aircraft", "glider", "helicopter", "uncrewed")

_UNPRINTABLE = r"\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069"
# $ alone would let a line end through
Id = Annotated[
    str,
    Meta(pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$(?!\n)", max_length=60, description="small letters, digits and -"),
]
Key = Annotated[
    str, Meta(pattern=r"^[a-z0-9][a-z0-9.-]*$(?!\n)", max_length=60, description="small letters, digits, . and -")
]
Line = Annotated[
    str,
    Meta(
        pattern=rf"^[^{_UNPRINTABLE}]+$(?!\n)", max_length=400, description="one line of 1 to 400 printable characters"
    ),
]
More = Annotated[
    str,
    Meta(
        pattern=rf"^[^{_UNPRINTABLE}]*$(?!\n)", max_length=600, description="one line of up to 600 printable characters"
    ),
]
Short = Annotated[
    str,
    Meta(
        pattern=rf"^[^{_UNPRINTABLE}]*$(?!\n)", max_length=40, description="one line of up to 40 printable characters"
    ),
]
Zone = Annotated[
    str, Meta(pattern=rf"^[^{_UNPRINTABLE}]*$(?!\n)", max_length=60, description="up to 60 printable characters")
]
Prose = Annotated[
    str,
    Meta(pattern=r"^[^\x00-\x08\x0b-\x1f\x7f-\x9f]*$", max_length=4000, description="up to 4000 printable characters"),
]
Station = Annotated[
    str,
    Meta(pattern=r"^[A-Z][A-Z0-9]{3}$(?!\n)", description="a location indicator, four capital letters or digits"),
]
Month = Annotated[int, Meta(ge=1, le=12, description="a month from 1 to 12")]
Minutes = Annotated[int, Meta(ge=0, le=1440, description="whole minutes from 0 to 1440")]
Offset = Annotated[int, Meta(ge=-1440, le=0, description="whole minutes from -1440 to 0")]
# read by fingerprint.py: a condition counts by what it asks; a field with the mark APART does not count at all
When = str
APART = Meta(extra={"counts": False})
