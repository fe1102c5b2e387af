"""What README and docs show: commands with their output, and files to save."""

from __future__ import annotations

import re
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A command as shown on a page, with the output shown under it."""

    command: str
    output: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved:
    """A file that a page tells the reader to save: a ``toml`` block with its path behind the word."""

    path: str
    text: str


def shown_steps(text: str) -> list[Shown | Saved]:
    """Commands of all console blocks and files to save of a page, in order."""
    found: list[Shown | Saved] = []
    for kind, path, block in re.findall(r"^```(console|toml)(?: (\S+))?\n(.*?)^```", text, re.M | re.S):
        if kind == "toml":
            found += [Saved(path=path, text=block)] if path else []
            continue
        for part in re.split(r"^\$ ", block, flags=re.M)[1:]:
            command, *output = part.rstrip().split("\n")
            found.append(Shown(command=command, output=tuple(line.rstrip() for line in output)))
    return found


def shown_commands(text: str) -> list[Shown]:
    """Commands of all console blocks of a page, in order."""
    return [step for step in shown_steps(text) if isinstance(step, Shown)]


def shell_blocks(text: str) -> list[str]:
    """Text of all sh blocks of a page, in order."""
    return [block.strip() for block in re.findall(r"^```sh\n(.*?)^```", text, re.M | re.S)]
