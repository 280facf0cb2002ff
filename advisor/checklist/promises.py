"""Finds words that promise what only an inspection can tell: that something is clean, or that nothing has to be done.

Words that ask ("check that the wing is clean", "never say that it is") are none. Pure.
"""

from __future__ import annotations

import re

_CLAUSE = re.compile(r"[.;:?!()]")
_WORD = r"(?:now |then |all |again |surely |certainly |completely |quite |still )*"
_STATE = (
    r"(?:clean|ice-?free|frost-?free|snow-?free|safe|airworthy|"
    r"(?:clear|free) (?:of|from) (?:all |any )?(?:ice|snow|frost|deposits?|contamination))"
)
_THING = r"(?:aircraft|airframe|wings?|surfaces?|skin|tail|fuselage|rotor|blades?|doors?|everything|all)"
_DEPOSIT = r"(?:ice|snow|frost|slush|deposits?|contamination)"
_DEED = r"(?:treatment|de-?icing|anti-?icing|inspection|inspecting|check|checking|look|walk-?round|touch|action|call)"
_NEED = r"(?:needed|necessary|required|called for)"
# it is so
_CLAIMS = re.compile(
    rf"\b(?:is|are|stays?|remains?|be|counts? as|guaranteed|certified) {_WORD}{_STATE}\b"
    rf"|\b{_THING} (?:{_STATE})\b"
    rf"|(?<=\w )clean {_THING}\b"
    rf"|^\s*(?:all )?{_STATE}\s*$"
    r"|\bsafe to (?:fly|go|depart|take off|open|walk|board)\b"
    rf"|\b(?:{_THING}|it|they) (?:has|have|carry|carries|bears?|shows?|holds?) {_WORD}no (?:more )?{_DEPOSIT}\b"
    rf"|\bthere is {_WORD}no (?:more )?{_DEPOSIT}\b|^\s*no {_DEPOSIT} (?:is |are |lies |left )?on\b"
    r"|\b(?:without|no) (?:any )?(?:danger|risk)\b",
    re.IGNORECASE,
)
# nobody has to do anything
_SPARES = re.compile(
    rf"\b(?:no|without) (?:further |more )?{_DEED} (?:is |are |will be )?{_NEED}\b"
    rf"|\b{_DEED} (?:is |are |will be )?(?:not|never) {_NEED}\b"
    r"|\b(?:need not|needn't|does not need to|do not need to|does not have to|do not have to) "
    r"(?:be )?(?:treat|de-?ic|inspect|check|look|touch|feel)"
    rf"|\b(?:skip|omit|forgo|leave out|do without) (?:the |all |any |today's )?{_DEED}\b"
    rf"|\b{_DEED} (?:can|could|may|might) be (?:left out|left off|skipped|omitted|dropped|spared)\b",
    re.IGNORECASE,
)
_ASKED = re.compile(
    r"\b(?:not|never|no|nobody|nothing|cannot|check|see|sure|whether|until|till|unless|if|before|only|once|keep|kept|"
    r"get|make|ask|confirm|look|verify|(?<!you )have|wipe|brush|must|should|may|might|need|needs|want|wants)\b",
    re.IGNORECASE,
)
_DOUBTED = re.compile(r"\b(?:not|never|nobody|whether|ask|check|assume)\b", re.IGNORECASE)


def promise(text: str) -> re.Match[str] | None:
    """The first promise in a text, None where there is none."""
    start = 0
    for end in [*(mark.start() for mark in _CLAUSE.finditer(text)), len(text)]:
        for pattern, excused in ((_CLAIMS, _ASKED), (_SPARES, _DOUBTED)):
            found = pattern.search(text[start:end])
            if found is not None and not excused.search(text[start : start + found.start()]):
                return re.compile(re.escape(found[0])).search(text, start + found.start())
        start = end + 1
    return None
