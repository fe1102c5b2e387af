"""XML from anywhere, given piece by piece to a parser target that keeps only what it wants.

Document types and entities are refused before they are followed, so that no file can make the
parser fetch another, or grow in memory.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol, TypeVar
from xml.etree.ElementTree import ParseError

from ringrow.errors import FileError, RingrowError, shortened

if TYPE_CHECKING:
    from pathlib import Path


class _Target(Protocol):
    """What takes note of elements as they open and close."""

    def start(self, tag: str, attributes: dict[str, str], /) -> None:
        """Take note of an element that opens."""

    def end(self, tag: str, /) -> None:
        """Take note of an element that closes."""

    def close(self) -> object:
        """Give back what was kept."""


TargetT = TypeVar("TargetT", bound=_Target)


def parse_into(target: TargetT, path: Path, data: bytes, *, kind: str) -> TargetT:
    """Return a parser target that has seen a whole XML file.

    Parameters
    ----------
    target : object with the methods start, end and close
        What is told of each element; its own errors are let through.
    path : Path
        The file, for its name.
    data : bytes
        What it holds.
    kind : str
        What is allowed, such as ``GPX``.

    Returns
    -------
    object
        The same target.

    Raises
    ------
    FileError
        If the file has a document type or entities, or is not well formed.
    """
    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import DefusedXMLParser

    parser = DefusedXMLParser(target=target, forbid_dtd=True)
    try:
        parser.feed(data)
        parser.close()
    except DefusedXmlException as error:
        message = f"{path}: found a document type or entities; allowed: plain {kind} without them"
        raise FileError(message) from error
    except (ParseError, LookupError, ValueError) as error:
        if isinstance(error, RingrowError):
            raise
        message = f"{path}: found no well-formed XML ({shortened(error)}); is the file cut off?"
        raise FileError(message) from error
    return target
