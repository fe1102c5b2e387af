"""Photos kept in a farm's folder, and how events name them.

An event of the field ``photo`` names one photo. Such events add up, as `adding_up` says.
"""

from __future__ import annotations

import os
import re
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ringrow.errors import FileError
from ringrow.farm.adding_up import PHOTO, kept_file, standing
from ringrow.farm.events import MAX_NAME, Event, when_text
from ringrow.farm.flags import checked_text
from ringrow.farm.folding import heads

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from ringrow.farm.flags import Stamp
    from ringrow.farm.readers.photos import Photo
    from ringrow.farm.season import Season

FOLDER = "photos"
"""Folder of photos in a farm's folder."""


def photo_value(photo: Photo, flag: str, *, first: bool) -> dict[str, Any]:
    """Return the value of the event that gives a flag a photo.

    Parameters
    ----------
    photo : Photo
        The photo.
    flag : str
        UUID of the flag.
    first : bool
        Whether it is the flag's first photo.

    Returns
    -------
    dict
        Plain JSON: where the copy is kept, the original's name and fingerprint, and where and
        when it was taken, if known.
    """
    mark = "" if first else f"-{photo.sha256[:12]}"
    value: dict[str, Any] = {
        "file": f"{FOLDER}/{flag}{mark}.jpg",
        "name": photo.name,
        "sha256": photo.sha256,
    }
    if photo.time is not None:
        value["taken"] = when_text(photo.time)
    if photo.fix.lat is not None:
        value |= {"lat": photo.fix.lat, "lon": photo.fix.lon}
    if photo.fix.accuracy is not None:
        value |= {"accuracy_m": photo.fix.accuracy.radius_m, "accuracy_kind": photo.fix.accuracy.kind}
    return value


def photos_by_print(events: Iterable[Event]) -> dict[str, list[Event]]:
    """Return the photo events of a log by their originals' fingerprints.

    Parameters
    ----------
    events : iterable of Event
        Events of any field.

    Returns
    -------
    dict of str to list of Event
        Only events that name a file a farm can hold.
    """
    found: dict[str, list[Event]] = {}
    for event in events:
        if event.field == PHOTO and kept_file(event.value):
            found.setdefault(str(event.value.get("sha256")), []).append(event)
    return found


@contextmanager
def writing_photos(season: Season) -> Iterator[dict[str, bytes]]:
    """Hold the write lock for a block in which `give_photo` is called, among other changes.

    Parameters
    ----------
    season : Season
        Open log.

    Yields
    ------
    dict of str to bytes
        Copies to be kept, for `give_photo`. They and all events of the block are on disk when it
        ends, or nothing changed.

    Raises
    ------
    FileError
        If a copy cannot be kept.
    SeasonError
        If the log cannot be written.
    """
    wanted: dict[str, bytes] = {}
    saved: list[Path] = []
    try:
        with season.writing():
            yield wanted
            saved = save_photos(season.path.parent, wanted) if wanted else []
    except BaseException:
        # What the log does not name must not stay behind.
        remove_photos(saved)
        raise


def give_photo(
    season: Season, flags: Sequence[str], photo: Photo, *, wanted: dict[str, bytes], stamp: Stamp
) -> list[str]:
    """Give flags a photo inside a `writing_photos` block.

    Parameters
    ----------
    season : Season
        Open log.
    flags : sequence of str
        UUIDs of the flags.
    photo : Photo
        The photo.
    wanted : dict of str to bytes
        What the block yielded; the copies come in here.
    stamp : Stamp
        Who says so and when.

    Returns
    -------
    list of str
        Flags that have it now and had not.

    Raises
    ------
    SeasonError
        If the log cannot be written.
    """
    given: list[str] = []
    for flag in dict.fromkeys(flags):
        known = [event for event in season.events(flag=flag) if event.field == PHOTO]
        if photo.sha256 in photos_by_print(standing(known)):
            continue
        value = photo_value(photo, flag, first=not known)
        season.append([_photo_event(flag, value, known, stamp)])
        wanted[kept_file(value)] = photo.jpeg
        given.append(flag)
    return given


def _photo_event(flag: str, value: dict[str, Any], known: Sequence[Event], stamp: Stamp) -> Event:
    return Event(
        id=stamp.new_id(),
        flag=flag,
        field=PHOTO,
        value=value,
        when=stamp.when,
        who=checked_text(stamp.who, what="who", longest=MAX_NAME),
        source=stamp.source,
        parents=tuple(sorted(event.id for event in heads(known))),
    )


def photo_lines(events: Iterable[Event], *, folder: Path | None = None) -> list[str]:
    """Return one line for each photo of a flag that nobody took back, oldest first.

    Parameters
    ----------
    events : iterable of Event
        The flag's events.
    folder : Path or None, default None
        The farm's folder, to say which copies are not there; None to leave that out.

    Returns
    -------
    list of str
        The kept file, the original's name, when it was taken.
    """
    lines = []
    for event in standing(event for event in events if event.field == PHOTO):
        file = kept_file(event.value)
        if not file:
            continue
        name = "".join(letter if letter.isprintable() else "?" for letter in str(event.value.get("name", "")))
        taken = str(event.value.get("taken", ""))[:16].replace("T", " ")
        parts = [f"from {name[:100]}", *([f"taken {taken} UTC"] if re.match(r"\d{4}-\d\d", taken) else [])]
        gone = folder is not None and not (folder / file).is_file()
        parts += ["NOT in this farm's folder"] if gone else []
        lines.append(f"{file} ({'; '.join(parts)})")
    return lines


def save_photos(folder: Path, wanted: Mapping[str, bytes]) -> list[Path]:
    """Write photos into a farm's folder: all of them or, on an error, none.

    Parameters
    ----------
    folder : Path
        The farm's folder.
    wanted : mapping of str to bytes
        Copy by file name, as `kept_file` gives it.

    Returns
    -------
    list of Path
        Files that are new, to be taken away again with `remove_photos` if what names them fails.

    Raises
    ------
    FileError
        If the folder is a link or cannot be written.
    """
    written: list[Path] = []
    home = folder / FOLDER
    if home.is_symlink() or (home.exists() and not home.is_dir()):
        message = f"{home}: found a link or a file; allowed: a folder of its own for photos; move it aside"
        raise FileError(message)
    try:
        for file, jpeg in wanted.items():
            target = folder / file
            home.mkdir(exist_ok=True)
            new = not target.exists()
            _write(target, jpeg)
            written += [target] if new else []
    except OSError as error:
        remove_photos(written)
        message = f"{home}: photos cannot be kept there ({error.strerror or error}); nothing was brought in"
        raise FileError(message) from error
    return written


def remove_photos(files: Iterable[Path]) -> None:
    """Take away photos that nothing names.

    Parameters
    ----------
    files : iterable of Path
        What `save_photos` wrote.
    """
    for file in files:
        file.unlink(missing_ok=True)


def _write(target: Path, jpeg: bytes) -> None:
    handle, name = tempfile.mkstemp(prefix=".", suffix=".part", dir=target.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(jpeg)
            stream.flush()
            os.fsync(stream.fileno())
        part.chmod(0o644)
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)
