"""What must always hold, as trials over a Night: each draws what it changes and says what got lost by it.

A trial is a pure function of a situation, so that a counterexample can be tried again with one thing less.
Its number is the property's in DESIGN.md; 8 is the second reading of second.py.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import partial
from itertools import product
from random import Random

import msgspec
import second
from drawn import FROZEN, FULL, WARM_WEATHER, Night, Part, Said, air_c
from made_up import DOOR_RANK, body, gone, lines, lowered, wind
from test_missing_never_reassures import LOST, lost
from test_what_every_brief_holds import dropped, unexplained
from test_worse_never_reassures import HEAVIER, WINDY, covered, spans

from advisor.brief.model import Advice, Brief, to_json
from advisor.checklist import revision
from advisor.quantities import QUANTITIES

# a line may go where the one that says the opposite comes
OPPOSITE = {"dark-corners-light": {"torch", "low-sun"}, "covers-and-pins": {"ash", "dust-sand", "tie-downs"}}
# an older report's air may lie on both sides of what such a line asks for, and nobody between: on the colder side rain
# and drizzle freeze, which these lines exclude as the graver, and which has to be told
GRAVER = {"rain-may-freeze": "de-icing-request", "rain-and-snow": "de-icing-request"}
SNOWS = ("-SN", "SN", "+SN", "SN BLSN", "-RASN")
FALLEN = ("-SN", "SN", "+SN", "-FZRA", "FZRA", "-FZDZ", "FZDZ", "PL", "-RASN", "SG", "FZFG", "FZUP", "GS")
HAIL = ("GR", "TSGR", "+TSGR", "SHGR", "+TSRAGR")
# a cloud group of an automatic station that cannot tell storm cloud
TYPE_LOST = ["{cover}{hhh}///"]
# what says nothing more where it is not given: the heading, and how full the tanks are
STATED = ("heading", "fuel_fill")
# what is there only between two temperatures, or after one and then the other; recent rain wets a tank only there
BETWEEN = {"moisture", "recent_rain", "freezing_after_wet", "fuel_temperature_assumed"}
# warm air under few clouds is the central case's alone, since the warm one stands under the most cloud; where both
# reports say the same of the sky, and the sun is no matter of a report, the temperature is what differs
SUNNY = {"sun_elevation_deg", "cloud_fraction"}
# what more wind may take away, and why: it brings a surface nearer to the temperature of the air
WARMED = {
    "frost_margin_c": "the skin is less far below the air, and may be above the frost point",
    "tank_frost_margin_c": "so is the skin over cold fuel",
    "dew_margin_c": "so is a skin on which dew or mist would form",
    "moisture": "so, where nothing falls",
    "freezing_after_wet": "what is wet does not freeze on a skin that stays above zero",
    "deposit_lies": "what lies melts sooner in air above zero",
    "deposit_possible": "the same of what may lie",
    "slippery_surface": "the same of the ground",
}
# what such a line asks for besides; none of it changes with the wind
BESIDES = {
    "air_temperature_c",
    "frost_refuted",
    "fuel_temperature_assumed",
    "fuel_temperature_c",
    "off_block_in_min",
    "parked_h",
    "recent_rain",
}
WARMEST_C = 10.0
# what may have damaged the aircraft, as observed: it counts only where the aircraft was there
DAMAGE = re.compile(r"_while_parked\Z|\Arecent_(hail|thunderstorm|squall)\Z")
SURE = ("possible", "likely", "expected")


@dataclass(frozen=True)
class Held:
    """What a trial came to: what got lost, and the texts after what it changed; pointless: nothing was tried."""

    lost: list[str]
    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    pointless: bool = False


@dataclass(frozen=True)
class Trial:
    """A trial: the property's number, what is changed in words, and the function that tries it."""

    number: int
    title: str
    of: Callable[[Night], Held]


NOTHING = Held([], pointless=True)


