"""Why a line is there, in one phrase: shared by every form of output. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from advisor.brief.lines import FOLLOWS, LYING
from advisor.brief.model import Advice, Because, Brief
from advisor.quantities import FLAG, QUANTITIES
from advisor.render import words

SINCE = ", since about"
STOOD = f"{words.LABELS['parked_h']} "
SNOWS = ("very light snow", "light snow", "moderate snow", "heavy snow")
# what says nothing to a reader beside the line itself
SILENT = frozenset({"ahead_min", "off_block_in_min", "report_age_min", "cloud_fraction"})
MARGINS = {
    "frost_margin_c": ("skin", "where frost forms"),
    "tank_frost_margin_c": ("skin over the tanks", "where frost forms"),
    "dew_margin_c": ("skin", "the dew point"),
}
SKINS = ("skin over the tanks", "skin")
LIMITS = {"door_margin_kt": "the lowest limit", "door_stay_open_margin_kt": "the stay-open limit"}
# where one of these is the reason, that something may lie by then is what follows from it
CAUSES = frozenset(
    {
        "frost_margin_c",
        "tank_frost_margin_c",
        "recent_freezing",
        "ice_reported",
        "frost_reported",
        "freezing_mist",
    }
)
# what falls says what these say, and more
FALLING = ("frozen_precipitation", "freezing_precipitation", "precipitation_any", "heavy_precipitation")
BESIDE = (*FOLLOWS, "fog", "mist")


def reason(line: Advice, brief: Brief | None = None, *, most: int = 2) -> str:
    """The reasons in one phrase: what decided, the forecast group it came from, and from when where it comes later.

    "" for a line that always holds. brief: the one it stands in; a frost margin is then said as the most of the whole
    time, so that lines that rest on it say the same.
    """
    parts = reasons(line, brief)[:most]
    if not parts:
        return ""
    text = "; ".join(parts)
    group = line.case.partition("; ")[2]
    if group:
        return f"{text}, by {group}"
    # the deciding case may have it later than the first that has it
    begins = max((item.at for item in line.because if item.at), default=line.from_)
    if brief is None or begins is None or begins <= max(brief.now, _begins(line.during, brief)):
        return text
    if any(item.since and item.quantity in MARGINS for item in line.because) and SINCE in text:
        return text
    if STOOD in text:
        # a time that grows is a reason from the moment that it is said of
        return f"{text} by {words.moment(begins, brief.now)}"
    return f"{text} from {words.moment(begins, brief.now)}"


def _begins(phase: str, brief: Brief) -> str:
    """When a phase begins."""
    windows = brief.windows
    return {
        "parked": brief.now,
        "walk_round": windows.walk_round[0],
        "doors_open": windows.doors_open[0],
        "off_block": windows.walk_round[1],
        "take_off": windows.off_block,
    }[phase]


def reasons(line: Advice, brief: Brief | None = None) -> list[str]:
    """Why a line is there: one short piece a comparison, what the line is about first."""
    # an expected line rests on what holds in every case; the air alone is most often a domain
    sure = [item for item in line.because if item.sure and item.quantity != "air_temperature_c"]
    tried = [sure, line.because] if line.status == "expected" else [line.because]
    return next((found for items in tried if (found := _said(items, brief))), [])


def _said(items: Iterable[Because], brief: Brief | None) -> list[str]:
    items = [item for item in items if not item.test.startswith("not ")]
    named = {item.quantity for item in items}
    if named & CAUSES:
        items = [item for item in items if item.quantity not in LYING or item.since]
    if any(item.since for item in items if item.quantity in LYING):
        # what fell and lies there says more than that something was wet
        items = [item for item in items if item.quantity != "freezing_after_wet" or item.since]
    if any(item.cause and item.quantity in FALLING for item in items):
        # what follows from the weather that falls is not said beside it, nor the mist around it
        items = [item for item in items if item.quantity not in BESIDE]
    if "freezing_precipitation" in named:
        items = [item for item in items if item.quantity != "frozen_precipitation" or item.cause]
    numbers: list[str] = []
    flags: list[str] = []
    kinds: list[str] = []
    for item in items:
        row = QUANTITIES.get(item.quantity)
        if row is not None and row.kind == FLAG:
            flags.append(_flag(item, brief))
        elif row is not None and row.values:
            index = item.decided
            value = row.values[int(index)] if index is not None and index >= 0 else "not known"
            kinds.append(f"{value} by the visibility tables" if value in SNOWS else value)
        elif item.quantity == "snow_intensity":
            graded = int(item.decided or 0)
            kinds.append(f"{SNOWS[graded - 1]} by the visibility tables" if 1 <= graded <= 4 else "snow")
        elif not _silent(item):
            said = _number(item, brief)
            # what the air has to be is most often a domain, and the rule about something else
            numbers.insert(0 if item.quantity == "air_temperature_c" else len(numbers), said)
    # the quantity that was tested last is the one that the rule is about; domains come first
    # and of several things that are so the first is the reason, the others go along with it
    return list(dict.fromkeys([*flags[:1], *kinds[:1], *numbers[-1:]]))


def _flag(item: Because, brief: Brief | None) -> str:
    if item.cause and item.since:
        return f"{item.cause} from {words.moment(item.since, item.since if brief is None else brief.now)}"
    if item.cause:
        return item.cause
    if item.quantity == "deposit_seen" and brief is not None:
        return next((one.words for one in brief.hazards if one.key == "seen"), words.label(item.quantity))
    if item.quantity == "deposit_lies" and item.sure:
        return "frost, snow or ice on it already"
    return words.label(item.quantity)


def _silent(item: Because) -> bool:
    """What says nothing beside the line: a time parked of nothing, light that is there, what is only a domain."""
    if item.quantity == "parked_h":
        return not item.central
    bright = item.quantity == "illuminance_lx" and ">" in item.test and item.sure
    return bright or item.quantity in SILENT


def _number(item: Because, brief: Brief | None) -> str:
    if item.quantity in MARGINS:
        return margin(item, brief)
    return limit(item, brief) if item.quantity in LIMITS else f"{words.label(item.quantity)} {words.band(item)}"


def limit(item: Because, brief: Brief | None = None) -> str:
    """How far a gust is over a door's limit, or under it: the words say which, not a sign.

    brief: the one it stands in. The most over is then that of the whole time that doors are open, as beside each door.
    """
    low, high = (item.low, item.high) if item.low is not None and item.high is not None else (item.central,) * 2
    if low is not None and brief is not None:
        low = min([low, *_margins(item.quantity, brief)])
    which = LIMITS[item.quantity]
    if low is None or high is None:
        return f"gust against {which} not known"
    if low < 0 < high:
        most = words.amount(-low, 0)
        return f"gust up to {'just' if most == '0' else f'{most} kt'} over {which}"
    first, last = (words.amount(kt, 0) for kt in sorted((abs(low), abs(high))))
    span = f"{first} kt" if first == last else f"{first} to {last} kt"
    # what rounds to nothing is still on one side
    return f"gust {'just' if last == '0' else span} {'over' if low < 0 else 'under'} {which}"


def _margins(quantity: str, brief: Brief) -> list[float]:
    """The least that is left below the limits of each door, while doors are open."""
    stays = quantity == "door_stay_open_margin_kt"
    left = [door.stay_open_margin_kt if stays else door.margin_kt for door in brief.doors]
    return [margin_kt for margin_kt in left if margin_kt is not None]


def margin(item: Because, brief: Brief | None = None) -> str:
    """How far the skin lies below the point where frost or dew forms: about, at worst, and since when."""
    skin, point = MARGINS[item.quantity]
    central, high = _most(item, brief)
    if high is None:
        return f"{skin} not known"
    if max(high, central or 0.0) < 0.05:
        return f"{skin} about at {point}"
    worst, about = _far(high), _far(central or 0.0)
    if (central or 0.0) < 0.05:
        far = f"at worst {worst}"
    elif about == worst:
        far = f"about {about}"
    else:
        far = f"about {about}, at worst {worst}"
    now = item.at if brief is None else brief.now
    since = f"{SINCE} {words.moment(item.since, now or item.since)}" if item.since else ""
    return f"{skin} {far} °C below {point}{since}"


def _most(item: Because, brief: Brief | None) -> tuple[float | None, float | None]:
    """The most that a margin comes to, in the central case and in any."""
    central, high = item.central, item.high if item.high is not None else item.central
    for row in brief.timeline if brief is not None else ():
        value = row.get(item.quantity)
        if isinstance(value, dict):
            central, high = _greater(central, value["central"]), _greater(high, value["high"])
    return central, high


def _greater(one: float | None, other: float | None) -> float | None:
    """The greater of those known."""
    known = [value for value in (one, other) if value is not None]
    return max(known, default=None)


def _far(value: float) -> str:
    """Degrees as sure as they are: whole ones, tenths below one."""
    return words.amount(value, 0 if value >= 0.95 else 1)
