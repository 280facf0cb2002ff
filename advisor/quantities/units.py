"""Numbers with units as people write them, and the few conversions that the code itself needs.

pint reads quantities that people write with a unit ("21 m/s"); it is loaded only when such a text is met.
"""

from __future__ import annotations

import math
import re
from functools import cache
from typing import Any

# exact by definition: the nautical mile 1852 m, the foot 0.3048 m, the statute mile 5280 ft, the inch 25.4 mm
M_S_PER_KT = 1852 / 3600
KT_PER_M_S = 3600 / 1852
KM_H_PER_KT = 1.852
KT_PER_KM_H = 1000 / 1852
M_PER_FT = 0.3048
M_PER_MILE = 1609.344
MM_PER_INCH = 25.4
# the inch of mercury at 0 °C under standard gravity, rounded
HPA_PER_INHG = 33.86389
HOUR_S, DAY_S = 3600, 86_400

_NUMBER = re.compile(r"\s*[-+−]?\d+(\.\d+)?\s*\Z", re.ASCII)


def read_number(text: str) -> float:
    """A plain number in the digits 0 to 9. Raises ValueError: no 1_0, no digits of other scripts, nothing infinite."""
    if not _NUMBER.match(text):
        raise ValueError(f"{text[:40]!r} is not a number")
    value = float(text.replace("−", "-"))
    if not math.isfinite(value):
        raise ValueError(f"{text[:40]!r} is not a finite number")
    return value


def read_quantity(text: str | float | int, unit: str) -> float:
    """Read a number, or a text such as "21 m/s", into a unit.

    text: a plain number is taken to be in the unit already. unit: pint's name ("knot", "degC", "metre").
    Raises ValueError for anything that is not finite, has another dimension, or cannot be read.
    """
    if isinstance(text, bool):
        raise ValueError("a number or a quantity with a unit is needed")
    if isinstance(text, (int, float)):
        value = float(text)
    elif _NUMBER.match(text):
        value = float(text.replace("−", "-"))
    else:
        value = _with_pint(text, unit)
    if not math.isfinite(value):
        raise ValueError(f"{text!r} is not a finite number")
    return value


def _with_pint(text: str, unit: str) -> float:
    if len(text) > 60:
        raise ValueError("too long for a quantity")
    match = re.fullmatch(r"\s*([-+−]?\d+(?:[.,]\d+)?)\s*([^\d\s].*?)\s*", text, re.ASCII)
    if not match:
        raise ValueError(f"{text!r} is not a number with a unit")
    number = float(match[1].replace("−", "-").replace(",", "."))
    try:
        return float(_registry().Quantity(number, match[2]).to(unit).magnitude)
    except Exception as error:
        raise ValueError(f"{text!r} is not a quantity in {unit}") from error


@cache
def _registry() -> Any:
    import pint

    registry: Any = pint.UnitRegistry(autoconvert_offset_to_baseunit=True, cache_folder=None, on_redefinition="ignore")
    # pint's own kt is the kilotonne; in this trade it is never anything but the knot
    registry.define("kt = knot")
    registry.define("kts = knot")
    return registry
