"""Writing a file whole or not at all."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from ringrow.errors import FileError

if TYPE_CHECKING:
    from collections.abc import Iterator


def check_target(path: Path, *, endings: tuple[str, ...], overwrite: bool) -> None:
    """Refuse a file name that cannot be written, before any work is done.

    Parameters
    ----------
    path : Path
        File to be written.
    endings : tuple of str
        Endings that are allowed, such as ``(".geojson",)``, lower case.
    overwrite : bool
        Whether a file that is already there may be replaced.

    Raises
    ------
    FileError
        If the ending is not allowed, the folder is missing, or the file is there already.
    """
    if not path.name.lower().endswith(endings):
        message = f'output file: found "{path.name}"; allowed: a name that ends in {", ".join(endings)}'
        raise FileError(message)
    if path.is_dir():
        message = f'output file: found "{path}", a folder; allowed: a file name in a folder that is there'
        raise FileError(message)
    if not path.parent.is_dir():
        message = (
            f'output file: found "{path}", but there is no folder "{path.parent}"; '
            "allowed: a file in a folder that is there; make the folder first"
        )
        raise FileError(message)
    if path.exists() and not overwrite:
        message = f'output file: "{path}" is already there; say --overwrite, or choose another name'
        raise FileError(message)


@contextlib.contextmanager
def open_whole(path: Path) -> Iterator[TextIO]:
    """Open a text file that appears under its name only when it is complete.

    The text goes to a temporary file in the same folder, is forced to disk and then takes
    the name in one step, so that a reader sees the old file or the new one, never half.

    Parameters
    ----------
    path : Path
        File to write; one that is there is replaced.

    Yields
    ------
    TextIO
        UTF-8 stream with plain line feeds.

    Raises
    ------
    FileError
        If the folder or file cannot be written; the message says why.
    """
    with _opened(path, binary=False) as stream:
        yield stream


def write_whole(path: Path, data: bytes) -> None:
    """Write a file of bytes that appears under its name only when it is complete.

    Parameters
    ----------
    path : Path
        File to write; one that is there is replaced.
    data : bytes
        What it holds.

    Raises
    ------
    FileError
        If the folder or file cannot be written; the message says why.
    """
    with _opened(path, binary=True) as stream:
        stream.write(data)


@contextlib.contextmanager
def _opened(path: Path, *, binary: bool) -> Iterator[Any]:
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    except OSError as error:
        message = f'output file: "{path}" cannot be written ({error.strerror}); choose another folder'
        raise FileError(message) from error
    part = Path(name)
    try:
        text = {"mode": "wb"} if binary else {"mode": "w", "encoding": "utf-8", "newline": "\n"}
        with os.fdopen(handle, **text) as stream:  # type: ignore[call-overload]
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        part.chmod(0o666 & ~_umask())
        part.replace(path)
    except OSError as error:
        message = f'output file: "{path}" could not be written ({error.strerror})'
        raise FileError(message) from error
    finally:
        part.unlink(missing_ok=True)


@contextlib.contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Give a place to write a file that appears under its name only when it is complete.

    For what libraries write under a path: the file is written under its own name in a
    temporary folder beside its target, forced to disk and then moved in one step.

    Parameters
    ----------
    path : Path
        File to write; one that is there is replaced.

    Yields
    ------
    Path
        Where to write it; the folder it lies in is free for other files and goes away.

    Raises
    ------
    FileError
        If the folder or file cannot be written; the message says why.
    """
    try:
        folder = Path(tempfile.mkdtemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent))
    except OSError as error:
        message = f'output file: "{path}" cannot be written ({error.strerror}); choose another folder'
        raise FileError(message) from error
    part = folder / path.name
    try:
        yield part
        with part.open("rb") as stream:
            os.fsync(stream.fileno())
        part.replace(path)
    except OSError as error:
        message = f'output file: "{path}" could not be written ({error.strerror or error})'
        raise FileError(message) from error
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _umask() -> int:
    # The mask can only be read by setting it; mkstemp makes files that nobody else may read.
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