def trials(night: Night, rng: Random, only: int | None = None, again_too: bool = False) -> Iterator[Trial]:
    """The trials of a situation, of one property or of all; the second reading, which takes long, when asked for."""
    made = {1: missing, 2: worse, 3: plain, 6: same, 7: outranked, 8: again}
    wanted = (
        [number for number in made if number != 8 or again_too] if only is None else [3 if only in (3, 4, 5) else only]
    )
    for number in wanted:
        yield from made[number](night, Random(f"{rng.random()}"))


def compared(one: Night, other: Night, lost_of: Callable[[Brief, Brief], list[str]]) -> Held:
    """Two briefs and what the second lost."""
    found = lost_of(one.brief(), other.brief())
    return Held(found, tuple(one.texts), tuple(other.texts))


def without_opposites(before: Brief, after: Brief) -> list[str]:
    """What after no longer has, but for lines whose opposite has come."""
    told, left = lines(before), lines(after)
    come = {name for name in left if name not in told or told[name] != left[name]}
    return [name for name in gone(before, after) if not OPPOSITE.get(name, set()) & come]


# property 1


def missing(night: Night, rng: Random) -> Iterator[Trial]:
    """Groups of the newest report, of an earlier one, of a trend or of the forecast, lost; and a heading not stated."""
    pools = [[night.newest], list(night.reports[:-1]), [part for one in night.reports for part in one.trend]]
    pools.append(list(night.forecast.parts) if night.forecast else [])
    pools = [pool for pool in pools if pool]
    yield from (loss(rng.choice(pool), rng) for pool in rng.sample(pools, min(2, len(pools))))
    # nothing else says what the lost group said
    speaking = [one for one in night.reports if one.weather or one.recent]
    if speaking:
        one = rng.choice(speaking)
        group = rng.choice([name for name in ("weather", "recent") if getattr(one, name)])
        form = "//" if group == "weather" else "RE//"
        title = f"{group} of a report lost, alone"
        yield Trial(1, title, lambda night: without(alone(night, one.name), one.name, group, form))
    for name in (name for name in STATED if name in night.asked):
        yield Trial(1, f"{name} not stated", partial(unstated, name=name))


def alone(night: Night, name: str) -> Night:
    """The same with one report's weather or recent weather the only one that is told."""
    night.find(name)
    reports = tuple(
        replace(one, trend=(), remarks=())
        if one.name == name
        else replace(one, weather="", recent="", trend=(), remarks=())
        for one in night.reports
    )
    asked = {name: value for name, value in night.asked.items() if name != "seen"}
    return night.but(reports=reports, forecast=None, asked=asked)


def loss(one: Said | Part, rng: Random) -> Trial:
    """One group of a report or of a stretch of forecast by a coded missing form."""
    whole = isinstance(one, Part) and (not one.head or one.head.startswith("FM"))
    groups = [name for name in FULL if getattr(one, name, "") or (name == "weather" and not isinstance(one, Part))]
    groups += ["weather"] * (whole and "weather" not in groups)
    if isinstance(one, Said) and one.recent:
        groups += ["recent"] * 3
    if not groups:
        return Trial(1, "nothing to lose", lambda _: NOTHING)
    # weather that was told says most
    groups += ["weather"] * (2 if getattr(one, "weather", "") else 0)
    group = rng.choice(groups)
    form = "RE//" if group == "recent" else FULL[group]
    if isinstance(one, Said) and group in LOST and rng.random() < 0.3:
        form = rng.choice(LOST[group] + TYPE_LOST * (group == "cloud"))
    where = "report" if isinstance(one, Said) else "trend" if one.name.startswith("t") else "forecast"
    return Trial(1, f"{group} of a {where} lost", lambda night: without(night, one.name, group, form))


