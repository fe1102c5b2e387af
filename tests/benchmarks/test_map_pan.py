"""Frames of the map file while it is dragged: 200 flags and 50,000 drip segments.

Printed, never asserted: a browser on a shared machine without a graphics card is no phone. The slow
row has the processor slowed four times, an imitation of one.

Run it with ``python -m pytest -n 0 -s tests/benchmarks/test_map_pan.py``.
"""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID

import numpy as np
import pytest

from ringrow.coverage.accuracy import DEFAULT_ACCURACY
from ringrow.coverage.layout import lay_out
from ringrow.farm.flag_model import FlagState, GroundSpot
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.load import load_farm
from ringrow.frame import Frame
from ringrow.handoff.map.page import map_page

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.model import Farm

SAMPLE = Path(__file__).resolve().parents[2] / "sample_fields" / "two_windmill_farm"
SEGMENTS, FLAGS, ACROSS = 50_000, 200, 10

RECORD = """() => {
    window.frames_ms = [];
    window.recording = true;
    let last = performance.now();
    const step = (now) => {
        window.frames_ms.push(now - last);
        last = now;
        if (window.recording) requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
}"""


def wide_farm() -> tuple[Farm, list[FieldLayout]]:
    """The sample's drip quarter over and over, side by side, until its rows are enough."""
    farm = load_farm(SAMPLE)
    drip = lay_out(farm.fields[3])
    rows = sum(len(block.grid.piece_lateral) for block in drip.drip)
    layouts = []
    for index in range(-(-SEGMENTS // rows)):
        down, right = divmod(index, ACROSS)
        frame = Frame(lon=-101.5 + 0.0093 * right, lat=36.75 - 0.0074 * down)
        layouts.append(replace(drip, field=replace(drip.field, name=f"Quarter {index + 1}", frame=frame)))
    return replace(farm, fields=tuple(layout.field for layout in layouts), wells=(), gate=None), layouts


def flags_on(layouts: list[FieldLayout]) -> list[FlagState]:
    rng = np.random.default_rng(20261125)
    states = []
    for number in range(1, FLAGS + 1):
        frame = layouts[int(rng.integers(len(layouts)))].field.frame
        lon, lat = frame.to_lonlat(*rng.uniform(-380, 380, 2))
        spot = GroundSpot(lon=float(lon), lat=float(lat), accuracy=DEFAULT_ACCURACY)
        states.append(
            FlagState(
                id=str(UUID(int=number)),
                number=number,
                kind="leak",
                status="open",
                name="",
                note="",
                spot=spot,
                flag_class=None,
                set_at=datetime(2026, 3, 1, tzinfo=UTC),
                set_by="walker",
            )
        )
    return states


@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    farm, layouts = wide_farm()
    path = tmp_path_factory.mktemp("pan") / "wide.html"
    path.write_text(map_page(farm, layouts, locate_flags(farm, layouts, flags_on(layouts))), encoding="utf-8")
    return path


def pan(page: Page, size: tuple[int, int]) -> list[float]:
    """Drag the map to and fro for some two seconds, let go, and return the length of each frame [ms]."""
    x, y = size[0] * 0.3, size[1] * 0.4
    page.mouse.move(x, y)
    page.mouse.down()
    page.evaluate(RECORD)
    for step in range(60):
        page.mouse.move(x + 100 * np.sin(step / 6), y + 80 * np.sin(step / 9))
        page.wait_for_timeout(30)
    moving = page.evaluate("window.frames_ms.length")
    page.mouse.up()
    page.wait_for_timeout(800)
    frames: list[float] = page.evaluate("(window.recording = false, window.frames_ms)")
    return [*frames[2:moving], -max(frames[moving:], default=0.0)]


def show(browser: Browser, file: Path, size: tuple[int, int], slow: int) -> None:
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, device_scale_factor=1)
    page = context.new_page()
    page.set_default_timeout(180_000)
    if slow > 1:
        context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slow})
    page.goto(file.as_uri())
    ready_ms = page.evaluate("performance.now()")
    counts = page.evaluate("({...window.ringrow})")
    for name, zoom in (("whole farm", None), ("rows in view", 18)):
        if zoom is not None:
            at = page.evaluate("JSON.parse(document.getElementById('data').textContent).flags[0].at")
            page.evaluate(
                "([lon, lat, zoom]) => map_farm.setView([lat, lon], zoom, {animate: false})", [*at, zoom]
            )
            page.wait_for_timeout(500)
        *moving, after = pan(page, size)
        many = np.array(moving)
        print(  # noqa: T201 - the figures are what this is for
            f"{size[0]}x{size[1]}, {slow}x slowed, {counts['flags']} flags, {counts['pieces']:,} segments, "
            f"open in {ready_ms:,.0f} ms, {name}: {1000 * len(many) / many.sum():.0f} frames/s, median "
            f"{np.median(many):.0f} ms, 95 of 100 below {np.percentile(many, 95):.0f} ms, "
            f"longest after letting go {-after:.0f} ms"
        )
    context.close()


def test_frames_while_the_map_is_dragged(page_file: Path) -> None:
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        pytest.skip("no chromium on this machine: the map was not opened in a browser")
    from playwright.sync_api import sync_playwright

    print(f"\nfile {page_file.stat().st_size / 1e6:.1f} MB")  # noqa: T201
    args: dict[str, Any] = {"executable_path": chromium, "args": ["--no-sandbox", "--disable-gpu"]}
    with sync_playwright() as play:
        browser = play.chromium.launch(**args)
        for size, slow in (((1366, 768), 1), ((360, 740), 4)):
            show(browser, page_file, size, slow)
        browser.close()
