"""Phones for browser tests: a small farm, and maps opened offline with everything recorded."""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

SAMPLE = Path(__file__).resolve().parents[1] / "sample_fields" / "two_windmill_farm"
PHONE, DESKTOP = (360, 740), (1366, 768)


def few_fields(folder: Path, *begins: str) -> Path:
    """Copy the sample farm with the fields whose files begin so, since its page then opens sooner."""
    farm = Path(shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("season.db*")))
    for file in (farm / "fields").iterdir():
        if not file.name.startswith(begins):
            file.unlink()
    left = "".join(file.read_text(encoding="utf-8") for file in (farm / "fields").iterdir())

    def still_served(found: re.Match[str]) -> str:
        names = [name for name in re.findall('"[^"]+"', found[0]) if f"name = {name}" in left]
        return f"serves = [{', '.join(names)}]"

    text = (farm / "farm.toml").read_text(encoding="utf-8")
    text = re.sub(r"serves = \[.*?\]", still_served, text, flags=re.DOTALL)
    (farm / "farm.toml").write_text(text, encoding="utf-8")
    return farm


@dataclass(kw_only=True)
class Opened:
    """One phone: its pages share a store; what it asked for and complained about."""

    context: BrowserContext
    url: str
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def page(self) -> Page:
        """Open the map."""
        page = self.context.new_page()
        page.set_default_timeout(8000)
        page.on("request", lambda request: self.requests.append(request.url))
        page.on("console", lambda message: self.complaints.append(message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.goto(self.url)
        page.wait_for_function("window.ringrow !== undefined")
        return page

    def close(self) -> None:
        """Close it; nothing was complained about, and nothing asked for from anywhere."""
        self.context.close()
        assert self.complaints == []
        # The page itself; a saved file is a blob of its own.
        assert {address for address in self.requests if not address.startswith("blob:")} == {self.url}


def new_phone(browser: Browser, url: str, size: tuple[int, int] = PHONE, **settings: Any) -> Opened:
    """Return a phone, or a desk for another size, that is to open a page."""
    small = size == PHONE
    view = {"width": size[0], "height": size[1]}
    context = browser.new_context(viewport=view, has_touch=small, is_mobile=small, **settings)
    return Opened(context=context, url=url)
