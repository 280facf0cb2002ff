"""The operator's feeds, as the page asks them."""

from __future__ import annotations

import time
from collections.abc import Sequence
from pathlib import Path

from advisor.feeds.file import load_feeds, texts_from_feed, user_folder
from advisor.web.model import Fetch, clock


def from_files(folder: Path | None) -> tuple[Fetch | None, tuple[str, ...]]:
    """How to fetch, and the names of the feeds; None and no names where no feeds.toml is found.

    folder: the operator's checklist folder. Raises ChecklistError with every fault of the file.
    """
    names = tuple(load_feeds(folder, user_folder()))
    if not names:
        return None, ()

    def fetch(station: str, feed: str) -> tuple[Sequence[str], Sequence[str]]:
        return texts_from_feed(
            station, feed, checklist_folder=folder, now=clock(), ticks=time.monotonic, sleep=time.sleep
        )

    return fetch, names
