"""The map file in a real browser, from disk, without a network.

Outside references: WCAG 2.2 levels A and AA by axe-core (through axe-playwright-python); geographiclib
for the scale bar and for where laterals and flags are drawn; target size of 44 px is WCAG 2.5.5 (AAA,
from memory), our own criterion.
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from geographiclib.geodesic import Geodesic

from phones import DESKTOP, PHONE, assert_44_px, settle
from ringrow.geometry.lateral_grid import lateral_lines
from ringrow.handoff.place_words import flag_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Page

SIZES = pytest.mark.parametrize("size", [PHONE, DESKTOP], ids=["phone", "desktop"])
HOSTILE = '<img src=x onerror="document.title=1"> ${1+1} {{ 7*7 }} </script><script>document.title=2</script>'


def set_view(page: Page, lon: float, lat: float, zoom: float) -> None:
    page.evaluate(
        "([lon, lat, zoom]) => map_farm.setView([lat, lon], zoom, {animate: false})", [lon, lat, zoom]
    )


def tap(page: Page, size: tuple[int, int], x: float, y: float) -> None:
    box = page.locator("#map_farm").bounding_box()
    assert box is not None
    if size == PHONE:
        # Two taps within a fifth of a second are a double tap, which zooms.
        page.evaluate("map_farm.doubleClickZoom.disable()")
        page.touchscreen.tap(box["x"] + x, box["y"] + y)
    else:
        page.mouse.click(box["x"] + x, box["y"] + y)


def open_list(page: Page, size: tuple[int, int]) -> None:
    """Pull the sheet with the list up on a phone; on a wide screen it stands beside the map."""
    if size == PHONE:
        page.locator("#handle").click()
        settle(page)


def tap_flag(page: Page, size: tuple[int, int], flag_id: str) -> None:
    page.locator("#stage").scroll_into_view_if_needed()
    spot = page.evaluate("(id) => window.ringrow.spot(id)", flag_id)
    tap(page, size, spot["x"], spot["y"])
    page.wait_for_selector(".leaflet-popup-content")


def dark_pixels(page: Page) -> int:
    """Count the canvas pixels that are not white."""
    return page.evaluate(
        """() => {
            const canvas = document.querySelector('.leaflet-overlay-pane canvas');
            const data = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
            let dark = 0;
            for (let i = 0; i < data.length; i += 4) if (data[i + 3] > 0 && data[i] < 250) dark += 1;
            return dark;
        }"""
    )


@SIZES
def test_nothing_is_asked_for_and_nothing_complains(
    look: Callable[..., Any], map_file: Any, size: Any
) -> None:
    opened = look(size)
    opened.page.get_by_role("button", name="Layers").click()
    open_list(opened.page, size)
    opened.page.locator("tr[data-flag] button.go").first.click()
    settle(opened.page)
    assert opened.requests == [map_file.path.as_uri()]
    assert opened.complained() == []


def test_the_policy_refuses_the_network(visit: Callable[..., Any]) -> None:
    """A script that got in could not phone home: the page itself refuses fetch, image, frame and script."""
    page = visit(DESKTOP).page
    found = page.evaluate(
        """async () => {
            const refused = [];
            document.addEventListener(
                'securitypolicyviolation', (event) => refused.push(event.effectiveDirective));
            await fetch('http://127.0.0.1:9/').catch(() => {});
            const image = new Image(); image.src = 'http://127.0.0.1:9/x.png';
            const frame = document.createElement('iframe');
            frame.src = 'http://127.0.0.1:9/';
            const script = document.createElement('script');
            script.textContent = 'window.got = 1';
            document.body.append(frame, script);
            await new Promise((done) => setTimeout(done, 200));
            return [refused, window.got];
        }"""
    )
    assert {"connect-src", "img-src", "frame-src", "script-src-elem"} <= set(found[0])
    assert found[1] is None


@SIZES
def test_counts_come_from_the_farm(look: Callable[..., Any], map_file: Any, size: Any) -> None:
    page = look(size).page
    grids = [drip.grid for layout in map_file.layouts for drip in layout.drip]
    counts = page.evaluate("({...window.ringrow})")
    assert counts["flags"] == len(map_file.flags) == page.locator("tr[data-flag]").count()
    assert counts["laterals"] == sum(len(set(grid.piece_lateral.tolist())) for grid in grids)
    assert counts["pieces"] == sum(len(lateral_lines(grid)) for grid in grids)
    assert counts["fields"] == 10
    assert page.locator("main").get_attribute("data-flags") == str(len(map_file.flags))
    page.evaluate("'use strict'; try { window.ringrow.flags = 99 } catch (error) { error }")
    assert page.evaluate("window.ringrow.flags") == len(map_file.flags)


@SIZES
def test_a_tap_on_a_flag_says_its_place(look: Callable[..., Any], map_file: Any, size: Any) -> None:
    page = look(size).page
    for flag in map_file.flags:
        if flag.lon is None:
            continue
        page.evaluate("map_farm.closePopup()")
        set_view(page, flag.lon, flag.lat, 20)
        tap_flag(page, size, flag.state.id)
        said = page.locator(".leaflet-popup-content").inner_text()
        assert f"Flag {flag.state.number}: {flag.kind.words}" in said
        assert flag_words(flag, map_file.farm.units) in said


@SIZES
def test_a_row_of_the_list_moves_the_map(look: Callable[..., Any], map_file: Any, size: Any) -> None:
    page = look(size).page
    flag = next(flag for flag in map_file.flags if flag.state.number == 3)
    open_list(page, size)
    page.get_by_role("button", name="Show flag 3 on the map").click()
    centre = page.evaluate("[map_farm.getCenter().lng, map_farm.getCenter().lat, map_farm.getZoom()]")
    # The bubble may have pushed the map by less than its own height.
    far_m = Geodesic.WGS84.Inverse(centre[1], centre[0], flag.lat, flag.lon)["s12"]
    assert far_m < 400
    assert centre[2] >= 16
    assert flag_words(flag, map_file.farm.units) in page.locator(".leaflet-popup-content").inner_text()
    assert "shown on the map" in page.locator("#said").inner_text()
    assert page.locator("#stage").bounding_box()["y"] < 200


def test_a_machine_flag_without_azimuth_shows_its_ring(look: Callable[..., Any], map_file: Any) -> None:
    page = look(DESKTOP).page
    page.get_by_role("button", name="Show flag 4 on the map").click()
    said = page.locator(".leaflet-popup-content").inner_text()
    assert "tower 5" in said
    assert "the dashed line shows the ground it travels over" in said
    assert page.evaluate("(id) => window.ringrow.spot(id)", map_file.flags[3].state.id) is None
    assert page.locator("#machines svg[aria-label*='Windmill pivot: flags 4, 5']").count() == 1


def test_a_flag_without_a_place_says_so(look: Callable[..., Any]) -> None:
    page = look(DESKTOP).page
    page.get_by_role("button", name="Show flag 9 on the map").click()
    assert "No place was given" in page.locator("#said").inner_text()


def test_hostile_text_is_text(look: Callable[..., Any]) -> None:
    page = look(DESKTOP).page
    page.get_by_role("button", name="Show flag 4 on the map").click()
    assert HOSTILE in page.locator(".leaflet-popup-content").inner_text()
    assert HOSTILE in page.locator("tr[data-flag]", has_text="gearbox").inner_text()
    assert page.title() == "Two Windmill Farm: map and flags"
    assert page.locator("img").count() == 0


def test_clashes_are_shown(look: Callable[..., Any]) -> None:
    page = look(DESKTOP).page
    page.get_by_role("button", name="Show flag 8 on the map").click()
    words = 'Two people disagree about status: "open" or "fixed".'
    assert words in page.locator(".leaflet-popup-content").inner_text()
    assert words in page.locator("tr[data-flag]", has_text="rut").inner_text()


@SIZES
def test_layers_go_off_and_on(look: Callable[..., Any], size: Any) -> None:
    """Each layer changes the picture when it goes and gives it back when it returns."""
    page = look(size).page
    page.get_by_role("button", name="Layers").click()
    every = dark_pixels(page)
    for key in ("flags", "wetted", "dry", "tracks", "excluded", "points", "grid"):
        box = page.locator(f"input[data-layer={key}]")
        before = page.evaluate("(key) => window.ringrow.shown(key)", key)
        box.click()
        assert page.evaluate("(key) => window.ringrow.shown(key)", key) is not before
        assert dark_pixels(page) != every, key
        box.click()
        assert dark_pixels(page) == every, key
    page.get_by_role("button", name="Layers").click()
    assert page.locator("#layers").is_hidden()


def test_a_layer_that_is_off_cannot_be_tapped(look: Callable[..., Any], map_file: Any) -> None:
    page = look(DESKTOP).page
    flag = map_file.flags[2]
    set_view(page, flag.lon, flag.lat, 19)
    spot = page.evaluate("(id) => window.ringrow.spot(id)", flag.state.id)
    page.get_by_role("button", name="Layers").click()
    page.locator("input[data-layer=flags]").click()
    tap(page, DESKTOP, spot["x"], spot["y"])
    page.wait_for_selector(".leaflet-popup-content")
    said = page.locator(".leaflet-popup-content").inner_text()
    assert "Flag" not in said
    assert "Watered by Elevator drip" in said


@SIZES
def test_a_tap_on_ground_says_what_it_is(look: Callable[..., Any], map_file: Any, size: Any) -> None:
    page = look(size).page
    field = map_file.farm.fields[0]
    for (x_m, y_m), words in {
        (60.0, 60.0): "Watered by Windmill pivot",
        (-385.0, 385.0): "Dry piece NW corner",
        (0.0, -20.0): "Field Windmill quarter",
    }.items():
        lon, lat = field.frame.to_lonlat(x_m, y_m)
        set_view(page, float(lon), float(lat), 18)
        page.locator("#stage").scroll_into_view_if_needed()
        spot = page.evaluate(
            "([lon, lat]) => map_farm.latLngToContainerPoint([lat, lon])", [float(lon), float(lat)]
        )
        tap(page, size, spot["x"], spot["y"])
        page.wait_for_selector(".leaflet-popup-content")
        assert words in page.locator(".leaflet-popup-content").inner_text()
        page.evaluate("map_farm.closePopup()")


def test_a_well_says_what_to_shut(look: Callable[..., Any], map_file: Any) -> None:
    page = look(DESKTOP).page
    well = next(well for well in map_file.farm.wells if well.name == "Elevator well")
    set_view(page, well.lon, well.lat, 19)
    spot = page.evaluate("([lon, lat]) => map_farm.latLngToContainerPoint([lat, lon])", [well.lon, well.lat])
    tap(page, DESKTOP, spot["x"], spot["y"])
    page.wait_for_selector(".leaflet-popup-content")
    assert f"Shut off: {well.shutoffs}" in page.locator(".leaflet-popup-content").inner_text()


@SIZES
@pytest.mark.parametrize("zoom", [14.0, 17.25, 20.0])
def test_scale_bar_is_true(look: Callable[..., Any], map_file: Any, size: Any, zoom: float) -> None:
    """Length of each bar on screen against geographiclib between its two ends: within 0.2 %."""
    page = look(size).page
    field = map_file.farm.fields[0].frame
    set_view(page, field.lon, field.lat, zoom)
    bars = page.evaluate(
        """() => [...document.querySelectorAll('#scale .length')].map((bar) => {
            const width = parseFloat(bar.style.width), size = map_farm.getSize();
            const a = map_farm.containerPointToLatLng([size.x / 2 - width / 2, size.y / 2]);
            const b = map_farm.containerPointToLatLng([size.x / 2 + width / 2, size.y / 2]);
            return [bar.previousElementSibling.textContent, a.lat, a.lng, b.lat, b.lng, width];
        })"""
    )
    assert len(bars) == 2
    for words, lat1, lon1, lat2, lon2, width in bars:
        number, unit = re.fullmatch(r"([\d,]+) (ft|m)", words).groups()
        length_m = float(number.replace(",", "")) * (0.3048 if unit == "ft" else 1.0)
        assert Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)["s12"] == pytest.approx(length_m, rel=2e-3)
        assert 30 < width <= 130


def test_laterals_are_drawn_where_they_lie(look: Callable[..., Any], map_file: Any) -> None:
    """The page's polynomial for a block's metres against geographiclib: within 1 mm, so far under a pixel."""
    page = look(DESKTOP).page
    for layout in map_file.layouts:
        for drip in layout.drip:
            ends = np.array([line.coords[1] for line in lateral_lines(drip.grid)[::97]])
            frame = layout.field.frame
            blocks = page.evaluate("JSON.parse(document.getElementById('data').textContent).blocks")
            block = next(one for one in blocks if one["name"] == drip.block.name)
            for x_m, y_m in ends:
                azimuth, far_m = math.degrees(math.atan2(x_m, y_m)), math.hypot(x_m, y_m)
                true = Geodesic.WGS84.Direct(frame.lat, frame.lon, azimuth, far_m)
                x, y = x_m / 1000, y_m / 1000
                terms = [1, x, y, x * x, x * y, y * y, x**3, x * x * y, x * y * y, y**3]
                lon, lat = (float(np.dot(block["frame"][axis], terms)) for axis in ("lon", "lat"))
                assert Geodesic.WGS84.Inverse(true["lat2"], true["lon2"], lat, lon)["s12"] < 0.001


def test_laterals_show_only_close_up(look: Callable[..., Any], map_file: Any) -> None:
    """Single lines appear from 3 px apart: then a row of the canvas across them alternates."""
    page = look(DESKTOP).page
    frame = map_file.farm.fields[3].frame
    changes = {}
    for zoom in (16.0, 19.0):
        lon, lat = frame.to_lonlat(200.0, 120.0)
        set_view(page, float(lon), float(lat), zoom)
        changes[zoom] = page.evaluate(
            """() => {
                const canvas = document.querySelector('.leaflet-overlay-pane canvas');
                const pen = canvas.getContext('2d');
                const column = pen.getImageData(canvas.width / 2, canvas.height / 2 - 50, 1, 100).data;
                let dips = 0, was = false;
                for (let i = 0; i < column.length; i += 4) {
                    const dark = column[i] < 190;
                    if (dark && !was) dips += 1;
                    was = dark;
                }
                return dips;
            }"""
        )
    spacing_px = 60 * 0.0254 / (156543.03392804097 * math.cos(math.radians(frame.lat)) / 2**19)
    assert changes[19.0] == pytest.approx(100 / spacing_px, abs=1.5)
    # Far out: the pattern of thin lines, 10 px apart.
    assert changes[16.0] == pytest.approx(100 / 10, abs=1)


@SIZES
def test_scripts_off_the_page_still_tells_everything(
    visit: Callable[..., Any], map_file: Any, size: Any
) -> None:
    opened = visit(size, scripts=False)
    page = opened.page
    nothing_runs_out_of_the_side(page, size)
    assert page.locator("#stage").is_hidden()
    assert page.locator("#drawn svg.drawing").count() == len(map_file.farm.fields) + 1
    assert page.locator("#drawn svg.drawing").first.is_visible()
    numbers = [int(text) for text in page.locator("#drawn svg .flag text").all_text_contents()]
    assert sorted(set(numbers)) == [flag.state.number for flag in map_file.flags if flag.lon is not None]
    assert page.locator("#machines svg .flag text").all_text_contents() == ["4", "5"]
    assert page.locator("tr[data-flag]").count() == len(map_file.flags)
    row = page.locator("tr[data-flag]", has_text="gearbox")
    assert row.is_visible()
    assert HOSTILE in row.inner_text()
    assert page.locator("#cautions").is_visible()
    assert page.locator("#cautions p").last.inner_text() == "Local codes and licensed people come first."
    row.locator("a.go").click()
    assert page.url.endswith("#field-1")
    assert opened.requests == [map_file.path.as_uri()]


def nothing_runs_out_of_the_side(page: Page, size: tuple[int, int]) -> None:
    ends = page.locator("section, svg, table, h1, h2").evaluate_all(
        "all => all.filter(it => it.checkVisibility()).map(it => it.getBoundingClientRect().right)"
    )
    assert len(ends) > 10
    assert max(ends) <= size[0] + 0.5


@SIZES
def test_no_sideways_scroll(look: Callable[..., Any], size: Any) -> None:
    page = look(size).page
    for name in ("html", "body"):
        assert page.locator(name).evaluate("(it) => it.scrollWidth") <= size[0]
    nothing_runs_out_of_the_side(page, size)


@SIZES
def test_every_control_is_44_px(look: Callable[..., Any], size: Any) -> None:
    page = look(size).page
    page.get_by_role("button", name="Layers").click()
    open_list(page, size)
    assert assert_44_px(page, "button, a, label") > 20
    page.locator("tr[data-flag] button.go").first.click()
    assert assert_44_px(page, ".leaflet-popup-close-button, .leaflet-popup button") > 0


@SIZES
@pytest.mark.parametrize("scripts", [True, False])
def test_no_wcag_violation(look: Callable[..., Any], size: Any, scripts: bool) -> None:
    """axe-core, WCAG 2.0 to 2.2, A and AA; with a bubble when scripts are on."""
    page = look(size).page
    if scripts:
        open_list(page, size)
        page.locator("tr[data-flag] button.go").first.click()
        settle(page)
    else:
        # axe is itself a script: the page as it stands before its own script ran.
        page.evaluate("document.documentElement.classList.remove('live')")
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
    try:
        found = Axe().run(page, options={"runOnly": {"type": "tag", "values": tags}})
    finally:
        page.evaluate("document.documentElement.classList.add('live')")
    assert found.response["violations"] == [], [
        (one["id"], [node["html"][:120] for node in one["nodes"][:3]]) for one in found.response["violations"]
    ]
    assert len(found.response["passes"]) > 15


def test_keyboard_reaches_everything(visit: Callable[..., Any], map_file: Any) -> None:
    page = visit(DESKTOP).page
    seen = []
    for _ in range(30):
        page.keyboard.press("Tab")
        seen.append(
            page.evaluate(
                "document.activeElement.getAttribute('aria-label') || document.activeElement.textContent"
            )
        )
    assert seen[0] == "Skip to the flags"
    for name in ("Zoom in", "Zoom out", "Whole farm", "Layers", "Show flag 1 on the map"):
        assert name in seen
    page.get_by_role("button", name="Show flag 2 on the map").focus()
    page.keyboard.press("Enter")
    assert "Flag 2" in page.locator(".leaflet-popup-content").inner_text()


def test_printed_it_shows_the_drawn_maps(look: Callable[..., Any]) -> None:
    page = look(DESKTOP).page
    page.emulate_media(media="print")
    assert page.locator("#stage").is_hidden()
    assert page.locator("#drawn svg.drawing").first.is_visible()
    assert page.locator("tr[data-flag]").first.is_visible()
    assert page.locator("#cautions").is_visible()
    assert page.pdf(format="Letter").startswith(b"%PDF")


def test_flags_at_one_spot_stand_apart(look: Callable[..., Any], map_file: Any) -> None:
    """Flags 1 and 2 are half a metre apart; on the map both can be read and tapped."""
    page = look(PHONE).page
    set_view(page, map_file.flags[0].lon, map_file.flags[0].lat, 16)
    spots = [page.evaluate("(id) => window.ringrow.spot(id)", flag.state.id) for flag in map_file.flags[:2]]
    assert math.hypot(spots[0]["x"] - spots[1]["x"], spots[0]["y"] - spots[1]["y"]) > 25
    tap_flag(page, PHONE, map_file.flags[1].state.id)
    assert "Flag 2" in page.locator(".leaflet-popup-content").inner_text()