def without(night: Night, name: str, group: str, form: str) -> Held:
    """A group of a report or stretch by its missing form."""
    one = night.find(name)
    text = getattr(one, group)
    if not text and group != "weather":
        return NOTHING
    if isinstance(one, Said) and group in LOST:
        form = lost(one, group, form) if air_c(one.temperature) is not None else FULL[group]
    storm, (lowest, blank, others) = re.search("CB|TCU", text), form.partition(" ")
    if group == "cloud" and storm and re.search(r"\d{3}\Z|[A-Z]///\Z", lowest):
        # a type that is left out says that there is none; one that cannot be told is coded so
        form = lowest + storm[0] + blank + others
    other = night.said(name, **{group: form})
    if other == night:
        return NOTHING
    before, after = night.brief(), other.brief()
    if unbelievable(night, before, text):
        # a code lost in air in which it does not snow cannot have meant snow
        return NOTHING
    return Held(without_opposites(before, after), tuple(night.texts), tuple(other.texts))


def unbelievable(night: Night, brief: Brief, text: str) -> bool:
    """Whether what was lost lay in air where it neither falls frozen nor stays; hail falls there, and melts."""
    ends = [end for row in brief.timeline for end in (row["air_temperature_c"] or {}).values() if end is not None]
    told = [air for one in night.reports if (air := air_c(one.temperature)) is not None]
    if FROZEN.search(text):
        return max([*ends, *told], default=0.0) > WARMEST_C
    return "GR" in text and not ends and max(told, default=0) > WARMEST_C


def unstated(night: Night, name: str) -> Held:
    """Something that was stated, not stated."""
    if name not in night.asked:
        return NOTHING
    other = night.but(asked={key: value for key, value in night.asked.items() if key != name})
    found = compared(night, other, without_opposites)
    return replace(found, after=(f"without {name}", *found.after))


# property 2


def worse(night: Night, rng: Random) -> Iterator[Trial]:
    """More wind, heavier precipitation, snow with a lower visibility, a longer window, an older report."""
    spoken = [one for one in night.parts() if isinstance(one, Said) or one.weather]
    one, kinds, snow = rng.choice([night.newest, *spoken]), rng.choice(HEAVIER), rng.choice(SNOWS)
    light, heavy = sorted(rng.sample(range(3), 2))
    seen = sorted(rng.sample(["9999", "8000", "5000", "3000", "1500", "0800", "0300", "0100"], 2), reverse=True)
    snows = [{"weather": snow, "visibility": text} for text in seen]
    made = (
        more_wind(night, rng),
        Trial(2, "heavier", two_ways(one.name, {"weather": kinds[light]}, {"weather": kinds[heavy]})),
        Trial(2, "snow with a lower visibility", two_ways(one.name, *snows)),
        longer(rng),
        Trial(2, "older report", partial(aged, older=rng.choice([rng.randint(1, 35), rng.randint(150, 420)]))),
    )
    yield from rng.sample(made, 2)


def two_ways(name: str, first: dict[str, str], second: dict[str, str]) -> Callable[[Night], Held]:
    """One report or stretch said in two ways, the second the worse.

    A stretch that comes to say the same weather as another is no longer a change of the weather, and a change is what
    ends the observed: neither way may make or unmake one.
    """

    def of(night: Night) -> Held:
        others = {part.weather for part in night.parts() if isinstance(part, Part) and part.name != name}
        stretch = isinstance(night.find(name), Part) and "weather" in first
        if stretch and (first["weather"] in others) != (second["weather"] in others):
            return NOTHING
        return compared(night.said(name, **first), night.said(name, **second), lowered)

    return of


def more_wind(night: Night, rng: Random) -> Trial:
    """More wind in the newest report, its direction kept; a gust that was reported stays reported."""
    direction, mean, more = 10 * rng.randint(1, 36), rng.randint(1, 45), rng.randint(0, 20)
    gust = mean + 10 + rng.randint(0, 30) if rng.random() < 0.5 else None
    harder = None if gust is None else max(gust + rng.randint(0, 20), mean + more + 10)
    first, second = wind(direction, mean, gust), wind(direction, mean + more, harder)

    def lost_of(before: Brief, after: Brief) -> list[str]:
        windy, calm = about_wind(before), sure_with_calm(before)
        found = lowered(before, after, windy - calm) + blown_away(before, after)
        told, left = lines(before), lines(after)
        found += [f"{name} gone" for name in windy & calm if told[name] in SURE and left.get(name) not in SURE]
        for was, now in zip(before.doors, after.doors, strict=True):
            if DOOR_RANK[now.status] < DOOR_RANK[was.status]:
                found.append(f"{was.door}: {was.status} to {now.status}")
            if DOOR_RANK[now.stay_open_status] < DOOR_RANK[was.stay_open_status]:
                found.append(f"{was.door} open: {was.stay_open_status} to {now.stay_open_status}")
            if (now.worst_kt or 0) < (was.worst_kt or 0):
                found.append(f"{was.door}: {was.worst_kt} kt to {now.worst_kt} kt")
        return found

    return Trial(
        2,
        "more wind",
        lambda one: compared(one.said(one.newest.name, wind=first), one.said(one.newest.name, wind=second), lost_of),
    )


