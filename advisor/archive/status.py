"""A status a rule and report, by the same answers as a brief's: yes, no or unknown a case, then all cases together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from advisor.checklist.evaluate import Answers, answers
from advisor.checklist.rules import Rule
from advisor.conditions import Conditions

STATUSES = ("expected", "likely", "possible", "cannot tell", "not indicated")
EXPECTED, LIKELY, POSSIBLE, CANNOT_TELL, NOT_INDICATED = range(len(STATUSES))
# those that a brief prints as lines
TOLD = (EXPECTED, LIKELY, POSSIBLE)
Codes = NDArray[np.int8]


def statuses(said: Answers) -> Codes:
    """Positions in STATUSES, (rule, time), each time by itself. The central case is the first."""
    made = np.empty((len(said.pairs), said.pairs[0][0].shape[1] if said.pairs else 0), dtype=np.int8)
    for at, (yes, no) in enumerate(said.pairs):
        unknown = ~(yes | no).all(axis=0)
        code = np.where(unknown, CANNOT_TELL, NOT_INDICATED).astype(np.int8)
        code[yes.any(axis=0)] = POSSIBLE
        code[yes[0]] = LIKELY
        code[yes.all(axis=0)] = EXPECTED
        made[at] = code
    return made


def of_rules(rules: Sequence[Rule], conditions: Conditions, class_id: str) -> Codes:
    """Statuses of the rules that hold for a class, (rule, report). conditions: derived."""
    return statuses(answers(rules, conditions, class_id))
