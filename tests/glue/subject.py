"""What the tests of this folder are about: the one place to re-point when a module moves."""

from advisor import places
from advisor.brief import lines as findings
from advisor.brief import missing
from advisor.conditions import Airframe, Case, Conditions, Departure, Door, Place, Sector, Windows
from advisor.errors import ReportError
from advisor.outlook import build as outlook
from advisor.outlook import cases as choices
from advisor.outlook import ended, gaps, lanes, seen, series, stations, temperature
from advisor.outlook import track as tracks
from advisor.outlook.cases import BASE_CASES, Choice, Site
from advisor.physics import ahead_tables, deposits, frost, lying, precipitation, sky, surface, treatment
from advisor.physics.derive import derive
from advisor.physics.precipitation import FLAGS
from advisor.physics.stages.ground import UNDERFOOT
from advisor.quantities import TREATMENT_CATEGORIES
from advisor.report import metar, taf
from advisor.report.forecast import Elements, Extreme
from advisor.report.model import CloudLayer

__all__ = [
    "BASE_CASES",
    "FLAGS",
    "TREATMENT_CATEGORIES",
    "UNDERFOOT",
    "Airframe",
    "Case",
    "Choice",
    "CloudLayer",
    "Conditions",
    "Departure",
    "Door",
    "Elements",
    "Extreme",
    "Place",
    "ReportError",
    "Sector",
    "Site",
    "Windows",
    "ahead_tables",
    "choices",
    "deposits",
    "derive",
    "ended",
    "findings",
    "frost",
    "gaps",
    "lanes",
    "lying",
    "metar",
    "missing",
    "outlook",
    "places",
    "precipitation",
    "seen",
    "series",
    "sky",
    "stations",
    "surface",
    "taf",
    "temperature",
    "tracks",
    "treatment",
]
