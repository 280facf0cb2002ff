"""What the tests of the page share: invented reports, a clock that stands still, an app and a form's way through it."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

from litestar.testing import TestClient

from advisor.web.app import create_app
from advisor.web.model import Settings

# invented weather at an invented place
WORST = "METAR ZZZA 100520Z 24028G45KT 0800 +SN FZFG VV002 M03/M04 Q0990"
QUIET = "METAR ZZZA 100520Z 24004KT CAVOK 14/06 Q1023"
POOR = "METAR ZZZA 100520Z AUTO /////KT //// // ////// M01/// Q////"
STORM = "METAR ZZZA 100520Z 24045G65KT 0150 R12/0200 +TSSNGS FZFG VV001 M03/M04 Q0970 RMK SNOCLO"
NEWER = "METAR ZZZA 100550Z 24006KT 9999 FEW030 M01/M05 Q0995"
NOW = "2027-01-10T05:25:00Z"
PLACE = "61.4,9.8"


class Clock:
    """A clock that moves when told to."""

    def __init__(self, at: str = NOW) -> None:
        self.at = datetime.fromisoformat(at).astimezone(UTC)

    def __call__(self) -> datetime:
        return self.at

    def on(self, minutes: float) -> None:
        self.at += timedelta(minutes=minutes)


def body(report: str = WORST, **more: object) -> dict[str, object]:
    return {"reports": [report], "off_block": "0640Z", "now": NOW, "place": PLACE, **more}


def client(**settings: object) -> TestClient:
    settings.setdefault("clock", Clock())
    return TestClient(create_app(Settings(**settings)), base_url="http://127.0.0.1")


def token(page: str) -> str:
    return re.search(r'name="token" value="([^"]+)"', page)[1]


def send(client: TestClient, path: str = "/brief", **fields: str):
    """Open the form, fill it in, send it; the answer as it comes, redirects not followed."""
    fields = {"token": token(client.get("/").text), **fields}
    return client.post(path, data=fields, follow_redirects=False)


def brief_page(client: TestClient, report: str = WORST, **fields: str):
    answer = send(client, **{"reports": report, "off_block": "0640", "place": PLACE, **fields})
    assert answer.status_code == 303, re.findall('class="fault".*', answer.text)
    return client.get(answer.headers["location"])
