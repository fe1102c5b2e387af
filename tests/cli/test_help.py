"""Every command's help is clear to somebody who never saw it, and the reference page repeats it."""

from __future__ import annotations

from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from ringrow.cli.main import cli
from ringrow.cli.reference import reference_page, walk_commands

ROOT = Path(__file__).resolve().parents[2]
COMMANDS = dict(walk_commands())
PLAIN = {path: context for path, context in COMMANDS.items() if not isinstance(context.command, click.Group)}


def test_the_commands_of_the_main_job_are_there() -> None:
    wanted = {"new", "check", "acres", "where", "flag", "map", "export", "demo"}
    assert wanted <= set(cli.commands)


@pytest.mark.parametrize("path", COMMANDS)
def test_help_is_printed_by_the_program(path: str) -> None:
    result = CliRunner().invoke(cli, [*path.split()[1:], "--help"])
    assert result.exit_code == 0
    assert result.output.startswith(f"Usage: {COMMANDS[path].command_path.replace('ringrow', 'cli', 1)}")


@pytest.mark.parametrize("path", COMMANDS)
def test_help_ends_with_an_example_that_starts_like_the_command(path: str) -> None:
    text = COMMANDS[path].command.help or ""
    assert "\\b" not in text, "a raw docstring prints its marks"
    head, _, example = text.replace("\b", "").rpartition("Example")
    assert head.strip(), "nothing said before the example"
    lines = [line.strip() for line in example.splitlines()[1:] if line.strip()]
    assert lines
    assert lines[0].startswith(path)


@pytest.mark.parametrize("path", PLAIN)
def test_every_option_says_what_it_does(path: str) -> None:
    silent = [
        parameter.name
        for parameter in PLAIN[path].command.params
        if isinstance(parameter, click.Option) and not (parameter.help or "").strip()
    ]
    assert silent == []


def test_same_short_letter_means_the_same_everywhere() -> None:
    meaning: dict[str, set[str]] = {}
    for context in PLAIN.values():
        for parameter in context.command.params:
            for word in parameter.opts:
                if len(word) == 2 and word.startswith("-"):
                    meaning.setdefault(word, set()).add(str(parameter.name))
    assert {letter: names for letter, names in meaning.items() if len(names) > 1} == {}


def test_reference_page_is_not_stale() -> None:
    page = (ROOT / "docs" / "reference.md").read_text(encoding="utf-8")
    assert page == reference_page(), "run: python -m ringrow.cli.reference > docs/reference.md"


def test_unknown_command_is_a_wrong_usage() -> None:
    result = CliRunner().invoke(cli, ["acers"])
    assert result.exit_code == 2
    assert "acers" in result.output


@pytest.mark.parametrize("path", [path for path in COMMANDS if path not in PLAIN])
def test_the_list_of_commands_says_each_in_a_whole_sentence(path: str) -> None:
    context = COMMANDS[path]
    text = context.command.get_help(context)
    group = context.command
    assert isinstance(group, click.Group)
    for name in group.commands:
        lines = [line for line in text.splitlines() if line.split()[:1] == [name] and line.startswith("  ")]
        said = [line for line in lines if not line.lstrip().startswith("ringrow")]
        assert len(said) == 1, name
        assert said[0].endswith("."), said[0]
        assert not said[0].endswith("..."), said[0]
        assert len(said[0]) <= 80, said[0]
