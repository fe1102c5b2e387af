"""A real browser for the map file: opened from disk, every request recorded, the network refused."""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID

import pytest

from phones import AS_OPENED, EMPTIED, PHONE, REMEMBER, SAMPLE, settle
from ringrow.coverage.accuracy import DEFAULT_ACCURACY
from ringrow.coverage.layout import lay_out
from ringrow.farm.flag_model import Clash, FlagState, GroundSpot, MachineSpot, WellSpot
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.load import load_farm
from ringrow.handoff.map.page import map_page
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, Page

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import LocatedFlag, Spot
    from ringrow.farm.model import Farm

NOT_OF_THE_PAGE = ("getImageData", "[Intervention]")
"""In remarks on the tests' own reading of the picture, and of a browser that is too busy to ask the page."""
HOSTILE = '<img src=x onerror="document.title=1"> ${1+1} {{ 7*7 }} </script><script>document.title=2</script>'


@dataclass(frozen=True, kw_only=True)
class MapFile:
    """A map on disk, and what it was made from."""

    path: Path
    farm: Farm
    layouts: list[FieldLayout]
    flags: list[LocatedFlag]


@dataclass(kw_only=True)
class Visit:
    """An open page, and everything it asked for or complained about."""

    page: Page
    address: str = ""
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def complained(self) -> list[str]:
        """Return what the page complained about since the last asking."""
        # One round trip: what is still under way is heard by the test that caused it, not by the next.
        self.page.evaluate("0")
        said, self.complaints[:] = list(self.complaints), []
        return [text for text in said if not any(mark in text for mark in NOT_OF_THE_PAGE)]


def _state(number: int, kind: str, spot: Spot | None, **changes: Any) -> FlagState:
    state = FlagState(
        id=str(UUID(int=number)),
        number=number,
        kind=kind,
        status="open",
        name="",
        note="",
        spot=spot,
        flag_class=None,
        set_at=datetime(2026, 3, 1, 15, 0, tzinfo=UTC),
        set_by="walker",
    )
    return replace(state, **changes)


def _ground(layout: FieldLayout, x_m: float, y_m: float) -> GroundSpot:
    lon, lat = layout.field.frame.to_lonlat(x_m, y_m)
    return GroundSpot(lon=float(lon), lat=float(lat), accuracy=DEFAULT_ACCURACY)


def flag_states(farm: Farm, layouts: list[FieldLayout]) -> list[FlagState]:
    """Flags of every status and way of being placed, on the sample farm."""
    fields = {layout.field.name: layout for layout in layouts}
    drip, circle = fields["Elevator quarter"], fields["Windmill quarter"]
    tower_5 = MachineSpot(pivot="Windmill pivot", distance_m=910 * FOOT_M, said="tower 5", tower=5)
    return [
        _state(1, "leak", _ground(drip, -100, 60)),
        _state(2, "burrow", _ground(drip, -100, 60.5), status="fixed"),
        _state(3, "wet-spot", _ground(drip, 150, -200), status="checked"),
        _state(4, "gearbox", tower_5, note=HOSTILE),
        _state(5, "tire", replace(tower_5, azimuth_deg=120.0)),
        _state(6, "panel", WellSpot(well="Home well")),
        _state(7, "rock", _ground(circle, -350, -350), status="not-a-fault"),
        _state(
            8,
            "rut",
            _ground(circle, 100, 250),
            clashes=(Clash(field="status", values=("open", "fixed")),),
        ),
        _state(9, "other-ground", None),
    ]


@pytest.fixture(scope="session")
def map_file(tmp_path_factory: pytest.TempPathFactory) -> MapFile:
    """The sample farm's map with nine flags."""
    farm = load_farm(SAMPLE)
    layouts = [lay_out(one) for one in farm.fields]
    flags = locate_flags(farm, layouts, flag_states(farm, layouts))
    path = tmp_path_factory.mktemp("map") / "farm.html"
    path.write_text(map_page(farm, layouts, flags), encoding="utf-8", newline="\n")
    return MapFile(path=path, farm=farm, layouts=layouts, flags=flags)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium of the system."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        reason = "no chromium on this machine: the map was not opened in a browser"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=chromium)
        yield opened
        opened.close()


