"""The sample farm that travels with the program."""

from __future__ import annotations

import shutil
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import ringrow
from ringrow.errors import FileError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flags import Stamp
    from ringrow.farm.import_model import ImportPlan
    from ringrow.farm.model import Farm

SAMPLE_NAME = "two_windmill_farm"
"""Folder name of the sample farm."""


def sample_folder() -> Path:
    """Return the folder of the sample farm.

    Returns
    -------
    Path
        Inside the installed package, or, when the program runs from its own source tree,
        the folder ``sample_fields`` beside ``src``.

    Raises
    ------
    FileError
        If neither is there.

    Examples
    --------
    >>> (sample_folder() / "farm.toml").is_file()
    True
    """
    package = Path(ringrow.__file__).parent
    for home in (package, package.parents[1]):
        folder = home / "sample_fields" / SAMPLE_NAME
        if (folder / "farm.toml").is_file():
            return folder
    message = f"sample farm: found no sample_fields/{SAMPLE_NAME} in {package}; install the program again"
    raise FileError(message)


def sample_files() -> tuple[Path, ...]:
    """Return every file of the sample farm, as paths relative to its folder.

    Returns
    -------
    tuple of Path
        Sorted; without a season log or anything a command wrote beside it.
    """
    folder = sample_folder()
    kept = (path for part in ("bulk", "fields", "flags", "shapes") for path in (folder / part).rglob("*"))
    return (Path("farm.toml"), *sorted(path.relative_to(folder) for path in kept if path.is_file()))


def copy_sample(destination: Path, *, overwrite: bool = False) -> tuple[Path, ...]:
    """Copy the sample farm into a folder.

    A season log that is already there stays as it is, whatever `overwrite` says: it may
    hold flags that somebody set.

    Parameters
    ----------
    destination : Path
        Folder to copy into; made when it is missing.
    overwrite : bool, default False
        Whether files of the sample farm that are already there are replaced.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    FileError
        If a file is in the way and `overwrite` is not set, or the folder cannot be written.
    """
    source = sample_folder()
    targets = {destination / path: source / path for path in sample_files()}
    there = next((target for target in targets if target.exists()), None)
    if there is not None and not overwrite:
        message = f"{there}: already there; allowed: a new folder; name another one, or add --overwrite"
        raise FileError(message)
    folders = {target.parent for target in targets} | {destination}
    made = [path for path in sorted([*folders, *targets], reverse=True) if not path.exists()]
    try:
        for target, origin in targets.items():
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(origin, target)
    except OSError as error:
        _remove(made)
        message = f"{destination}: cannot be written ({error.strerror}); name a folder that can"
        raise FileError(message) from error
    return tuple(targets)


def _remove(paths: Sequence[Path]) -> None:
    """Take back what was written, what lies in a folder before the folder itself."""
    for path in paths:
        with suppress(OSError):
            path.rmdir() if path.is_dir() else path.unlink()


def import_sample_flags(farm: Farm, layouts: Sequence[FieldLayout], *, stamp: Stamp) -> dict[str, ImportPlan]:
    """Bring every file of a farm's ``flags`` folder into its season log.

    Parameters
    ----------
    farm : Farm
        The farm, as copied from the sample.
    layouts : sequence of FieldLayout
        Its fields laid out.
    stamp : Stamp
        Who imports, and when.

    Returns
    -------
    dict of str to ImportPlan
        What became of each point, by file name in the order they were read.

    Raises
    ------
    SeasonError
        If the season log cannot be written.
    """
    # Only here: copying files needs none of the readers.
    from ringrow.farm.flag_import import import_files, settle_kinds
    from ringrow.farm.flag_places import farm_lonlat, surroundings_of
    from ringrow.farm.readers import read_points
    from ringrow.farm.season import SEASON_FILE

    homes = farm_lonlat(farm)
    paths = sorted(path for path in (farm.folder / "flags").iterdir() if path.is_file())
    files = [read_points(path, unit=farm.units.length, farm_lonlat=homes) for path in paths]
    ready = [
        (file, settle_kinds(file, kinds=farm.kinds, around=surroundings_of(farm, layouts, file.rows)))
        for file in files
    ]
    plans, _ = import_files(farm.folder / SEASON_FILE, ready, accuracy=farm.accuracy, stamp=stamp)
    return dict(zip((path.name for path in paths), plans, strict=True))
