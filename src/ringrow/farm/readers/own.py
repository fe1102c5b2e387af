"""What the program's own exports carry, so that flags come back from them as the flags they are."""

from __future__ import annotations

import re

GPX_NAMESPACE = "urn:uuid:f12b9ceb-9bf9-509f-9941-a2a1bd37c771"
"""XML namespace of our own elements among a waypoint's extensions."""

# A spreadsheet takes a cell for a formula when it begins with one of these (the wide ones too, where
# text is East Asian). It may cut a line at a semicolon, tab, bar or line end that stands inside a
# cell, so what follows those counts as a beginning as well. A sign that is already marked is marked
# again, so that taking the marks off gives back the very text.
_SIGNS = r"=+\-@\uff1d\uff0b\uff0d\uff20"
_BEGINNING = r"(^|[;|\t\r\n])([\s\x00-\x1f\u200b-\u200f\ufeff]*)"
_FORMULA = re.compile(_BEGINNING + rf"(?=[{_SIGNS}'])")
_MARKED = re.compile(_BEGINNING + rf"'(?=[{_SIGNS}'])")

_NOT_XML = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffc\U00010000-\U0010ffff]")


def as_carried(text: str) -> str:
    r"""Return a text as any kind of file brings it back.

    Files change the signs that end a line, cut blanks at the ends, and XML takes no control
    characters; two texts that differ in nothing else say the same.

    Parameters
    ----------
    text : str
        Text of a log or a file.

    Returns
    -------
    str
        The text without what a file may change.

    Examples
    --------
    >>> as_carried(" one\r\ntwo\x07 ")
    'one\ntwo'
    """
    return _NOT_XML.sub("", re.sub("\r\n?", "\n", text)).strip()


def safe_cell(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula.

    Parameters
    ----------
    text : str
        Text from anywhere.

    Returns
    -------
    str
        The same with an apostrophe before every sign that could begin a formula; `plain_cell`
        takes them off again.

    Examples
    --------
    >>> safe_cell("=1+1"), safe_cell("tower 5"), safe_cell("'tis")
    ("'=1+1", 'tower 5', "''tis")
    """
    return _FORMULA.sub(r"\1\2'", text)


def plain_cell(text: str) -> str:
    """Return the text that `safe_cell` made safe.

    Parameters
    ----------
    text : str
        A cell of an exported table.

    Returns
    -------
    str
        The text as it was.

    Examples
    --------
    >>> plain_cell("'=1+1"), plain_cell("''tis")
    ('=1+1', "'tis")
    """
    return _MARKED.sub(r"\1\2", text)


def is_no_flag(feature: object, id_: object) -> bool:
    """Return whether something that this program exported is no flag but a well, a gate, a boundary.

    Parameters
    ----------
    feature : object
        What its property ``feature`` holds.
    id_ : object
        What its ``id`` holds.

    Returns
    -------
    bool
        True for what stands beside the flags of an exported farm.

    Examples
    --------
    >>> is_no_flag("well", "well:Farm/Home%20well"), is_no_flag("flag", "6b1f"), is_no_flag("leak", "7")
    (True, False, False)
    """
    return isinstance(feature, str) and feature != "flag" and str(id_).startswith(f"{feature}:")
