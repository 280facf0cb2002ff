"""How fast forecasts are read, against reading the same bytes with json in the same run; the figures are printed.

The aim is 3,000 forecasts a second. A ratio gates, so that a slow machine does not fail it, and processor
time is taken, so that a busy one does not.
"""

import json
from datetime import UTC, datetime
from time import process_time

from advisor.report import iwxxm, taf

NOW = datetime(2026, 1, 10, 6, tzinfo=UTC)
TEXT = (
    "TAF ZZZA 100500Z 1006/1112 24010G22KT 9999 -SN SCT008 BKN015 OVC030 TX01/1014Z TNM06/1106Z "
    "BECMG 1008/1010 30015KT 4000 -SN BR BKN006 TEMPO 1010/1014 1200 SN VV004 PROB30 TEMPO 1014/1016 0600 +SN "
    "FM101800 33008KT 9999 NSW SCT020 BECMG 1100/1102 VRB02KT CAVOK PROB40 1104/1108 0300 FZFG VV001"
)
REPEATS, ROUNDS = 200, 5


def best(work):
    """Shortest time of one call, s."""
    times = []
    for _ in range(ROUNDS):
        start = process_time()
        for _ in range(REPEATS):
            work()
        times.append((process_time() - start) / REPEATS)
    return min(times)


def test_reading_a_forecast_keeps_its_ratio_to_parsing_its_groups_from_json(capsys):
    stored = json.dumps([[g.text, g.status, g.meaning, g.part, g.kind] for g in taf.read(TEXT, now=NOW).groups])
    forecast, plain = best(lambda: taf.read(TEXT, now=NOW)), best(lambda: json.loads(stored))
    with capsys.disabled():
        print(f"\n  {1 / forecast:,.0f} forecasts a second, {forecast / plain:.0f} times its groups as JSON")
    assert forecast < 60 * plain


def test_reading_xml_is_reported(capsys):
    xml = (
        "<TAF><issueTime><timePosition>2026-01-10T05:00:00Z</timePosition></issueTime><aerodrome><designator>ZZZA"
        "</designator></aerodrome></TAF>"
    )
    one = best(lambda: iwxxm.read(xml))
    with capsys.disabled():
        print(f"\n  {1 / one:,.0f} smallest XML documents a second")
    assert iwxxm.read(xml)[0].nil
