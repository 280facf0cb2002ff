"""How the shipped lines are worded: read aloud by somebody who learned the language, in the dark, once.

The rules of wording are the trade's and the project's own: one imperative a sentence, no fragments strung on
semicolons, one word for one thing, nothing told that nobody saw, nothing promised. What can be counted is held here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from advisor.checklist import revision
from advisor.checklist.evaluate import STATUSES
from advisor.checklist.rules import CLASSES

CHECKLIST, PAGES = revision.load_all(None)
IDS = sorted(rule.id for rule in CHECKLIST.rules)
# the mark, the text and a stop fit two rows of 80 columns with room for a short reason
LONGEST_TEXT = 100
MOST_SENTENCES = 3


def said(rule_id: str) -> Iterator[tuple[str, str]]:
    """Every wording of a rule for each class of aircraft, once: (which, words)."""
    rule = next(rule for rule in CHECKLIST.rules if rule.id == rule_id)
    seen = set()
    for name in CLASSES:
        held = rule.for_class(name)
        if held is None:
            continue
        for one in (held, held.raised):
            if one is None:
                continue
            texts = [("text", one.said(status)) for status in STATUSES]
            for part, words in (*texts, ("more", one.more)):
                if words and words not in seen:
                    seen.add(words)
                    yield part, words


def paged(rule_id: str) -> Iterator[tuple[str, str]]:
    """The three parts of a rule's page."""
    page = PAGES[rule_id]
    yield from (("does", page.does), ("why", page.why), ("limits", page.limits))


def sentences(words: str) -> list[str]:
    """Sentences without their stops."""
    return [one.rstrip(".?") for one in re.split(r"(?<=[.?]) ", words)]


# said by a reader who stumbled, or two words for one thing
BANNED = {
    r";": "a semicolon strings fragments together: make sentences",
    r"\bdraws? hard|everybody wants|set to read the\b|needs? care\b|\boutdoors in\b": "a reader stumbles over it",
    r"\b(?:thin|thick)(?:ened)? (?:fluids?|ones?)\b": "Type I; Types II, III, IV",
    r"\bunknown\b": "not known",
    r"\b(?:perhaps|maybe|conceivabl[ye])\b": "possible, or may",
    r"\bgravest?\b|\bere\b|\bthence\b|\bhence\b|\bwhence\b": "a word that nobody says on an apron",
    r"\d{4}Z? ?(?:-|to) ?\d{4}Z": "a span is written 0555–0615Z",
    r"\b(?:etc|e\.g|i\.e)\b": "whole words",
    r"(?<![\w°])-\d": "a true minus sign",
}
# what promises, or says how things are where nobody has looked
PROMISED = re.compile(
    r"\b(?:clean|safe\w*|ice-free|frost-free|guarantee\w*|ensures?|prevents?|protects|certain(?:ly)?|surely|"
    r"stops? (?:frost|ice|snow)|keeps? (?:frost|ice|snow) (?:off|away)|will not (?:freeze|ice|stick)|"
    r"cannot (?:freeze|ice|stick)|no need)\b",
    re.IGNORECASE,
)
STATED = re.compile(r"\b(?:ice underfoot|it is (?:icy|frosty|slippery)|there is (?:ice|frost|snow))\b", re.IGNORECASE)


@pytest.mark.parametrize("rule_id", IDS)
def test_nothing_in_a_line_or_on_its_page_is_worded_in_a_way_that_readers_stumbled_over(rule_id: str) -> None:
    for part, words in (*said(rule_id), *paged(rule_id)):
        for pattern, why in BANNED.items():
            found = re.search(pattern, words, re.IGNORECASE)
            assert not found, f"{part}: {found[0]!r}: {why}: {words}"


@pytest.mark.parametrize("rule_id", IDS)
def test_nothing_in_a_line_promises_or_states_what_nobody_saw(rule_id: str) -> None:
    for _, words in (*said(rule_id), *paged(rule_id)):
        assert not PROMISED.search(words), words
    for part, words in said(rule_id):
        assert part != "text" or not STATED.search(words), words


