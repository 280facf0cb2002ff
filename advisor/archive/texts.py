"""The texts of reports, held as one column: of most of them nobody ever needs a string of its own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, overload

import numpy as np
from numpy.typing import NDArray

from advisor.archive.extra import library


class Texts(Sequence[str]):
    """Texts of reports. column: an Arrow array of text without gaps; rows: which of them, in their order; None all."""

    def __init__(self, column: Any, rows: NDArray[np.intp] | None = None) -> None:
        self._column, self._rows = column, rows

    @classmethod
    def of(cls, texts: Sequence[str]) -> Texts:
        """The texts of any sequence."""
        if isinstance(texts, Texts):
            return texts
        arrow = library("pyarrow")
        return cls(arrow.array(texts, arrow.large_string()))

    def __len__(self) -> int:
        return len(self._column) if self._rows is None else self._rows.size

    @overload
    def __getitem__(self, index: int) -> str: ...
    @overload
    def __getitem__(self, index: slice) -> Texts: ...
    def __getitem__(self, index: int | slice) -> str | Texts:
        if isinstance(index, slice):
            return self.picked(np.arange(len(self))[index])
        text: str = self._column[int(index if self._rows is None else self._rows[index])].as_py()
        return text

    def __iter__(self) -> Iterator[str]:
        return iter(self.column().to_pylist())

    def picked(self, rows: NDArray[np.intp]) -> Texts:
        """Some of the texts, by position."""
        return Texts(self._column, rows if self._rows is None else self._rows[rows])

    def column(self) -> Any:
        """The texts as an Arrow array."""
        return self._column if self._rows is None else self._column.take(library("pyarrow").array(self._rows))