def open_map(browser: Browser, path: Path, size: tuple[int, int], *, scripts: bool = True) -> Visit:
    """Open a map from disk in a context of its own."""
    opened = new_visit(browser, size, scripts=scripts)
    go_to(opened, path)
    if scripts:
        opened.page.wait_for_function("window.ringrow !== undefined")
    return opened


def go_to(opened: Visit, path: Path) -> None:
    """Open a map there, as if nothing had been open before."""
    if opened.address:
        opened.page.evaluate(EMPTIED)
    opened.address = path.as_uri()
    opened.requests.clear()
    opened.complaints.clear()
    opened.page.goto(opened.address)


def new_visit(browser: Browser, size: tuple[int, int], *, scripts: bool = True) -> Visit:
    """Return an empty page, of which everything is recorded."""
    phone = size == PHONE
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        java_script_enabled=scripts,
        has_touch=phone,
        is_mobile=phone,
        offline=True,
        # Every frame of a glide is painted without a GPU: still pages take half the time.
        reduced_motion="reduce",
    )
    page = context.new_page()
    opened = Visit(page=page)
    page.on("request", lambda request: opened.requests.append(request.url))
    page.on("console", lambda message: opened.complaints.append(message.text))
    page.on("pageerror", lambda error: opened.complaints.append(str(error)))
    # Only the file itself is let through; anything else would fail and be recorded.
    page.route(
        "**/*", lambda route: route.continue_() if route.request.url == opened.address else route.abort()
    )
    return opened


@pytest.fixture(scope="module")
def lent(browser: Browser) -> Iterator[dict[Any, Visit]]:
    """Pages lent from test to test, by what they can."""
    pages: dict[Any, Visit] = {}
    yield pages
    for opened in pages.values():
        opened.page.context.close()


@pytest.fixture
def visit(browser: Browser, map_file: MapFile, lent: Any) -> Callable[..., Visit]:
    """A function that opens the map anew, its store empty: ``visit(size, scripts=True)``."""

    def give(size: tuple[int, int], *, scripts: bool = True, path: Path = map_file.path) -> Visit:
        if (size, scripts) not in lent:
            lent[size, scripts] = new_visit(browser, size, scripts=scripts)
        opened: Visit = lent[size, scripts]
        if not scripts:
            opened.address = ""
        go_to(opened, path)
        if scripts:
            opened.page.emulate_media(media="screen", reduced_motion="reduce")
            opened.page.wait_for_function("window.ringrow !== undefined")
        return opened

    return give


@pytest.fixture(scope="module")
def left_open(browser: Browser) -> Iterator[dict[tuple[Path, tuple[int, int]], Visit]]:
    """Pages that stay open from test to test."""
    pages: dict[tuple[Path, tuple[int, int]], Visit] = {}
    yield pages
    for opened in pages.values():
        opened.page.context.close()


@pytest.fixture
def look(browser: Browser, map_file: MapFile, left_open: Any) -> Iterator[Callable[..., Visit]]:
    """A function that gives the open map, ``look(size)``, to tests that only look.

    Opening a map takes most of a second. Who sets a flag, asks for a position or tries what the page
    refuses takes ``visit``. Of all these looks nothing may have been asked for or complained about.
    """

    def give(size: tuple[int, int], *, path: Path = map_file.path) -> Visit:
        if (path, size) not in left_open:
            left_open[path, size] = open_map(browser, path, size)
            left_open[path, size].page.evaluate(REMEMBER)
        opened = left_open[path, size]
        opened.page.bring_to_front()
        opened.page.emulate_media(media="screen", reduced_motion="reduce")
        opened.page.evaluate(AS_OPENED)
        settle(opened.page)
        return opened

    yield give
    for (path, _), opened in left_open.items():
        assert opened.requests == [path.as_uri()]
        assert opened.complained() == [], path.name
