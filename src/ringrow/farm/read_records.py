"""Records straight from a season log."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringrow.farm.records import fold_records
from ringrow.farm.season import open_season
from ringrow.farm.season_disk import log_exists

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
    if not log_exists(path):
        return []
    with open_season(path) as season:
        return fold_records(season.events())
