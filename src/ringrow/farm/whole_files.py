"""Files that appear under their name only when they are complete and on disk."""

from __future__ import annotations

import os
import tempfile
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from ringrow.errors import FileError

if TYPE_CHECKING:
    from collections.abc import Iterator


@contextmanager
def placed_whole(path: Path, *, overwrite: bool) -> Iterator[Path]:
    """Give a temporary file to fill; it takes its name in one step when the block ends well.

    Parameters
    ----------
    path : Path
        Name that the file gets.
    overwrite : bool
        Whether a file of that name may be replaced.

    Yields
    ------
    Path
        An empty file in the same folder.

    Raises
    ------
    FileError
        If the folder cannot be written, the disk is full, or the name is taken.
    """
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    except OSError as error:
        raise _cannot(path, error) from error
    os.close(handle)
    part = Path(name)
    try:
        yield part
        _settle(part)
        _take_name(part, path, overwrite=overwrite)
        _settle_folder(path.parent)
    except FileExistsError as error:
        message = f'"{path}" is already there; say --overwrite, or choose another name'
        raise FileError(message) from error
    except OSError as error:
        if isinstance(error, FileError):
            raise
        raise _cannot(path, error) from error
    finally:
        part.unlink(missing_ok=True)


def _cannot(path: Path, error: OSError) -> FileError:
    return FileError(f'"{path}" cannot be written ({error.strerror or error}); nothing was changed')


def _settle(part: Path) -> None:
    part.chmod(0o666 & ~_umask())
    with part.open("rb+") as stream:
        os.fsync(stream.fileno())


def _take_name(part: Path, path: Path, *, overwrite: bool) -> None:
    if overwrite:
        part.replace(path)
        return
    try:
        # A link refuses a name that is taken; a plain rename would replace it.
        os.link(part, path)
    except FileExistsError:
        raise
    except OSError:
        # Memory sticks and some network folders know no links.
        if path.exists():
            raise FileExistsError(path) from None
        part.replace(path)


def _settle_folder(folder: Path) -> None:
    # Some systems cannot open a folder; there the name is on disk when the system pleases.
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _umask() -> int:
    # The mask can only be read by setting it; temporary files are made so that nobody else may read them.
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