def blown_away(before: Brief, after: Brief) -> list[str]:
    """Lines that more wind took, but for those that the heat of the wind explains: see WARMED."""
    named = {line.id: {item.quantity for item in line.because} for line in before.advice}
    # what could not be told hangs on what its reasons do not name: what its rule asks for
    rules = {rule.id: rule for rule in revision.load().rules}
    for line in before.advice:
        if line.status == "cannot tell" and (asked := set(rules[line.id].condition.quantities)) & WARMED.keys():
            named[line.id] = asked & WARMED.keys()
    left = lines(after)
    went = [name for name in named if name not in left]
    return [f"{name} gone" for name in went if not named[name] & WARMED.keys() or named[name] - WARMED.keys() - BESIDES]


def about_wind(brief: Brief) -> set[str]:
    """Lines about wind that are there for the wind; some speak of slippery ground as well, which calm air may bring."""
    named = {line.id: {item.quantity for item in line.because} for line in brief.advice}
    return {name for name in WINDY & named.keys() if any("_kt" in quantity for quantity in named[name])}


def sure_with_calm(brief: Brief) -> set[str]:
    """Lines that the wind alone does not make sure: in other cases they rest on what calm air brings, as frost."""
    return {
        line.id for line in brief.advice if not all(item.sure for item in line.because if item.quantity.endswith("_kt"))
    }


def longer(rng: Random) -> Trial:
    """Windows that hold the former ones: no line that looks at them goes away."""
    begin, length, sooner, later = rng.randint(0, 24), rng.randint(1, 20), rng.randint(0, 12), rng.randint(0, 12)
    end = 125 - 5 * begin
    pairs = ((end + 5 * length, end), 15), ((end + 5 * (length + sooner), max(0, end - 5 * later)), 15 + 5 * later)

    def of(night: Night) -> Held:
        # all edges at full five minutes: what comes and goes between two times of the grid is seen at an edge only
        ahead = max(night.ahead_min, 250)
        night = night.but(ahead_min=ahead - (night.now.minute + ahead) % 5)
        briefs = []
        for (start, stop), after in pairs:
            span = night.off_block - timedelta(minutes=start), night.off_block - timedelta(minutes=stop)
            leaving = night.off_block + timedelta(minutes=after)
            briefs.append(night.brief(walk_round=span, doors_open=span, take_off=leaving))
        first, second = briefs
        left, rules = lines(second), {rule.id: rule for rule in revision.load().rules}
        found = []
        for name in lines(first):
            rule = rules[name].for_class(night.asked["aircraft"])
            if name not in left and all(covered(rule.during, *(spans(brief) for brief in briefs))):
                found.append(name)
        for was, now in zip(first.doors, second.doors, strict=True):
            if DOOR_RANK[now.status] < DOOR_RANK[was.status] and now.status != "possible":
                found.append(f"{was.door}: {was.status} to {now.status}")
        windows = f"walk_round, doors_open: {pairs[0]} and {pairs[1]} min before off-block"
        return Held(found, (*night.texts, windows), (*night.texts, windows))

    return Trial(2, "longer window", of)


