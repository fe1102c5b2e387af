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
    # Nothing glides for those who want it still: each press then finds its button at once.
    settings.setdefault("reduced_motion", "reduce")
    view = {"width": size[0], "height": size[1]}
    context = browser.new_context(viewport=view, has_touch=small, is_mobile=small, **settings)
    return Opened(context=context, url=url)
