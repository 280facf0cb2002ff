"""What a line orders about which thing, told by its words, and which orders contradict each other.

One table: a thing, the words that name it, and the sides that a line may take. A line that names a thing and takes none
of the sides is an error of the table, so that a new rule has to be entered. Words that say when ("until the start",
"before the wind drops") are part of what a side looks for: two orders for different times do not contradict.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from itertools import combinations


@dataclass(frozen=True)
class Thing:
    """A thing that lines give orders about.

    named: words that name it. sides: what a line may want of it, as patterns; opposed: the pairs of sides that
    contradict. once: sides that one line of a brief may take, and no second one.
    """

    name: str
    named: str
    sides: dict[str, str]
    opposed: tuple[tuple[str, str], ...] = ()
    once: tuple[str, ...] = ()
    found: dict[str, re.Pattern[str]] = field(init=False)

    def __post_init__(self) -> None:
        compiled = {side: re.compile(pattern, re.IGNORECASE) for side, pattern in self.sides.items()}
        object.__setattr__(self, "found", compiled)

    def taken(self, words: str) -> set[str]:
        """The sides that words take."""
        return {side for side, pattern in self.found.items() if pattern.search(words)}

    def named_in(self, words: str) -> bool:
        """Whether words name the thing."""
        return re.search(self.named, words, re.IGNORECASE) is not None


THINGS = (
    Thing(
        "covers, plugs, ties and locks",
        r"\bcovers\b(?! (?:what|the mix))|\bpitot cover\b|^cover and\b|\bplugs?\b|\bblade ties\b|\bblades tied\b|"
        r"\b(?:control|gimbal) locks?\b|\blens cap\b|\bin its case\b|\buncovered\b",
        {
            "off": r"\b(?:covers?|plugs?|ties?|cap|locks?)\b[^.]*\boff\b",
            "on": r"\bcovers on\b|\bunder covers\b|\bin its case\b|\bplugs in\b|\block in\b|\block controls\b|"
            r"\bstays? on until\b|\bblades? tied down\b",
            # for the night, or where they are on and have come loose, or after they came off
            "for the night": r"\bdecide on protection\b|\barrange\b",
            "listed": r"\bgo through\b|\bblown loose\b|\blook for lens cap\b",
            "moved by wind": r"\bwind moves\b",
            "once off": r"\buncovered\b",
            "removal": r"\bice comes off\b|\barrange a hangar\b",
        },
        opposed=(("off", "on"),),
    ),
    Thing("a count", r"\bcount\b(?! on)", {"counted": r"\bcount\b(?! on)"}, once=("counted",)),
    Thing(
        "a lamp to take",
        r"\btorch\b|\bsmall light\b|\bshine a light\b",
        {
            "torch": r"\btake a real torch\b",
            "small light": r"\btake a small light\b",
            "a light that is there": r"\bshine a light\b",
        },
        opposed=(("torch", "small light"), ("small light", "a light that is there")),
    ),
    Thing(
        "steps and stairs",
        r"\b(?<!short )steps\b|\bstairs\b|\bladder\b",
        {
            "climb": r"\bfrom (?:a truck or |proper )?steps\b|\btop of the stairs\b|\bmirror or steps\b|"
            r"\bsteps, a truck\b|\buse proper steps\b|\bhave them gritted\b",
            "never": r"\bclimb no steps\b(?! before)",
            "after the wind": r"\bclimb no steps before the wind drops\b",
            "all away": r"(?<!spare )\bstairs\b[^.]*\bmoved away\b",
            "spare ones away": r"\bspare stairs\b[^.]*\bmoved away\b",
            "moved by wind": r"\bwind moves steps\b",
            "careful": r"\bsteps, skids\b",
        },
        opposed=(("climb", "never"), ("climb", "all away")),
    ),
    Thing(
        "wiping",
        r"\bwip(?:e|ed|ing)\b(?! off)|\bcloths?\b|\bleather\b|\brinse\b",
        {
            "dry": r"\bwipe dry\b|\bdry cloth\b|\bwith a soft (?:cloth|leather)\b",
            "never dry": r"\bwipe nothing dry\b|\bnever wipe\b|\bwipe no lens dry\b|\brinse\b",
            "wet": r"\bwet leather\b",
            "rails": r"\bgritted and wiped\b",
            "salt": r"\bwipe it off with fresh water\b",
        },
        opposed=(("dry", "never dry"),),
    ),
    Thing(
        "people outside",
        r"\bindoors\b|\bnobody goes out\b|\bwait (?:in|under|or)\b|\bget under a roof\b|\bwait, or go\b|\btie down\b|"
        r"\btie blades\b|\bde-rig\b",
        {
            "in": r"\bwait indoors\b|\bnobody goes out\b|\bwait (?:in|under)\b|\bget under a roof\b",
            "as two": r"\bwait, or go as two\b|\bgo as two\b",
            "work outside before": r"\bif there is time\b|\bonly before the wind\b",
            "work outside now": r"^(?!.*\b(?:if there is time|only before the wind)\b).*"
            r"\b(?:tie (?:it|the aircraft|down|blades)|de-rig)\b",
            "aircraft": r"\bindoors (?:at once|and dry)\b|: indoors and dry\b",
        },
        opposed=(("in", "work outside now"),),
    ),
    Thing(
        "the call for de-icing",
        r"\bde-icing\b|\bcall at once\b|\bcall (?:for fluid|well before)\b|\btreatment starts\b|\bbefore other calls\b",
        {
            "call": r"\bbook de-icing\b|\bcall (?:for de-icing|at once)\b"
            r"(?<!in the call for de-icing)(?<!may call for de-icing)",
            "within that call": r"\bin the call for de-icing\b",
            "earlier": r"\bcall well before\b",
            "hold the call": r"\bbefore (?:you call|other calls)\b|\bdo not call\b",
            "hold the treatment": r"\bbefore treatment starts\b",
        },
        opposed=(("call", "hold the call"), ("earlier", "hold the call"), ("within that call", "hold the call")),
        once=("call",),
    ),
    Thing(
        "which side of the aircraft first",
        r"\bside (?:first|last)\b",
        {
            "sheltered first": r"\bsheltered side first\b|\bwindward side last\b",
            "by the sun": r"\bshaded side (?:first|last)\b",
            "windward first": r"\bwindward side first\b",
        },
        opposed=(("sheltered first", "by the sun"), ("sheltered first", "windward first")),
    ),
    Thing(
        "bare skin",
        r"\bbare\b|\bgloves\b",
        {
            "covered": r"\bthin(?: lined)? gloves\b|\btouch no metal bare-handed\b|\bgloves for metal\b",
            "bare": r"\bbare (?:hands?|fingertips)\b",
            "freezes": r"\bbare skin may freeze\b",
        },
        opposed=(("covered", "bare"), ("freezes", "bare")),
    ),
    Thing(
        "the wheels",
        r"\bwheel(?:s| brake)?\b(?! bay)|\brock\b|\btyres\b|\bchocks? (?:in|and|on)\b|\bat the gear\b",
        {
            "held": r"\bkeep chocks and ropes on\b|\bwheels held\b|\bchocks on both sides\b|\bdouble chocks\b",
            "rocked": r"^(?!.*\bbefore the start rock\b).*\brock\b",
            "rocked before the start": r"\bbefore the start rock\b",
            "looked at": r"\bbrakes, uplocks\b|\bfree the wheel\b|\btyres, struts\b|\bgloves for metal and tyres\b",
            "never beside": r"\bnever beside the wheel\b",
            "nobody while it is set": r"\bnobody at the gear\b",
        },
        opposed=(("held", "rocked"),),
    ),
    Thing(
        "the brake",
        r"\bbrake\b(?! (?:gently|boxes))",
        {
            "set, unless hot or wet": r"\bbrake set\b[^.]*\bunless hot, or wet in frost\b|"
            r"\bonly a cool, dry brake set\b",
            "set": r"(?<!cool, dry )\bbrake set\b(?![^.]*\bunless\b)",
            "released": r"\bparking brake off\b",
            "tried": r"\btry the wheel brake\b",
        },
        opposed=(("set", "released"),),
    ),
    Thing(
        "a turning or running thing",
        r"\brunning (?:engines|rotors)\b|\bdisc\b|\beach blade\b|\btug: on ice\b|\bjets: on ice\b|\bfree propellers\b",
        {
            "stay away while it runs": r"\brunning\b|\bturning disc\b|\btug: on ice\b|\bjets: on ice\b",
            "strapped first": r"\bhave them strapped\b",
            "stay away": r"\bstay out of (?:the|their) discs?\b",
            "go near": r"\bfeel each blade\b|\bfaces of each blade\b|\bpull at each blade\b",
        },
        opposed=(("stay away", "go near"),),
    ),
    Thing(
        "the launch or start",
        r"\blaunch\b(?! point)|\bdo not (?:start|fly)\b|\blift off\b",
        {
            "not": r"\bdo not (?:launch|start|fly)\b",
            "go": r"^launch\b|: launch\b|\. launch\b",
            "straight up": r"\blift off straight up\b",
            "for it or until it": r"\b(?:for|until|before) the launch\b|\ba launch\b",
        },
        opposed=(("not", "go"),),
    ),
    Thing(
        "doors and canopies",
        r"\bdoors?\b(?! (?:seals|to))|\bcanopy\b(?! (?:frame|dry))",
        {
            "shut": r"\bshut\b|\bclosed canopy\b|\bdoors shut\b|\bleave that door shut\b",
            "held": r"\bhold\b",
            "open": r"(?<!too windy to )\b(?:leave|keep) (?:the |all |each )?(?:doors?|canopy) open\b",
            "lee side": r"\blee side\b",
            "hangar": r"\bhangar\b",
            "looked at": r"\blook\b|\b(?:free|rinse|wipe) the (?:whole )?canopy\b|\btry each\b",
            "moved by wind": r"\bwind (?:moves|lifts)\b",
            "covered": r"\bcovers\b",
            "wheel": r"\bfree the wheel\b",
        },
        opposed=(("shut", "open"),),
    ),
)


def unplaced(words: str) -> list[str]:
    """The things that words name without taking a side that the table knows."""
    return [thing.name for thing in THINGS if thing.named_in(words) and not thing.taken(words)]


def contradictions(texts: list[str]) -> list[tuple[str, str, str]]:
    """What contradicts in lines that print together: (thing, one line, the other)."""
    found = []
    for thing in THINGS:
        taken = [(words, thing.taken(words)) for words in texts]
        for (one, first), (other, second) in combinations(taken, 2):
            for left, right in thing.opposed:
                if (left in first and right in second) or (right in first and left in second):
                    found.append((thing.name, one, other))
            if any(side in first & second for side in thing.once):
                found.append((thing.name, one, other))
        # a line against itself
        found += [(thing.name, words, words) for words, sides in taken for a, b in thing.opposed if {a, b} <= sides]
    return found
