"""Options and printing that commands share: same letter, same meaning."""

from __future__ import annotations

import json
import math
import sys
import threading
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from contextlib import AbstractContextManager

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.model import Farm

PROGRESS_AFTER_S = 1.0
"""Work that takes longer than this [s] says on stderr what it is."""

CommandT = TypeVar("CommandT", bound="Callable[..., Any]")


def farm_argument(command: CommandT) -> CommandT:
    """Add the FARM argument: the farm's folder."""
    return click.argument("farm", type=click.Path(path_type=Path))(command)


def json_option(command: CommandT) -> CommandT:
    """Add ``--json``: print one JSON document in place of a table."""
    return click.option("--json", "as_json", is_flag=True, help="Print JSON instead of a table.")(command)


def overwrite_option(command: CommandT) -> CommandT:
    """Add ``--overwrite``: allow an existing file to be replaced."""
    return click.option("--overwrite", is_flag=True, help="Replace a file that is already there.")(command)


def field_option(command: CommandT) -> CommandT:
    """Add ``--field NAME``: only this field."""
    return click.option("--field", "field_name", metavar="NAME", help="Only the field of this name.")(command)


def units_option(command: CommandT) -> CommandT:
    """Add ``--units``, for commands that have no farm to ask."""
    return click.option(
        "--units", type=click.Choice(["us", "metric"]), default="us", show_default=True, help="Farm units."
    )(command)


def language_option(command: CommandT) -> CommandT:
    """Add ``--language``, on commands that print or write what the crew reads."""
    return click.option(
        "--language",
        type=click.Choice(["en", "es"]),
        help="Language of what the crew reads: English or Spanish; left out, the farm's.",
    )(command)


def crew_language(farm: Farm, language: str | None, *, as_json: bool = False) -> AbstractContextManager[None]:
    """Put a block into the language of the crew: what ``--language`` says, else the farm's.

    JSON is for other programs and stays English.
    """
    from ringrow.handoff.languages import speaking

    return speaking("en" if as_json else language or farm.language)


def plain(value: Any) -> Any:
    """Return `value` with every number that is not finite replaced by None, ready for JSON."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if hasattr(value, "item") and not isinstance(value, str | bytes):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def show_json(payload: dict[str, Any]) -> None:
    """Print one JSON document on stdout, with the schema number on top."""
    click.echo(json.dumps({"schema": 1, **plain(payload)}, ensure_ascii=False, indent=2, allow_nan=False))


def say(text: str) -> None:
    """Print talk (what was read, written, assumed) on stderr."""
    click.echo(for_terminal(text), err=True)


def how_many(number: int, word: str) -> str:
    """Return a number of things in words.

    Examples
    --------
    >>> how_many(1, "page"), how_many(1200, "flag")
    ('1 page', '1,200 flags')
    """
    return f"{number:,} {word}{'' if number == 1 else 's'}"


def for_terminal(text: str) -> str:
    r"""Return words that may quote a file or its name, without letters that steer a terminal.

    Examples
    --------
    >>> for_terminal("\x1b[31mwalk.csv: found nothing\nbelow it")
    '?[31mwalk.csv: found nothing\nbelow it'
    """
    return "".join(letter if letter.isprintable() or letter in "\n\t" else "?" for letter in text)


def on_terminal() -> bool:
    """Return whether stdout is a terminal; tables are plain lines with full text when not."""
    return sys.stdout.isatty()


@contextmanager
def progress(text: str) -> Iterator[None]:
    """Say on stderr what is being done, once it has taken longer than a second.

    A terminal shows a moving line that goes away when the work is done; anything else
    gets one plain line. Print nothing on the same terminal inside the block.
    """
    lock = threading.Lock()
    with ExitStack() as shown:
        running = True

        def show() -> None:
            with lock:
                if not running:
                    return
                if sys.stderr.isatty():
                    from rich.console import Console

                    shown.enter_context(Console(stderr=True).status(text))
                else:
                    say(f"{text} ...")

        timer = threading.Timer(PROGRESS_AFTER_S, show)
        timer.daemon = True
        timer.start()
        try:
            yield
        finally:
            timer.cancel()
            with lock:
                running = False


def width() -> int | None:
    """Return the columns of the terminal on stdout; None when it is none and nothing is to be wrapped."""
    from shutil import get_terminal_size

    return max(get_terminal_size().columns, 60) if on_terminal() else None


def read_farm(folder: Path) -> tuple[Farm, list[FieldLayout]]:
    """Return the farm in a folder and its fields laid out, saying so when it takes a while."""
    from ringrow.coverage.layout import lay_out
    from ringrow.farm.load import load_farm

    with progress("Reading the farm"):
        farm = load_farm(folder)
        return farm, [lay_out(field) for field in farm.fields]