def aged(night: Night, older: int) -> Held:
    """The newest report withheld, where the one before says the same: what is left is older, and nothing else.

    Between a late report, which leaves a gap, and two hours, for which the newest one holds, no claim is made. A
    special leaves the usual interval of the series as it is.
    """
    if any(one.age_min == night.newest.age_min for one in night.reports if one is not night.newest):
        # two of one minute may contradict each other, and one of them alone does not say the same
        return NOTHING
    night = night.but(forecast=None).said(night.newest.name, trend=())
    reports = tuple(replace(one, age_min=one.age_min + older) for one in night.reports)
    again = replace(night.newest, name="again", kind="SPECI", recent="", remarks=())
    one, other = night.but(reports=(*reports, again)), night.but(reports=reports)
    found, free = compared(one, other, without_opposites), drifting(one.brief()) | before_it_came(one.brief(), night)
    left = lines(other.brief())
    free |= {name for name, graver in GRAVER.items() if left.get(graver) in SURE}
    return replace(found, lost=[name for name in found.lost if name not in free])


def before_it_came(brief: Brief, night: Night) -> set[str]:
    """Lines in the past tense, of an aircraft that came after the last report: that one may have ended before."""
    if "parked_since" not in night.asked:
        return set()
    named = {line.id: {item.quantity for item in line.because} for line in brief.advice}
    return {name for name, said in named.items() if said and all(DAMAGE.search(quantity) for quantity in said)}


def drifting(brief: Brief) -> set[str]:
    """Lines that rest on temperatures alone: the sun carries the air of an older report further, to either side.

    What a line waits for a forecast for, nobody foresaw with either report: of it too the temperatures are the rest; so
    they are of what a sun asks for that shines on both alike.
    """
    named = {line.id: {item.quantity for item in line.because} - _unforeseen(line) for line in brief.advice}

    def drifts(said: set[str]) -> bool:
        other = {one for one in said if not one.endswith("_c")}
        return other <= BETWEEN or (other != said and other <= BETWEEN | SUNNY)

    return {name for name, said in named.items() if drifts(said)}


def _unforeseen(line: Advice) -> set[str]:
    """The weather that a line waits for, where it waits for a forecast and for nothing else."""
    waits = line.status == "cannot tell" and line.missing == ("forecast",)
    return {item.quantity for item in line.because if waits and QUANTITIES[item.quantity].foretold}


# properties 3 to 5


def plain(night: Night, rng: Random) -> Iterator[Trial]:
    """Nothing dropped, every line says why, every number within its range: read off one and the same brief."""

    def of(check: Callable[[Brief], list[str]]) -> Callable[[Night], Held]:
        return lambda one: Held(check(one.brief()), tuple(one.texts), tuple(one.texts))

    yield Trial(3, "a group dropped", of(dropped))
    yield Trial(4, "a line without why", of(lambda brief: [f"{one[0]}: {one[1:]}"[:300] for one in unexplained(brief)]))
    yield Trial(5, "a number out of range", of(out_of_range))


def out_of_range(brief: Brief) -> list[str]:
    """Numbers outside what their quantity can be, or bands in the wrong order."""
    found = []
    for row, (name, quantity) in product(brief.timeline, QUANTITIES.items()):
        value = row.get(name)
        if value is None or quantity.kind != "number":
            continue
        ends = list(value.values()) if isinstance(value, dict) else [value]
        known = [end for end in ends if end is not None]
        if any(not quantity.low <= end <= quantity.high for end in known) or known != sorted(known):
            found.append(f"{name} {value} at {row['at']}")
    return found


# property 6


def same(night: Night, rng: Random) -> Iterator[Trial]:
    """The same texts in another order."""
    seed = rng.random()

    def of(one: Night) -> Held:
        texts = list(one.texts)
        Random(seed).shuffle(texts)
        first, second = in_order(one.brief()), in_order(one.brief(texts))
        return Held(differing(first, second), tuple(one.texts), tuple(texts))

    yield Trial(6, "another order", of)


def in_order(brief: Brief) -> Brief:
    """A brief with its list of reports, which stand as they were handed in, in an order of its own."""
    reports = tuple(sorted(brief.reports, key=lambda one: one.raw))
    return msgspec.structs.replace(brief, reports=reports, not_decoded=tuple(sorted(brief.not_decoded)))


