"""What the trade has once stands once: conversions in quantities/units.py, the three values of a flag in conditions.py.

Conversions: the nautical mile is 1852 m, the foot 0.3048 m, the statute mile 1609.344 m, the inch 25.4 mm (SI brochure,
9th edition, table 8 and its notes; exact by definition).
"""

from __future__ import annotations

import ast
import tomllib
from math import isclose
from pathlib import Path

import pytest

from advisor.physics import convection
from advisor.quantities import units
from advisor.render.picture import data

ROOT = Path(__file__).parent.parent
SOURCES = sorted((ROOT / "advisor").rglob("*.py"))
UNITS = ROOT / "advisor" / "quantities" / "units.py"
# factors and their inverses, as far as anybody may write them out
FACTORS = (1852.0, 1.852, 0.3048, 1609.344, 1609.34, 25.4, 0.254, 33.86389, 0.514444, 1.943844, 3.28084, 86_400.0)
# of formulas and waits that have nothing to do with an hour: seconds of arc
NO_HOURS = {"OBLIQUITY_DEG"}


def numbers(path: Path) -> list[tuple[int, float]]:
    """Every number that is written in a file, with its line."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and {getattr(one, "id", "") for one in node.targets} & NO_HOURS:
            node.value = ast.Constant(0)
    return [
        (node.lineno, float(node.value))
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and type(node.value) in (int, float) and hasattr(node, "lineno")
    ]


def written(path: Path, factors: tuple[float, ...]) -> list[str]:
    return [
        f"{path.relative_to(ROOT)}:{line}: {value:g}"
        for line, value in numbers(path)
        if any(isclose(value, factor, rel_tol=1e-5) for factor in factors)
    ]


def test_no_conversion_of_units_is_written_outside_their_file() -> None:
    assert [found for path in SOURCES if path != UNITS for found in written(path, FACTORS)] == []
    assert len(written(UNITS, FACTORS)) >= 6


def test_what_is_read_and_worked_out_names_its_hours() -> None:
    rooms = ("report", "physics", "outlook", "quantities")
    paths = [path for path in SOURCES if path != UNITS and path.relative_to(ROOT / "advisor").parts[0] in rooms]
    assert [found for path in paths for found in written(path, (3600.0, 7200.0))] == []


def test_the_factors_are_those_of_the_units_definitions() -> None:
    assert pytest.approx(1852) == units.M_S_PER_KT * 3600 and pytest.approx(1) == units.KT_PER_M_S * units.M_S_PER_KT
    assert pytest.approx(1852) == units.KM_H_PER_KT * 1000 and pytest.approx(1) == units.KT_PER_KM_H * 1.852
    assert pytest.approx(5280 * units.M_PER_FT) == units.M_PER_MILE and pytest.approx(304.8) == units.MM_PER_INCH * 12


def values_of(name: str) -> list[str]:
    """Where a constant is defined."""
    found = []
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            targets = node.targets if isinstance(node, ast.Assign) else []
            parts = [part for target in targets for part in ast.walk(target) if isinstance(part, ast.Name)]
            names = {part.id for part in parts if isinstance(part.ctx, ast.Store)}
            found += [str(path.relative_to(ROOT))] if name in names else []
    return found


@pytest.mark.long
@pytest.mark.parametrize(
    ("name", "where"),
    [
        ("YES", "advisor/conditions.py"),
        ("NO", "advisor/conditions.py"),
        ("ROUGHNESS_M", "advisor/physics/convection.py"),
        ("TORCH_LX", "advisor/render/picture/data.py"),
        ("DAY_S", "advisor/quantities/units.py"),
        ("HOUR_S", "advisor/quantities/units.py"),
        ("WEATHER_HOLDS_S", "advisor/outlook/gaps.py"),
        ("TREND_HOLDS", "advisor/report/model.py"),
    ],
)
def test_a_constant_of_the_trade_is_defined_in_one_place(name: str, where: str) -> None:
    assert values_of(name) == [where]


def test_the_picture_s_level_of_light_is_that_of_the_shipped_torch_rule() -> None:
    rules = tomllib.loads((ROOT / "advisor/data/checklists/gear.toml").read_text(encoding="utf-8"))["advice"]
    torch = next(rule for rule in rules if rule["id"] == "torch")
    assert torch["when"] == f"illuminance_lx < {data.TORCH_LX:g}"


def test_the_wind_at_the_wing_is_by_the_roughness_that_is_named() -> None:
    # 3 m over 0.03 m: ln(100) / ln(10/0.03) = 4.60517 / 5.80914 = 0.792745
    assert (convection.MEASURED_AT_M, convection.ROUGHNESS_M) == (10.0, 0.03)
    assert convection.wing_wind_m_s(10.0, "central", height_m=3.0) == pytest.approx(7.92745, abs=1e-5)
