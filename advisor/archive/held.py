"""Rules that hold for some aircraft, stations or months alone: not indicated elsewhere."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.archive import instant
from advisor.checklist.evaluate import NOT_INDICATED, STATUSES
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Rule

_NONE = STATUSES.index(NOT_INDICATED)


@dataclass(frozen=True)
class Of:
    """Whose reports they are. names: of the stations; station: position in them of each; at_s: when each was made."""

    profile: Profile
    names: Sequence[str]
    station: NDArray[np.int32]
    at_s: NDArray[np.int64]

    def held(self, status: NDArray[np.int8], rules: Sequence[Rule]) -> NDArray[np.int8]:
        """Statuses, (rule, report), not indicated where the rule does not hold.

        The months are those of the report and of the instant that it is asked for.
        """
        if not any(rule.aircraft or rule.stations or rule.months for rule in rules):
            return status
        months = [_month(self.at_s, ahead_s) for ahead_s in (0, int(instant.AHEAD_S))]
        statuses = status.copy()
        for row, rule in enumerate(rules):
            there = np.full(statuses.shape[1], not rule.aircraft or self.profile.id in rule.aircraft)
            if rule.stations:
                there &= np.isin(self.station, [one for one, name in enumerate(self.names) if name in rule.stations])
            if rule.months:
                there &= np.isin(months[0], rule.months) | np.isin(months[1], rule.months)
            statuses[row, ~there] = _NONE
        return statuses


def _month(at_s: NDArray[np.int64], ahead_s: int) -> NDArray[np.int64]:
    seconds = np.asarray(at_s).astype(np.int64) + ahead_s
    months: NDArray[np.int64] = seconds.astype("datetime64[s]").astype("datetime64[M]").astype(np.int64) % 12 + 1
    return months
