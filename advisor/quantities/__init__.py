"""The table of quantities: every column that conditions may hold, its unit, range and meaning, and how it is joined.

QUANTITIES are those that a rule may test; COLUMNS are all, with those that only physics needs.
"""

import msgspec

from advisor.quantities import inner, rows
from advisor.quantities.kinds import CODE, FLAG, NUMBER, SET, Quantity
from advisor.quantities.rows import LIGHT_NAMES, TREATMENT_CATEGORIES
from advisor.quantities.said import ALSO_CALLED, NO_VALUE
from advisor.quantities.units import read_number, read_quantity


def _worded(row: Quantity) -> Quantity:
    return msgspec.structs.replace(row, also_called=ALSO_CALLED.get(row.name, ()), no_value=NO_VALUE.get(row.name, ""))


QUANTITIES: dict[str, Quantity] = {row.name: _worded(row) for row in rows.ROWS}
COLUMNS: dict[str, Quantity] = QUANTITIES | {row.name: _worded(row) for row in inner.ROWS}

__all__ = [
    "CODE",
    "COLUMNS",
    "FLAG",
    "LIGHT_NAMES",
    "NUMBER",
    "QUANTITIES",
    "SET",
    "TREATMENT_CATEGORIES",
    "Quantity",
    "read_number",
    "read_quantity",
]
