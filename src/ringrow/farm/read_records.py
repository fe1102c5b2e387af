"""Records straight from a season log."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.farm.records import fold_records
from ringrow.farm.season import read_events

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.farm.records import Record


def read_records(path: Path) -> list[Record]:
    """Return every record of a season log; none when there is no log yet.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    list of Record
        By the time they were first said, then by id.

    Raises
    ------
    SeasonError
        If the log cannot be read whole.
    """
    return fold_records(read_events(path))
