"""Messages of the source and of the catalogs, for the tests and for whoever translates.

``python tests/catalogs.py [LANGUAGE]`` prints what a catalog still has to say, as entries to fill in.
"""

from __future__ import annotations

import ast
import string
import sys
from functools import cache
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from babel.messages.pofile import normalize, read_po

from ringrow.equipment.kinds import CLASSES, FLAG_KINDS, STATUSES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from babel.messages.catalog import Message

SOURCE = Path(__file__).resolve().parents[1] / "src" / "ringrow"
# Functions that take messages, and how many they take.
_KEYWORDS = {"_": 1, "N_": 1, "counted": 2}


class Text(NamedTuple):
    """A message in English; `many` is empty for one without a plural."""

    one: str
    many: str = ""


def source_messages() -> dict[Text, list[str]]:
    """Return every message of the source with the places that say it.

    Words of layers that may not know of languages are taken from their tables.
    """
    found: dict[Text, list[str]] = {}
    for place, texts in _calls():
        literals = [text.value for text in texts if isinstance(text, ast.Constant)]
        if literals:
            found.setdefault(Text(*literals), []).append(place)
    for word in table_words():
        found.setdefault(Text(word), []).append("equipment/kinds.py")
    return found


def table_words() -> list[str]:
    """Return what the equipment layer's tables say to the crew: kinds, classes, statuses."""
    words = [word for kind in FLAG_KINDS.values() for word in (kind.name, kind.words)]
    return [*dict.fromkeys([*words, *CLASSES, *STATUSES])]


def glued_messages() -> Iterator[str]:
    """Yield places that hand a text put together at run time to a function that needs a literal."""
    for place, texts in _calls():
        if any(isinstance(text, ast.JoinedStr | ast.BinOp) for text in texts):
            yield place


@cache
def _calls() -> tuple[tuple[str, list[ast.expr]], ...]:
    """Return every place that takes a message, and what it takes.

    From the syntax tree, since Babel's own reader passes over calls inside f-strings before Python 3.12.
    """
    return tuple(
        (f"{path.relative_to(SOURCE)}:{node.lineno}", node.args[: _KEYWORDS[node.func.id]])
        for path in sorted(SOURCE.rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _KEYWORDS
    )


def catalog_messages(language: str) -> dict[Text, list[tuple[str, Message]]]:
    """Return every message of a language's catalogs, with the catalogs that hold it."""
    found: dict[Text, list[tuple[str, Message]]] = {}
    folder = resources.files("ringrow.handoff") / "locale" / language
    for file in sorted(folder.iterdir(), key=lambda entry: entry.name):
        with file.open("rb") as stream:
            for message in read_po(stream, locale=language):
                if message.id:
                    texts = (message.id,) if isinstance(message.id, str) else message.id
                    found.setdefault(Text(*texts), []).append((file.name, message))
    return found


def placeholders(text: str) -> list[str]:
    """Return the names of a message's placeholders, sorted; a broken brace raises ValueError."""
    return sorted({name for _, name, _, _ in string.Formatter().parse(text) if name is not None})


def missing_entries(language: str) -> Iterator[str]:
    """Yield the entries that a language lacks, ready to be filled in."""
    have = catalog_messages(language)
    for text, places in source_messages().items():
        if text not in have:
            head = f"#: {' '.join(places[:3])}\nmsgid {normalize(text.one)}"
            if text.many:
                yield f'{head}\nmsgid_plural {normalize(text.many)}\nmsgstr[0] ""\nmsgstr[1] ""\n'
            else:
                yield f'{head}\nmsgstr ""\n'


if __name__ == "__main__":
    sys.stdout.writelines(f"{entry}\n" for entry in missing_entries(sys.argv[1] if sys.argv[1:] else "es"))