@pytest.mark.parametrize("rule_id", IDS)
def test_no_sentence_begins_with_an_it_that_has_no_noun(rule_id: str) -> None:
    for part, words in (*said(rule_id), *paged(rule_id)):
        for sentence in sentences(words):
            # on a page "it" is the line itself
            assert part in ("does", "limits") or not re.match(r"Its?\b", sentence), words


@pytest.mark.parametrize("rule_id", IDS)
def test_frost_snow_and_ice_are_called_by_their_names_in_a_line(rule_id: str) -> None:
    for _, words in said(rule_id):
        assert not re.search(r"\b(?:deposits?|contaminat\w+)\b", words), words


@pytest.mark.parametrize("rule_id", IDS)
def test_what_a_rule_is_called_is_a_name_of_its_own_in_every_class(rule_id: str) -> None:
    rule = next(rule for rule in CHECKLIST.rules if rule.id == rule_id)
    for held in (one for name in CLASSES if (one := rule.for_class(name)) is not None):
        assert held.short, f"{rule_id} has no short name: give it `short`"
        assert not re.search(r"[;.]|\bit\b|\bdeposit", held.short), held.short
        assert not any(re.search(pattern, held.short, re.IGNORECASE) for pattern in BANNED), held.short


def test_no_two_rules_of_a_class_are_called_the_same() -> None:
    for name in CLASSES:
        names = [rule.short for rule in CHECKLIST.for_class(name)]
        assert len(set(names)) == len(names), name


# what a sentence of a line may begin with
ORDERS = """
add agree arrange ask blow brief bring brush call carry charge check chock choose climb come compare count cover
cross cut de-rig decide do drain drink drop dry empty feel fill fit free get give go have heat hold hover keep
land launch leave lift lock look make measure move note open pack plan pre-heat press pull push put read refuel
report rest rinse rock run say see set shine shut spare stand start stay step stop take tape taxi tell test tie
touch treat trust try turn use wait walk warm watch wear wipe
"""
STATES = """
are blind blinds covers dazzles freezes goes has have holds ices is knocks lifts lose makes may melts move moves
must need needs puts say says should show shows stay stays turns work works
"""
BEFORE = re.compile(
    r"^(?:never|at once|afterwards|now|first|then|also|in doubt|just landed|for the (?:start|launch)|by the sea|"
    r"after (?:hail|the storm)|before the (?:start|wind)|on a private field|under\w*|until the start|near freezing|"
    r"below −30 °c)\b[ ,]*",
    re.IGNORECASE,
)


def ordered(sentence: str) -> bool:
    """Whether a sentence orders something, or says something with a verb of its own."""
    for clause in re.split(r": |, (?:and|or) |, ", sentence):
        bare = clause
        while (match := BEFORE.match(bare)) and match[0]:
            bare = bare[match.end() :]
        first = re.match(r"[a-z-]+", bare.lower())
        if first and first[0] in ORDERS.split():
            return True
    return any(word in STATES.split() for word in re.findall(r"[a-z]+", sentence.lower()))


@pytest.mark.parametrize("rule_id", IDS)
def test_each_sentence_of_a_line_orders_or_says_something_and_is_no_heap_of_nouns(rule_id: str) -> None:
    for part, words in said(rule_id):
        if part != "text":
            continue
        for sentence in sentences(words):
            # "Out of a warm hangar?" asks
            asks = f"{sentence}?" in words
            assert asks or ordered(sentence), f"{sentence!r} in {words}"


@pytest.mark.parametrize("rule_id", IDS)
def test_a_line_is_short_enough_to_be_read_at_a_glance(rule_id: str) -> None:
    for part, words in said(rule_id):
        if part == "text":
            assert len(words) <= LONGEST_TEXT, (len(words), words)
            assert len(sentences(words)) <= MOST_SENTENCES, words
        assert max(len(sentence.split()) for sentence in sentences(words)) <= 26, words


def test_a_heap_of_nouns_is_noticed() -> None:
    """The guard itself: wordings that readers stumbled over once."""
    for bad in ("Thin gloves", "Hands off, round and free", "Brake ready for the wear pins", "No umbrella"):
        assert not ordered(bad), bad
    for good in ("Storm: wait indoors", "Never step on the wing", "Wind turns free propellers", "In doubt go back"):
        assert ordered(good), good