def differing(one: Brief, other: Brief) -> list[str]:
    """Fields in which two briefs differ."""
    if to_json(one) == to_json(other):
        return []
    return [name for name in one.__struct_fields__ if getattr(one, name) != getattr(other, name)]


# the second reading, which has the number 8 here


def again(night: Night, rng: Random) -> Iterator[Trial]:
    """The statuses of all lines and doors, read a second time off the same columns."""

    def of(one: Night) -> Held:
        return Held(second.differing(one), tuple(one.texts), tuple(one.texts))

    yield Trial(8, "a second reading", of)


# property 7


def outranked(night: Night, rng: Random) -> Iterator[Trial]:
    """Frozen precipitation and what was seen ask for treatment; hail in warm air does not."""
    code, air, cold, spread = rng.choice(FALLEN), rng.randint(-20, 4), rng.randint(-20, 0), rng.choice([0, 1, 2, 8])
    seen, weather, any_air = rng.choice(["frost", "snow", "ice"]), rng.choice(WARM_WEATHER), rng.randint(-5, 30)
    hail, heat = rng.choice(HAIL), rng.randint(20, 32)
    made = (
        Trial(7, "frozen precipitation", lambda one: asks(falling(one, code, body(air, spread)))),
        Trial(7, "frozen precipitation that ended", lambda one: ended(one, code, cold, spread)),
        Trial(7, "seen", lambda one: asks(seen_on(one, seen, weather, body(any_air, 9)))),
        Trial(7, "hail in warm air", lambda one: shelters(one, hail, heat, 3 + spread)),
    )
    yield rng.choice(made)


def falling(night: Night, code: str, temperature: str) -> Night:
    """The newest report with weather and temperature, at most an hour old."""
    age_min = min(night.newest.age_min, 60)
    return night.said(night.newest.name, weather=code, temperature=temperature, age_min=age_min)


def seen_on(night: Night, seen: str, weather: str, temperature: str) -> Night:
    """Something seen on the aircraft, in other weather."""
    night = night.but(asked={**night.asked, "seen": seen})
    return night.said(night.newest.name, weather=weather, temperature=temperature)


def asks(night: Night) -> Held:
    """The de-icing request has to be at least possible."""
    told = lines(night.brief()).get("de-icing-request")
    found = [] if told in SURE else [f"de-icing-request: {told}"]
    return Held(found, tuple(night.texts), tuple(night.texts))


def ended(night: Night, code: str, air: int, spread: int) -> Held:
    """Frozen precipitation that an earlier report of the last two hours had, in frost, and no treatment since."""
    earlier = [one for one in night.reports[:-1] if one.age_min <= 110 and one.age_min > night.newest.age_min]
    if not earlier or "treated_at" in night.asked or code == "FZFG":
        return NOTHING
    last = earlier[-1]
    night = night.said(last.name, weather=code, temperature=body(air, spread))
    if night.reports.index(night.find(last.name)) != len(night.reports) - 2:
        return NOTHING
    return asks(night.said(night.newest.name, weather="", temperature=body(air, spread), recent=""))


def shelters(night: Night, code: str, air: int, spread: int) -> Held:
    """Hail at noon in June, the air warm in every report: a shelter and a look, no treatment."""
    reports = tuple(
        replace(one, weather=code, temperature=body(air, spread), recent="", trend=(), remarks=())
        for one in night.reports
    )
    asked = {"aircraft": night.asked["aircraft"]}
    night = night.but(reports=reports, forecast=None, asked=asked, place="52.1,-4.6", ahead_min=70)
    night = night.but(now=night.now.replace(month=6, day=12, hour=11))
    told = lines(night.brief())
    found = [name for name in ("de-icing-request", "treatment-plan", "pre-take-off-check") if name in told]
    if night.newest.age_min <= 60:
        found += [name for name in ("hail-shelter", "hail-inspection") if told.get(name) not in SURE]
    return Held(found, tuple(night.texts), tuple(night.texts))
