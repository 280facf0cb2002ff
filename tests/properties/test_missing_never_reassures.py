"""Property 1: a group that is replaced by its coded missing form takes no line of advice away.

The missing forms are those of the code: slashes for an automatic station's lacking sensor (WMO-No. 306, FM 15, reg.
15.4.4 and following, from memory), and M, which some North American stations write.
"""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_up import SITUATIONS, Situation, corpus, gone, steady

from advisor import advise
from advisor import places as place
from advisor.errors import AdvisorError
from advisor.report import metar

LOST = {
    "wind": ["/////KT", "///{ff}{gust}KT", "{ddd}//KT", "{ddd}//{gust}KT", "{ddd}{ff}G//KT", "M"],
    "visibility": ["////", "////SM", "M"],
    "weather": ["//"],
    "cloud": ["//////", "///{hhh}", "{cover}///", "//////CB", "M"],
    "temperature": ["/////", "////", "{t}///", "{t}//", "///{d}", "M", "M/M"],
}
FROZEN = re.compile("SN|PL|SG|GS|FZ|IC")


def believable(situation: Situation) -> Situation:
    """The same, where something frozen falls at 9 °C or more as rain: a lost code there cannot have meant snow."""
    warm = not situation.temperature.startswith("M") and int(situation.temperature[:2]) >= 9
    frozen = FROZEN.search(situation.weather) or "FZ" in situation.tail or "RESN" in situation.tail
    return situation.but(weather="-RA", tail="Q1013 RERA") if warm and frozen else situation


BELIEVABLE = SITUATIONS.map(believable)
LOSSES = st.sampled_from([(group, form) for group, forms in LOST.items() for form in forms])


def lost(situation: Situation, group: str, form: str) -> str:
    """The group's missing form, with what the station could still tell taken from the group."""
    text = getattr(situation, group)
    wind = re.match(r"(\d{3})(\d\d)(G\d\d)?", situation.wind)
    cloud = re.match(r"([A-Z]{3})(\d{3})", situation.cloud)
    known = {
        "ddd": wind[1] if wind else "///",
        "ff": wind[2] if wind else "//",
        "gust": (wind[3] or "") if wind else "",
        "cover": cloud[1] if cloud else "///",
        "hhh": cloud[2] if cloud else "///",
        "t": situation.temperature.split("/")[0],
        "d": situation.temperature.split("/")[1],
    }
    assert text or group == "weather"
    # who still tells how much of the sky the lowest layer covers tells of the others too
    others = situation.cloud.partition(" ")[2] if "{cover}" in form else ""
    return f"{form.format(**known)} {others}".strip()


@steady(130)
@given(BELIEVABLE, LOSSES)
def test_a_lost_group_takes_no_line_away(situation, loss):
    group, form = loss
    after = situation.but(**{group: lost(situation, group, form)})
    assert gone(situation.brief(), after.brief()) == [], after.report


def test_a_gust_that_was_measured_but_lost_takes_no_line_away():
    situation = Situation(wind="02016G41KT")
    assert gone(situation.brief(), situation.but(wind="02016G//KT").brief()) == []


@steady(60)
@given(BELIEVABLE, st.lists(st.sampled_from(sorted(LOST)), min_size=2, max_size=5, unique=True))
def test_several_lost_groups_take_no_line_away(situation, groups):
    after = situation.but(**{group: LOST[group][0] for group in groups})
    if len(groups) == len(LOST):
        after = after.but(wind=situation.wind)
    assert gone(situation.brief(), after.brief()) == [], after.report


FORMS = (
    (re.compile(r"(\d{3}|VRB)P?\d{2,3}(GP?\d{2,3})?(KT|MPS|KMH)\Z"), "/////KT"),
    (re.compile(r"\d{4}\Z"), "////"),
    (re.compile(r"[PM]?\d{1,2}SM\Z"), "////SM"),
    (re.compile(r"(\+|-)?((FZ|SH|TS|BL|DR|MI|BC|PR)?(RA|DZ|SN|SG|PL|GR|GS|UP|BR|FG|HZ|FU|DU|SA|TS))+\Z"), "//"),
    (re.compile(r"(FEW|SCT|BKN|OVC)\d{3}(CB|TCU)?\Z"), "//////"),
    (re.compile(r"M?\d\d/M?\d\d\Z"), "/////"),
)


def body_losses(raw: str) -> list[str]:
    """A real report once for each kind of group in its body, all groups of that kind replaced by the missing form."""
    tokens = raw.split()
    end = next((i for i, token in enumerate(tokens) if token in ("RMK", "NOSIG", "TEMPO", "BECMG")), len(tokens))
    made = []
    for pattern, form in FORMS:
        swapped = [form if 2 <= i < end and pattern.match(token) else token for i, token in enumerate(tokens)]
        if swapped != tokens:
            # a layer lost is lost with the others: one group says that the ceilometer is out
            made.append(" ".join(dict.fromkeys(swapped[:end])) + " " + " ".join(swapped[end:]))
    return made


@pytest.mark.corpus
def test_a_lost_group_of_a_real_report_takes_no_line_away():
    rows = corpus(45)
    if not rows:
        pytest.skip("the folder of real reports is not beside the checkout")
    told, wrong = 0, []
    for raw, at in rows:
        try:
            report = metar.read(raw, now=at)
            where = place.look_up(report.station) or place.find("52.1,-4.6")
            now = report.issued + timedelta(minutes=20)
            asked = {"now": now, "off_block": now + timedelta(minutes=70), "place": where}
            before = advise([raw], **asked)
        except AdvisorError:
            continue
        for text in body_losses(raw):
            told += 1
            try:
                after = advise([text], **asked)
            except AdvisorError:
                continue  # nothing usable is left: refused, which promises nothing
            wrong += [f"{name}: {text}" for name in gone(before, after)]
    assert told > 40
    assert wrong == []
