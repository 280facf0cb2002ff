"""What is mutated: invented reports, documents and files, and the corpus of real ones where it is there."""

from __future__ import annotations

import json
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_reports"
CORPUS = ROOT.parent / "shared" / "corpus"

METARS = [
    "METAR ZZZA 100520Z 24008KT 9999 FEW020 M00/M02 Q1013",
    "SPECI ZZZA 100537Z AUTO 24028G45KT 210V270 0800 R12/0600V1200U +SN FZFG VV002 M03/M04 Q0990 RESN NOSIG",
    "METAR ZZZA 100550Z COR VRB03KT CAVOK 24/10 A2992 RMK AO2 SLP132 T02440100 10250 20100 58014",
    "KZZA 100553Z AUTO 31012G22KT 280V340 1 1/2SM R31/2400FT -FZRASN BR BKN007 OVC015CB M01/M02 A2971 RMK AO2 PK WND "
    "28035/15 WSHFT 0530 RAB05E15SNB15 SLP065 P0012 60034 I1003 T10061017 TSNO $",
    "METAR ZZZA 100550Z 09004MPS 2000 1200NE SHSN SCT010CB M05/M07 Q0985 WS R05R R24/490250 TEMPO FM0600 0400 +SHSN",
    "METAR ZZZA 100550Z /////KT //// // ////// M01/// Q////",
    "METAR ZZZA 100620Z 00000KT 0150 R09L/P2000N FG OVC001 M08/M08 Q1030 BECMG TL0700 AT0730 9999 NSW NSC",
    "METAR CZZA 100600Z 27015KT 15SM SN OVC020 M10/M12 A2980 RMK SC8 SNOW 3.5CM /S12/ 1ST OBS",
]
TAFS = [
    "TAF ZZZA 100500Z 1006/1112 24010KT 9999 SCT020 BECMG 1008/1010 30015G30KT 4000 -SN OVC010 "
    "PROB40 TEMPO 1012/1015 0800 +SN VV002 FM101800 VRB03KT CAVOK TXM01/1014Z TNM09/1106Z",
    "TAF AMD ZZZA 100540Z 1006/1024 27012KT P6SM BKN030 WS020/16040KT TEMPO 1006/1010 1 1/2SM -FZRA OVC004 "
    "FM101200 31018G28KT 3SM BLSN SCT015CB QNH2906INS 620304 510012",
]
CONDITIONS = [
    "gust_kt >= 28",
    "-2 <= air_temperature_c <= 15",
    "snow_intensity in (3, 4)",
    "always",
    "freezing_precipitation",
    'light in ("nautical twilight", "full dark")',
    "rain and not (freezing_rain or hail)",
    "wind_kt not in (3)",
    "frost_margin_c > 0 and (relative_humidity_pct >= 80 or fog) and not light == 'day'",
]
ACTUALS = [
    "flight,off,at_pad,begun,finished,departed,truck\nZZ101,2027-01-10T05:26:00Z,2027-01-10T05:31:00Z,,,,\nZZ120,,,,,,\n"
]
RULE = """
[checklist]
name = "Invented"

[[advice]]
id = "torch"
kind = "gear"
when = "illuminance_lx < 40"
during = ["parked", "walk_round"]
weight = "must"
text = "Take a torch; {illuminance_lx} lx."
source = "invented-default"

[[advice]]
id = "de-icing-request"
kind = "request"
when = "frost_margin_c > 0"
during = "walk_round"
weight = "should"
text = "Ask for it."
lead_min = 45
source = "common-practice"
"""
BODY = {
    "reports": [METARS[1]],
    "off_block": "0640Z",
    "now": "2027-01-10T05:25:00Z",
    "place": "61.4,9.8",
    "heading": 210,
    "aircraft": "light-aircraft",
    "seen": "frost",
    "fuel_temperature": "-8 degC",
    "fuel_fill": 60,
    "walk_round": "0555Z/0615Z",
    "parked_since": "2027-01-09T20:00:00Z",
}


def _samples(pattern: str) -> list[str]:
    return [path.read_text(encoding="utf-8") for path in sorted(SAMPLES.glob(pattern))]


def iwxxm() -> list[str]:
    """Invented documents of the other tests."""
    sys.path.insert(0, str(ROOT / "tests" / "report"))
    import iwxxm_samples as x

    return [document for _, document in x.ICAO.values()]


def real(name: str, most: int = 20_000) -> list[str]:
    """Reports of the corpus, none where it is not there."""
    file = CORPUS / name
    if not file.exists():
        return []
    lines = file.read_text(encoding="utf-8").splitlines()
    return [json.loads(line)["raw"] for line in lines[:: max(1, len(lines) // most)]]


def seeds(corpus: bool, most: int = 20_000) -> dict[str, list[str]]:
    """Texts by target. corpus: with at most so many of the real reports beside the checkout."""
    metars, tafs = METARS + _samples("*/report.txt"), list(TAFS)
    if corpus:
        metars, tafs = metars + real("metars.jsonl", most), tafs + real("tafs.jsonl", most)
    few = [*metars[:20], *tafs[:4]]
    return {
        "metar": metars,
        "taf": tafs,
        "bulletin": ["SAZZ31 ZZZA 100500\n" + "=\n".join(few[at : at + 5]) + "=\n" for at in range(0, len(few), 3)],
        "iwxxm": iwxxm(),
        "condition": CONDITIONS,
        "folder": [RULE, *_starts()],
        "schedule": [(SAMPLES / "slots" / "schedule.csv").read_text(encoding="utf-8")],
        "pads": [(SAMPLES / "slots" / "pads.toml").read_text(encoding="utf-8")],
        "actuals": ACTUALS,
        "replay": [(ROOT / "tests" / "archive" / "data" / "winter.csv").read_text(encoding="utf-8"), "\n".join(METARS)],
        "brief": few,
        "http": [json.dumps(BODY), json.dumps({**BODY, "reports": [METARS[3], TAFS[0]]})],
    }


def _starts() -> list[str]:
    folder = ROOT / "advisor" / "data" / "aircraft"
    return [path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.toml"))[:2]]
