"""The pages: links lead somewhere, named files exist, nothing is stale."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

import ringrow

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DOCS.glob("*.md"))]


def _anchor(heading: str) -> str:
    plain = re.sub(r"[^\w\- ]", "", heading.strip().lower())
    return plain.replace(" ", "-")


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    broken = []
    for target in re.findall(r"\]\(([^)\s]+)\)", page.read_text(encoding="utf-8")):
        if target.startswith(("https://", "mailto:")):
            continue
        name, _, anchor = target.partition("#")
        path = (page.parent / name) if name else page
        if not path.exists():
            broken.append(target)
        elif anchor and path.suffix == ".md":
            headings = re.findall(r"^#+ (.*)$", path.read_text(encoding="utf-8"), re.M)
            if anchor not in {_anchor(heading) for heading in headings}:
                broken.append(target)
    assert broken == []


def test_readme_leads_to_every_page() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert [page.name for page in DOCS.glob("*.md") if f"docs/{page.name}" not in text] == []
    assert "DEVELOPERS.md" in text


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_files_named_on_a_page_exist(page: Path) -> None:
    named = re.findall(r"`((?:src|tests|docs|sample_fields)/[\w./-]+)`", page.read_text(encoding="utf-8"))
    assert [name for name in named if not (ROOT / name).exists()] == []


def test_every_row_of_the_validation_page_names_a_test_and_a_difference() -> None:
    text = (DOCS / "validation.md").read_text(encoding="utf-8")
    rows = [line for line in text.split("\n") if line.startswith("| ") and "`tests/" in line]
    assert len(rows) >= 10
    for row in rows:
        cells = [cell.strip() for cell in row.strip("|").split(" | ")]
        assert len(cells) == 4, row
        assert all(cells), row


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_toml_shown_is_toml(page: Path) -> None:
    for block in re.findall(r"^```toml\n(.*?)^```", page.read_text(encoding="utf-8"), re.M | re.S):
        tomllib.loads(block)


def test_changelog_starts_with_the_version_that_is_installed() -> None:
    text = (DOCS / "changelog.md").read_text(encoding="utf-8")
    first = re.search(r"^## (\S+)", text, re.M)
    assert first is not None
    assert first[1] == ringrow.__version__
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["version"] == ringrow.__version__


def test_shell_script_of_the_check_path_is_executable() -> None:
    assert (ROOT / ".ci" / "run").stat().st_mode & 0o111
