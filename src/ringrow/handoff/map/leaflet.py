"""The map library's own script and style, read from its package and checked before use."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from importlib import metadata, resources

from ringrow.errors import FileError

PACKAGE = "django-js-lib-leaflet"
"""Registry package that carries Leaflet's files unchanged."""

SCRIPT_SHA256 = "db49d009c841f5ca34a888c96511ae936fd9f5533e90d8b2c4d57596f4e5641a"
"""Checksum of leaflet.js 1.9.4 as its makers publish it."""

STYLE_SHA256 = "a7837102824184820dfa198d1ebcd109ff6d0ff9a2672a074b9a1b4d147d04c6"
"""Checksum of leaflet.css 1.9.4 as its makers publish it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeafletFiles:
    """What goes into the page: script, style and licence text.

    Parameters
    ----------
    script, style, licence : str
        Their text.
    """

    script: str
    style: str
    licence: str


def leaflet_files() -> LeafletFiles:
    """Return Leaflet's script, style and licence, checked against known checksums.

    Returns
    -------
    LeafletFiles
        The texts; the script without its pointer to a source map, which would be a request.

    Raises
    ------
    FileError
        If the package is missing or holds other files than the ones this program was made with.

    Examples
    --------
    >>> "leaflet-container" in leaflet_files().style
    True
    """
    try:
        folder = resources.files("js_lib_leaflet") / "static" / "js_lib_leaflet"
        script = (folder / "leaflet.js").read_bytes()
        style = (folder / "leaflet.css").read_bytes()
        licence = metadata.distribution(PACKAGE).read_text("LICENSE") or ""
    except (ModuleNotFoundError, metadata.PackageNotFoundError, OSError) as error:
        message = f'map: the package "{PACKAGE}" cannot be read ({error}); install ringrow again'
        raise FileError(message) from error
    _check("leaflet.js", script, SCRIPT_SHA256)
    _check("leaflet.css", style, STYLE_SHA256)
    return LeafletFiles(
        script=_without_source_map(script.decode("utf-8")),
        style=style.decode("utf-8").replace("\r\n", "\n").strip(),
        licence=licence.replace("\r\n", "\n").strip(),
    )


def _check(name: str, content: bytes, expected: str) -> None:
    found = hashlib.sha256(content).hexdigest()
    if found != expected:
        message = (
            f'map: {name} in the package "{PACKAGE}" has the checksum {found[:16]}...; '
            f"allowed: {expected[:16]}...; install {PACKAGE}==1.9.4.1 again"
        )
        raise FileError(message)


def _without_source_map(script: str) -> str:
    lines = script.replace("\r\n", "\n").splitlines()
    return "\n".join(line for line in lines if not line.startswith("//# sourceMappingURL")).strip()
