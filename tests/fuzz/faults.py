"""What counts as the same fault. Imports nothing of the advisor, which is then loaded by who measures its coverage."""

from __future__ import annotations

import re
from pathlib import Path


def kind(error: BaseException) -> str:
    """A fault by where it comes from, so that each is kept once."""
    at = error.__traceback__
    while at is not None and at.tb_next is not None:
        at = at.tb_next
    where = "" if at is None else f"{Path(at.tb_frame.f_code.co_filename).name}:{at.tb_lineno}"
    # what is wrong, without the text and the numbers it is wrong in
    wrong = re.sub(r"-?\d[\d.e+]*", "#", str(error).split(":")[0])[:40] if isinstance(error, AssertionError) else ""
    return f"{type(error).__name__} {where} {wrong}".strip()
