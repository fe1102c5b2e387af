"""The map in Spanish: longer words stay in their buttons, nothing runs off, the page says its language.

Outside reference: WCAG 2.2 levels A and AA by axe-core.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from axe_playwright_python.sync_playwright import Axe

from phones import DESKTOP, PHONE, settle
from ringrow.handoff.languages import speaking
from ringrow.handoff.map.page import map_page

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]

# What lies in a button must not be wider than the button, and no part of the page wider than the screen.
_TOO_WIDE = """() => [
  ...[...document.querySelectorAll("button, a.go, select, summary")]
    .filter((one) => one.offsetParent && one.scrollWidth > one.clientWidth + 1)
    .map((one) => one.textContent.trim() || one.getAttribute("aria-label")),
  ...(document.documentElement.scrollWidth > innerWidth ? ["the page"] : []),
]"""


@pytest.fixture(scope="module")
def spanish_map(map_file, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("mapa") / "rancho.html"
    with speaking("es"):
        page = map_page(map_file.farm, map_file.layouts, map_file.flags)
    path.write_text(page, encoding="utf-8", newline="\n")
    return path


@pytest.mark.parametrize("size", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_spanish_fits_and_is_read_aloud_as_spanish(
    visit: Callable, spanish_map: Path, size: tuple[int, int]
) -> None:
    seen = visit(size, path=spanish_map)
    assert seen.page.evaluate("document.documentElement.lang") == "es"
    assert seen.page.evaluate(_TOO_WIDE) == []
    if size == PHONE:
        found = Axe().run(seen.page, options={"runOnly": {"type": "tag", "values": WCAG}})
        assert found.response["violations"] == []
    for button in seen.page.locator("#bar button:visible").all():
        button.click()
        settle(seen.page)
        assert seen.page.evaluate(_TOO_WIDE) == [], button.inner_text()
    assert [text for text in seen.complaints if "position" not in text.casefold()] == []
