"""Sheets as pictures, to be sent to somebody's phone."""

from __future__ import annotations

from glob import escape
from typing import TYPE_CHECKING, Any

import pypdfium2

from ringrow.errors import FileError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

DOTS_PER_INCH = 150
"""Sharpness of the pictures: letters of 6 points are still read on a phone that zooms [1/in]."""


def write_pictures(pdf: bytes, folder: Path, stem: str, *, overwrite: bool) -> list[Path]:
    """Write each page of a PDF as a PNG picture.

    Parameters
    ----------
    pdf : bytes
        The sheets.
    folder : Path
        Folder to write to; made when missing.
    stem : str
        Start of the file names; ``-01.png`` and so on follow.
    overwrite : bool
        Whether pictures that are already there may be replaced.

    Returns
    -------
    list of Path
        The pictures, page by page.

    Raises
    ------
    FileError
        If a picture is there already, or the folder cannot be written.
    """
    document = pypdfium2.PdfDocument(pdf)
    try:
        paths = [folder / f"{stem}-{number:02d}.png" for number in range(1, len(document) + 1)]
        there = next((path for path in paths if path.exists()), None)
        if there is not None and not overwrite:
            message = f'picture: "{there}" is already there; say --overwrite, or choose another folder'
            raise FileError(message)
        _write(document, paths, folder)
    finally:
        document.close()
    return paths


def older_pictures(folder: Path, stem: str, drawn: Sequence[Path]) -> list[Path]:
    """Return pictures of the same name that an earlier, longer run left in a folder.

    Parameters
    ----------
    folder : Path
        The folder.
    stem : str
        Start of the file names.
    drawn : sequence of Path
        Pictures of this run.

    Returns
    -------
    list of Path
        Those that are not of this run, by number; they are left where they are.
    """
    return sorted(set(folder.glob(f"{escape(stem)}-[0-9][0-9]*.png")) - set(drawn))


def _write(document: Any, paths: Sequence[Path], folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for page, path in zip(document, paths, strict=True):
            page.render(scale=DOTS_PER_INCH / 72, grayscale=True).to_pil().save(path)
    except OSError as error:
        message = f'picture: "{folder}" cannot be written ({error.strerror}); choose another folder'
        raise FileError(message) from error
