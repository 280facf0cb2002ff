"""What a walk keeps of the brief that it was opened from: enough to judge the advice when the brief is gone. Pure."""

from __future__ import annotations

import hashlib
from typing import Any

from advisor.brief.model import Brief
from advisor.record.said import OpenSaid


def opened(
    walk: str, opening: OpenSaid, brief: Brief, raw: bytes, zones: tuple[str, ...], role: str = ""
) -> dict[str, Any]:
    """The content of the event that opens a walk.

    raw: the brief's JSON as it was given out, its SHA-256 is the fingerprint; zones: of the aircraft, in walking order.
    """
    used = [report for report in brief.reports if report.used] or list(brief.reports)
    data: dict[str, Any] = {
        "walk": walk,
        "by": opening.by,
        "brief": opening.brief,
        "fingerprint": hashlib.sha256(raw).hexdigest(),
        "aircraft": {"id": brief.aircraft.id, "name": brief.aircraft.name},
        "checklist": {
            "name": brief.checklist.name,
            "revision": brief.checklist.revision,
            "fingerprint": brief.checklist.fingerprint,
        },
        "place": brief.place.indicator or brief.place.name,
        "station": used[0].station if used else "",
        "now": brief.now,
        "off_block": brief.windows.off_block,
        "walk_round": list(brief.windows.walk_round),
        "reports": [{"issued": report.issued, "kind": report.kind, "raw": report.raw} for report in used],
        "zones": list(zones),
        "lines": [
            {
                "id": line.id,
                "kind": line.kind,
                "part": line.part,
                "short": line.short,
                "status": line.status,
                "weight": line.weight,
                "zone": line.zone or "",
                "text": line.text,
                **({"by": line.by} if line.by else {}),
            }
            for line in brief.advice
        ],
    }
    for name, value in (("at", opening.at), ("registration", opening.registration), ("role", role)):
        if value:
            data[name] = value
    return data
