"""Every command shown in README and docs is run, and what is shown under it is what it prints.

A ``console`` block holds lines that start with ``$ ringrow``, each followed by its output. A line
of three dots stands for lines left out, three dots at a line's end for the rest of it. A ``toml``
block with a path behind the word is a file to save, and is saved. ``sh``
blocks hold the two set-up commands, which the check script runs word for word in a fresh copy with
a fresh environment. Python examples of a page are run in the folder that ``ringrow demo`` leaves.
"""

from __future__ import annotations

import contextlib
import doctest
import shlex
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from doc_blocks import Saved, shell_blocks, shown_commands, shown_steps
from ringrow.cli.main import cli

ROOT = Path(__file__).resolve().parents[2]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]


def _same(shown: str, printed: str) -> bool:
    return printed == shown or (shown.endswith(" ...") and printed.startswith(shown.removesuffix(" ...")))


def missing_line(shown: tuple[str, ...], printed: str) -> str | None:
    """First line shown that is not printed where it should be; None when all are."""
    lines = [line.rstrip() for line in printed.split("\n")]
    at, skipping = 0, False
    for line in shown:
        if line == "...":
            skipping = True
            continue
        if skipping:
            while at < len(lines) and not _same(line, lines[at]):
                at += 1
        if at >= len(lines) or not _same(line, lines[at]):
            return line
        at, skipping = at + 1, False
    return None


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Result]:
    """What ``ringrow demo`` leaves and says: most pages begin with it, so it is run once for all."""
    folder = tmp_path_factory.mktemp("demo")
    with contextlib.chdir(folder):
        return folder, CliRunner().invoke(cli, ["demo"])


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_shown_commands_run_and_print_what_is_shown(
    page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, demo: tuple[Path, Result]
) -> None:
    monkeypatch.chdir(tmp_path)
    for shown in shown_steps(page.read_text(encoding="utf-8")):
        if isinstance(shown, Saved):
            (tmp_path / shown.path).write_text(shown.text, encoding="utf-8")
            continue
        program, *arguments = shlex.split(shown.command)
        assert program == "ringrow", f"{page.name}: only ringrow commands belong in a console block"
        if arguments == ["demo"]:
            result = demo[1]
            shutil.copytree(demo[0], tmp_path, dirs_exist_ok=True)
        else:
            result = CliRunner().invoke(cli, arguments)
        assert result.exit_code == 0, f"{shown.command}\n{result.output}"
        wrong = missing_line(shown.output, result.stdout)
        assert wrong is None, f"{page.name}: {shown.command}: not printed: {wrong}\n{result.stdout}"


@pytest.mark.parametrize(
    "page", [page for page in PAGES if ">>> " in page.read_text(encoding="utf-8")], ids=lambda page: page.name
)
def test_shown_python_runs_and_says_what_is_shown(
    page: Path, monkeypatch: pytest.MonkeyPatch, demo: tuple[Path, Result]
) -> None:
    monkeypatch.chdir(demo[0])
    told: list[str] = []
    runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS)
    text = page.read_text(encoding="utf-8")
    runner.run(doctest.DocTestParser().get_doctest(text, {}, page.name, str(page), 0), out=told.append)
    assert runner.tries > 0
    assert not runner.failures, "".join(told)


def test_readme_starts_with_the_job_and_then_its_two_commands() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    head = text.split("```sh\n")[0]
    assert head.count("\n#") <= 1, "the two commands come first, after one paragraph"
    first, second = shell_blocks(text)
    assert first.endswith("ringrow demo")
    assert second.endswith("python -m pytest")
    assert "\n" not in first + second


def test_check_script_runs_the_two_commands_word_for_word() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8").split("\n")
    for command in shell_blocks((ROOT / "README.md").read_text(encoding="utf-8")):
        assert command in script


def test_a_wrong_line_a_missing_line_and_a_wrong_beginning_are_found() -> None:
    assert missing_line(("one", "...", "thr ..."), "one\ntwo\nthree") is None
    assert missing_line(("one", "three"), "one\ntwo\nthree") == "three"
    assert missing_line(("...", "four"), "one\ntwo\nthree") == "four"
    assert missing_line(("two ...",), "one two") == "two ..."


def test_readme_shows_commands() -> None:
    assert len(shown_commands((ROOT / "README.md").read_text(encoding="utf-8"))) >= 4
