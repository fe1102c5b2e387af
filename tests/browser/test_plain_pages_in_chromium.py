"""The ready board and the year's page in a real browser: nothing asked for, nothing cut off, readable by all.

Outside reference: WCAG 2.2 levels A and AA by axe-core.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from axe_playwright_python.sync_playwright import Axe

from phones import DESKTOP, PHONE
from ringrow.farm.ready import ready_board
from ringrow.farm.year import year_report
from ringrow.handoff.ready_page import ready_page
from ringrow.handoff.year_table import year_page

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser

    from conftest import MapFile

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


@pytest.fixture(scope="module")
def pages(map_file: MapFile, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Both pages of the sample farm on disk."""
    folder, farm = tmp_path_factory.mktemp("pages"), map_file.farm
    now = datetime(2027, 3, 15, 21, 0, tzinfo=UTC)
    board = ready_board(farm, map_file.layouts, map_file.flags, [], now=now)
    report = year_report(farm, map_file.layouts, [], year=2027)
    texts = {
        "ready": ready_page(board, farm.units),
        "year": year_page(report, farm.units, geometry="year-2027.geojson", digest="0" * 64, open_flags=3),
    }
    for name, text in texts.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    return {name: folder / f"{name}.html" for name in texts}


@pytest.mark.parametrize("name", ["ready", "year"])
def test_it_fits_asks_for_nothing_and_can_be_read_by_all(
    browser: Browser, pages: dict[str, Path], name: str
) -> None:
    # Axe is a script of the test's, which the page's own policy would refuse.
    context = browser.new_context(offline=True, bypass_csp=True)
    page = context.new_page()
    asked: list[str] = []
    complaints: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: complaints.append(message.text))
    page.goto(pages[name].as_uri())
    for width, height in (DESKTOP, PHONE):
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth") == width
        found = Axe().run(page, options={"runOnly": {"type": "tag", "values": RULES}})
        assert found.response["violations"] == [], found.generate_report()
    assert (asked, complaints) == ([pages[name].as_uri()], [])
    context.close()
