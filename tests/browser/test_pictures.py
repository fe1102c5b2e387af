"""The pictures in README and docs: they exist, are small, and are still what the program draws."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image

from pictures import FOLDER, PICTURES, ROOT, take, write_pages

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser

    from pictures import Picture

MOST_BYTES = 150_000
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]


def named() -> set[Path]:
    """Pictures that README and docs show."""
    found = set()
    for page in PAGES:
        for link in re.findall(r"!\[[^\]]+\]\(([^)]+)\)", page.read_text(encoding="utf-8")):
            found.add((page.parent / link).resolve())
    return found


def test_readme_shows_pictures_that_exist() -> None:
    assert len(re.findall(r"!\[[^\]]{20,}\]\(docs/pictures/", PAGES[0].read_text(encoding="utf-8"))) == 2
    for path in named():
        assert path.is_file(), path


def test_every_picture_is_shown_and_made_by_the_program() -> None:
    files = {path.resolve() for path in FOLDER.glob("*.png")}
    assert files == {(FOLDER / f"{picture.name}.png").resolve() for picture in PICTURES}
    assert files <= named()


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    return write_pages(tmp_path_factory.mktemp("pictures"))


@pytest.mark.parametrize("picture", PICTURES, ids=lambda picture: picture.name)
def test_picture_is_what_the_program_draws(
    browser: Browser, pages: dict[str, Path], picture: Picture
) -> None:
    """Nineteen of twenty pixels agree, whatever fonts this machine has."""
    made = take(browser, picture, pages[picture.of])
    assert len(made) < MOST_BYTES
    kept = (FOLDER / f"{picture.name}.png").read_bytes()
    assert len(kept) < MOST_BYTES
    now, then = (np.asarray(Image.open(io.BytesIO(data)).convert("L"), dtype=int) for data in (made, kept))
    assert now.shape == then.shape
    assert np.mean(np.abs(now - then) > 48) < 0.05, "say python tests/pictures.py and look at what changed"
