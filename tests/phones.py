"""Phones for browser tests: a small farm, and maps opened offline with everything recorded."""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

if TYPE_CHECKING:
    from collections.abc import Callable

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


SETTLED = """() => new Promise((done) => {
    const gliding = () => map_farm._animatingZoom || (map_farm._panAnim && map_farm._panAnim._inProgress)
        || document.getAnimations().some((one) => one.playState === 'running');
    const look = () => (gliding() ? setTimeout(look, 15) : done());
    setTimeout(look, 35);
})"""

AS_OPENED = """() => {
    const press = (key) => document.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true }));
    const change = (box) => box.dispatchEvent(new Event('change'));
    map_farm.stop();
    press('Escape');
    press('Escape');
    // A tap far from the farm closes the bubble and chooses no flag.
    map_farm.fire('click', { latlng: L.latLng(0, 0), containerPoint: L.point(0, 0) });
    for (const box of document.querySelectorAll('#layers input')) {
        if (box.checked !== box.defaultOn) { box.checked = box.defaultOn; change(box); }
    }
    const [fit, layers] = document.querySelectorAll('#tools > button:not(.zoom)');
    fit.click();
    if (!document.getElementById('layers').hidden) layers.click();
    const order = document.querySelector('select[name=order]');
    if (order) { order.value = 'class'; change(order); }
    document.querySelector('.controls .plain').click();
    document.activeElement.blur();
    window.scrollTo(0, 0);
    document.getElementById('sheet').scrollTop = 0;
    document.getElementById('said').textContent = '';
}"""
"""Put a page back that was only looked at: nothing chosen, open, filtered or moved."""

REMEMBER = """() => {
    for (const box of document.querySelectorAll('#layers input')) box.defaultOn = box.checked;
}"""

MEASURED = """(those) => [...document.querySelectorAll(those)].map((one) => {
    if (one.classList.contains('skip')) one.focus();
    const { width, height } = one.getBoundingClientRect();
    const seen = one.checkVisibility({ visibilityProperty: true });
    return [one.outerHTML.slice(0, 90), seen ? width : 0, height];
}).filter(([, width, height]) => width && height)"""


def assert_44_px(page: Page, those: str) -> int:
    """Measure, at once, all shown controls that a selector names; return how many there are."""
    settle(page)
    found = page.evaluate(MEASURED, those)
    assert [one for one in found if min(one[1:]) < 44] == []
    return len(found)


def settle(page: Page) -> None:
    """Wait until nothing glides or fades any more: what does has no settled place or colour."""
    page.evaluate(SETTLED)


EMPTIED = """() => new Promise((done) => {
    localStorage.clear();
    const request = indexedDB.deleteDatabase('ringrow');
    request.onsuccess = request.onerror = request.onblocked = done;
})"""
"""Forget what the page on show has stored."""


@dataclass(kw_only=True)
class Opened:
    """One phone: its pages share a store; what it asked for and complained about.

    Its first page is lent from test to test, emptied, since a new one costs a second.
    """

    context: BrowserContext
    url: str
    lent: Page | None = None
    shelf: list[Page] = field(default_factory=list)
    used_up: bool = False
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)
    hearing: list[tuple[Page, str, Callable[[Any], None]]] = field(default_factory=list)

    def page(self) -> Page:
        """Open the map."""
        page = self.lent or self.context.new_page()
        self.lent = None
        page.set_default_timeout(8000)
        self._hear(page, "request", lambda request: self.requests.append(request.url))
        self._hear(page, "console", lambda message: self.complaints.append(message.text))
        self._hear(page, "pageerror", lambda error: self.complaints.append(str(error)))
        page.goto(self.url)
        page.wait_for_function("window.ringrow !== undefined")
        return page

    def _hear(self, page: Page, what: Any, act: Callable[[Any], None]) -> None:
        page.on(what, act)
        self.hearing.append((page, what, act))

    def before_all(self, script: str) -> None:
        """Run a script before the page's own; such a phone is not lent on."""
        self.context.add_init_script(script)
        self.used_up = True

    def close(self) -> None:
        """Close it; nothing was complained about, and nothing asked for from anywhere."""
        left = self.context.pages
        # One round trip: what is still under way is heard by the test that caused it.
        for page in left:
            page.evaluate("0")
        for page, what, act in self.hearing:
            page.remove_listener(what, act)
        if self.used_up or not left or not self.url.startswith("file:"):
            self.context.close()
        else:
            for page in left[1:]:
                page.close()
            left[0].evaluate(EMPTIED)
            self.shelf.append(left[0])
        assert self.complaints == []
        # The page itself; a saved file is a blob of its own.
        assert {address for address in self.requests if not address.startswith("blob:")} == {self.url}


SHELVES: WeakKeyDictionary[Browser, dict[str, list[Page]]] = WeakKeyDictionary()
"""Pages that wait for the next test, by browser and settings."""


def new_phone(browser: Browser, url: str, size: tuple[int, int] = PHONE, **settings: Any) -> Opened:
    """Return a phone, or a desk for another size, that is to open a page."""
    small = size == PHONE
    # Nothing glides for those who want it still: each press then finds its button at once.
    settings.setdefault("reduced_motion", "reduce")
    shelf = SHELVES.setdefault(browser, {}).setdefault(repr((size, sorted(settings.items()))), [])
    if shelf:
        page = shelf.pop()
        page.set_viewport_size({"width": size[0], "height": size[1]})
        return Opened(context=page.context, url=url, lent=page, shelf=shelf)
    view = {"width": size[0], "height": size[1]}
    context = browser.new_context(viewport=view, has_touch=small, is_mobile=small, **settings)
    return Opened(context=context, url=url, shelf=shelf)
