"""The inner parts of python-metar that the second reader uses, held against its public face and their own text.

Measured over the real reports: a whole report by the public face for each group takes three times as long as the
group's own pattern and handler, which is 9 % of the time of reading. A test here that fails tells that python-metar has
changed: read the adapter again.
"""

import ast
import hashlib
import inspect
from pathlib import Path

import pytest
from metar.Metar import Metar

import advisor
from advisor.report.code import second_reader as decoder

PACKAGE = Path(advisor.__file__).parent
# of python-metar 2.0.2 and its handlers of the patterns that the adapter names
PARTS = "ff6cad79f7c3477d3562f3f449c565a1b47a5169f3255b065dbf738a000ce026"


def patterns():
    tree = ast.parse(Path(decoder.__file__).read_text(encoding="utf-8"))
    attributes = [node for node in ast.walk(tree) if isinstance(node, ast.Attribute)]
    return sorted({node.attr for node in attributes if ast.unparse(node.value) == "pm" and node.attr.endswith("_RE")})


def test_only_one_module_touches_python_metar():
    users = []
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) and not node.level else []
            users += [path.name for name in names if name.split(".")[0] == "metar"]
    assert users == ["second_reader.py"]


def test_the_patterns_and_handlers_are_those_that_the_adapter_was_written_for():
    assert len(patterns()) > 15
    text = "".join(
        f"{name} {getattr(decoder.pm, name).pattern} {inspect.getsource(decoder._HANDLERS[getattr(decoder.pm, name)])}"
        for name in patterns()
    )
    assert hashlib.sha256(text.encode()).hexdigest() == PARTS


@pytest.mark.parametrize(
    ("pattern", "group", "attributes"),
    [
        ("WIND_RE", "24012G25KT", ["wind_dir", "wind_speed", "wind_gust"]),
        ("VISIBILITY_RE", "1500NE", ["vis", "vis_dir"]),
        ("RUNWAY_RE", "R24L/P1500U", ["runway"]),
        ("WEATHER_RE", "+TSRA", ["weather"]),
        ("RECENT_RE", "RESN", ["recent"]),
        ("SKY_RE", "BKN012CB", ["sky"]),
        ("TEMP_RE", "M01/M03", ["temp", "dewpt"]),
        ("PRESS_RE", "A2992", ["press"]),
        ("WINDSHEAR_RE", "WS RWY24", ["windshear"]),
        ("TEMP_1HR_RE", "RMK T10061028", ["temp", "dewpt"]),
        ("SEALVL_PRESS_RE", "RMK SLP134", ["press_sea_level"]),
        ("PRECIP_1HR_RE", "RMK P0012", ["precip_1hr"]),
        ("TEMP_6HR_RE", "RMK 10021", ["max_temp_6hr"]),
        ("TEMP_24HR_RE", "RMK 400211006", ["max_temp_24hr", "min_temp_24hr"]),
        ("SNOWDEPTH_RE", "RMK 4/012", ["snowdepth"]),
        ("ICE_ACCRETION_RE", "RMK I1003", ["ice_accretion_1hr"]),
        ("PEAK_WIND_RE", "RMK PK WND 28045/1955", ["wind_dir_peak", "wind_speed_peak"]),
    ],
)
def test_a_group_by_itself_gives_what_a_whole_report_gives(pattern, group, attributes):
    whole = Metar(f"METAR ZZZA 152359Z {group}", month=1, year=2026, strict=False)
    alone = decoder._taken(getattr(decoder.pm, pattern), group.removeprefix("RMK "))
    for name in attributes:
        assert getattr(whole, name)
        assert str_of(getattr(alone, name)) == str_of(getattr(whole, name))


def str_of(value):
    if isinstance(value, (list, tuple)):
        return [str_of(part) for part in value]
    return str(value)
