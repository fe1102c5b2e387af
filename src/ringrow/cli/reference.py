"""The reference page, made from the help of every command.

Run ``python -m ringrow.cli.reference > docs/reference.md`` after changing a command's help.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from ringrow.cli.main import cli

if TYPE_CHECKING:
    from collections.abc import Iterator

_TOP = """# Reference

Made from `ringrow --help` and the help of every command by `python -m ringrow.cli.reference`;
a test fails when the two differ.
"""


def walk_commands(
    command: click.Command = cli, parent: click.Context | None = None
) -> Iterator[tuple[str, click.Context]]:
    """Give each command's full name and a context in which its help can be asked for."""
    context = click.Context(
        command,
        parent=parent,
        info_name=command.name if parent else "ringrow",
        **{**command.context_settings, "terminal_width": 100},
    )
    yield context.command_path, context
    if isinstance(command, click.Group):
        for name in command.list_commands(context):
            child = command.get_command(context, name)
            if child is not None:
                yield from walk_commands(child, context)


def reference_page() -> str:
    """Return the text of docs/reference.md."""
    parts = [
        f"## {path}\n\n```text\n{context.command.get_help(context)}\n```\n"
        for path, context in walk_commands()
    ]
    return "\n".join([_TOP, *parts])


if __name__ == "__main__":
    click.echo(reference_page(), nl=False)
