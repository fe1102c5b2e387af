"""The report in a browser, opened from disk with the network refused.

Outside reference: WCAG 2.2 levels A and AA by axe-core.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from axe_playwright_python.sync_playwright import Axe

from made_season import gathered, write_season
from phones import DESKTOP, PHONE
from ringrow.handoff.report.page import report_page

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser

WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("report")
    path = folder / "season.html"
    path.write_text(report_page(gathered(write_season(folder / "farm"))), encoding="utf-8")
    return path


def test_the_report_fits_asks_for_nothing_and_can_be_read(browser: Browser, page_file: Path) -> None:
    context = browser.new_context(viewport={"width": PHONE[0], "height": PHONE[1]}, offline=True)
    page = context.new_page()
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.goto(page_file.as_uri())
    for width, height in (DESKTOP, PHONE):
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        # The smallest letters of a chart, as drawn: above 8 px (our choice).
        heights = page.evaluate(
            """[...document.querySelectorAll('svg text')].map((text) => {
                const { ownerSVGElement: whole } = text, size = parseFloat(getComputedStyle(text).fontSize);
                return size * whole.getBoundingClientRect().width / whole.viewBox.baseVal.width;
            })"""
        )
        assert len(heights) > 50
        assert min(heights) > 8
        found = Axe().run(page, options={"runOnly": {"type": "tag", "values": WCAG}})
        assert [one["id"] for one in found.response["violations"]] == []
    assert (asked, said) == ([page_file.as_uri()], [])
    context.close()
