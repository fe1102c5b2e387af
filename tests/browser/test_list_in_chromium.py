"""The list beside the map, the sheet on a phone, and where somebody is, in a real browser.

Outside references: geographiclib for the way to a flag; WCAG 2.2 A and AA by axe-core; the accuracy that
a browser states is the radius that holds 95 of 100 fixes (W3C Geolocation, `accuracy`); a target of 44 px
is WCAG 2.5.5 (AAA, from memory), our own criterion, as is half of a phone's screen for the map. What is
said of a place is compared with `place_words`, which `ringrow where` prints.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from uuid import UUID

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from geographiclib.geodesic import Geodesic

from phones import DESKTOP, EMPTIED, PHONE, assert_44_px, settle
from ringrow.coverage.accuracy import DEFAULT_ACCURACY, Accuracy
from ringrow.coverage.locate import locate
from ringrow.coverage.locate_field import nearest_field
from ringrow.errors import PlaceError
from ringrow.farm.coordinates import parse_at
from ringrow.farm.flag_model import FlagState, GroundSpot
from ringrow.farm.flag_places import locate_flags
from ringrow.handoff.map.page import map_page
from ringrow.handoff.place_words import place_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, BrowserContext, Page

    from ringrow.farm.flag_model import LocatedFlag

WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


@dataclass(frozen=True, kw_only=True)
class Many:
    """A map with more flags than a page of the list holds."""

    path: Path
    flags: list[LocatedFlag]
    stops: list[str]


@pytest.fixture(scope="module")
def many(map_file: Any, tmp_path_factory: pytest.TempPathFactory) -> Many:
    """Seventy flags on two fields, the last ten with a stop each, last flag first."""
    layouts = [map_file.layouts[0], map_file.layouts[3]]
    states = []
    for number in range(1, 71):
        frame = layouts[number % 2].field.frame
        lon, lat = frame.to_lonlat(-300.0 + 8 * number, 100.0)
        spot = GroundSpot(lon=float(lon), lat=float(lat), accuracy=DEFAULT_ACCURACY)
        states.append(
            FlagState(
                id=str(UUID(int=number)),
                number=number,
                kind="leak" if number % 3 else "rut",
                status="open" if number % 5 else "fixed",
                name="",
                note="",
                spot=spot,
                flag_class=None,
                set_at=map_file.flags[0].state.set_at,
                set_by="walker",
            )
        )
    flags = locate_flags(map_file.farm, layouts, states)
    stops = [flag.state.id for flag in reversed(flags)][:10]
    path = tmp_path_factory.mktemp("many") / "many.html"
    page = map_page(map_file.farm, layouts, flags, stops=stops)
    path.write_text(page, encoding="utf-8", newline="\n")
    return Many(path=path, flags=flags, stops=stops)


@pytest.fixture(scope="module")
def two_fields(map_file: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The map of the two fields that bear the flags: it opens sooner than all ten."""
    path = tmp_path_factory.mktemp("two") / "two.html"
    layouts = [map_file.layouts[0], map_file.layouts[3]]
    path.write_text(map_page(map_file.farm, layouts, map_file.flags), encoding="utf-8", newline="\n")
    return path


@pytest.fixture(scope="module")
def standing(browser: Browser) -> Iterator[dict[tuple[int, int], Page]]:
    """Pages lent from test to test, by size."""
    pages: dict[tuple[int, int], Page] = {}
    yield pages
    for page in pages.values():
        page.context.close()


@pytest.fixture
def at(
    browser: Browser, two_fields: Path, standing: Any
) -> Iterator[Callable[..., tuple[Page, BrowserContext]]]:
    """A function that opens the map where somebody stands: ``at(size, lon, lat, accuracy_m)``."""
    contexts = []

    def open_at(
        size: tuple[int, int], *fix: float, script: str = "", url: str = "", path: Path = two_fields
    ) -> tuple[Page, BrowserContext]:
        own = bool(script or url)
        if not own and size in standing:
            page = standing[size]
            context = page.context
            context.clear_permissions()
            page.evaluate(EMPTIED)
        else:
            context = browser.new_context(
                viewport={"width": size[0], "height": size[1]},
                has_touch=size == PHONE,
                is_mobile=size == PHONE,
                reduced_motion="reduce",
            )
            page = context.new_page()
        if own:
            contexts.append(context)
        else:
            standing[size] = page
        if fix:
            context.grant_permissions(["geolocation"])
            place(context, *fix)
        if script:
            page.add_init_script(script)
        if url:
            html = path.read_text(encoding="utf-8")
            page.route("**/*", lambda route: route.fulfill(body=html, content_type="text/html"))
        page.goto(url or path.as_uri())
        until(page, "window.ringrow !== undefined")
        return page, context

    yield open_at
    for context in contexts:
        context.close()


def place(context: BrowserContext, lon: float, lat: float, accuracy_m: float) -> None:
    context.set_geolocation({"longitude": lon, "latitude": lat, "accuracy": accuracy_m})


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def listed(page: Page) -> list[str]:
    found: list[str] = page.evaluate("window.ringrow.listed()")
    return found


def rest(page: Page) -> str:
    found: str = page.evaluate("window.ringrow.rest()")
    return found


def until(page: Page, expression: str) -> None:
    """Wait until an expression holds; Playwright's own waiting evaluates text, which the page forbids."""
    for _ in range(200):
        if page.evaluate(expression):
            return
        page.wait_for_timeout(25)
    pytest.fail(f"never true: {expression}")


def high(page: Page, name: str) -> float:
    box = page.locator(name).bounding_box()
    assert box is not None
    return box["height"]


def panel_words(page: Page) -> list[str]:
    return [line.strip() for line in page.locator(".here-panel").inner_text().splitlines() if line.strip()]


# The list.


def test_list_filters_and_counts(look: Callable[..., Any], many: Many) -> None:
    page = look(DESKTOP, path=many.path).page
    fixed = {flag.state.id for flag in many.flags if flag.state.status == "fixed"}
    page.locator("select[name=status]").select_option("Fixed (somebody says so)")
    assert set(listed(page)) == fixed
    assert page.locator("#flags-head").inner_text() == f"Flags ({len(fixed)} of 70)"
    # Every other chooser counts what is left under this one.
    ruts = sum(flag.kind.name == "rut" for flag in many.flags if flag.state.id in fixed)
    options = page.locator("select[name=kind] option").all_inner_texts()
    assert options[0] == f"All ({len(fixed)})"
    assert any(text.endswith(f" ({ruts})") for text in options[1:])
    field = many.flags[0].field or ""
    page.locator("select[name=field]").select_option(field)
    wanted = {flag.state.id for flag in many.flags if flag.state.id in fixed and flag.field == field}
    assert set(listed(page)) == wanted
    systems = page.locator("select[name=system] option").all_inner_texts()
    assert sum(int(re.findall(r"\((\d+)\)$", text)[0]) for text in systems[1:]) == len(wanted)
    press(page, "Clear filters")
    assert page.locator("#flags-head").inner_text() == "Flags (70)"
    assert page.get_by_role("button", name="Clear filters").is_hidden()
    assert page.evaluate("document.activeElement.name") == "field"
    # Fields and systems that do not go together.
    page.locator("select[name=system]").select_option(index=1)
    page.locator("select[name=field]").select_option(index=1)
    if listed(page):
        page.locator("select[name=field]").select_option(index=2)
    assert listed(page) == []
    assert page.get_by_text("No flag fits. Clear the filters to see all.").is_visible()


def test_a_page_without_flags_says_so_until_one_is_set(
    visit: Callable[..., Any], map_file: Any, tmp_path: Path
) -> None:
    """Not that no flag fits the filters: there is nothing to filter."""
    path = tmp_path / "none.html"
    path.write_text(map_page(map_file.farm, [map_file.layouts[0]], []), encoding="utf-8", newline="\n")
    page = visit(DESKTOP, path=path).page
    assert page.locator("#flags > p:visible").count() == 1
    assert "No flag fits" not in page.locator("#flags").inner_text()
    assert page.locator(".controls").is_hidden()
    press(page, "Set a flag")
    page.get_by_role("button", name="On the ground").click()
    page.get_by_role("button", name="At the cross").click()
    page.get_by_label("What is wrong").select_option("leak")
    press(page, "Set this flag")
    page.get_by_role("button", name="Set this flag").wait_for(state="detached")
    assert page.locator("#flags > p:visible").count() == 0
    assert page.locator(".controls").is_visible()


def test_list_goes_by_class_or_by_route(look: Callable[..., Any], many: Many) -> None:
    page = look(DESKTOP, path=many.path).page
    in_page = page.evaluate(
        "JSON.parse(document.getElementById('data').textContent).flags.map((it) => it.id)"
    )
    assert listed(page) == in_page[:60]
    page.locator("select[name=order]").select_option("route")
    assert listed(page)[:10] == many.stops
    first = page.locator(f"tr[data-flag='{many.stops[0]}']")
    assert first.locator(".stop").inner_text() == "Stop 1"
    heads = page.locator("th.class:visible").all_inner_texts()
    assert heads == ["Stops of the route, in order", "Not on the route"]
    assert page.locator(".stop:visible").count() == 10
    page.locator("select[name=order]").select_option("class")
    page.get_by_role("button", name="Show 10 more").click()
    assert first.is_visible()
    assert page.locator(".stop:visible").count() == 0


def test_long_list_comes_in_pages_and_prints_whole(look: Callable[..., Any], many: Many) -> None:
    page = look(DESKTOP, path=many.path).page
    assert len(listed(page)) == 60
    page.emulate_media(media="print")
    assert page.locator("tr[data-flag]:visible").count() == 70
    assert page.locator(".controls").is_hidden()
    page.emulate_media(media="screen")
    press(page, "Show 10 more of 10")
    assert len(listed(page)) == 70
    assert page.evaluate("document.activeElement.closest('tr').dataset.flag") == listed(page)[60]
    assert page.get_by_role("button", name="Show 10 more").is_hidden()


def test_a_tap_anywhere_in_a_row_goes_there(look: Callable[..., Any], map_file: Any) -> None:
    """The place is in big bold type; the sheet goes down; the flag stands in what is seen of the map."""
    page = look(PHONE).page
    looks = page.locator("tr[data-flag] .place").evaluate_all(
        "all => all.map(getComputedStyle).map((look) => [parseFloat(look.fontSize), +look.fontWeight])"
    )
    assert len(looks) == 9
    assert all(size >= 18 and weight >= 700 for size, weight in looks)
    page.locator("#handle").tap()
    settle(page)
    flag = map_file.flags[2]
    page.locator(f"tr[data-flag='{flag.state.id}'] .place").tap()
    settle(page)
    assert rest(page) == "peek"
    spot = page.evaluate("(id) => window.ringrow.spot(id)", flag.state.id)
    assert 0 < spot["x"] < 360
    assert 60 < spot["y"] < high(page, "#stage")


def test_what_prints_knows_what_changed_here(
    visit: Callable[..., Any], map_file: Any, two_fields: Path
) -> None:
    """A flag set on the page stands in the list and on its field's drawing; a fixed one changes there."""
    page = visit(DESKTOP, path=two_fields).page
    flag = map_file.flags[2]
    page.evaluate("([lat, lon]) => map_farm.setView([lat, lon], 17, {animate: false})", [flag.lat, flag.lon])
    press(page, "Set a flag")
    page.get_by_role("button", name="On the ground").click()
    page.get_by_role("button", name="At the cross").click()
    page.get_by_label("What is wrong").select_option("leak")
    page.get_by_role("button", name="Set this flag").click()
    page.get_by_role("button", name="Set this flag").wait_for(state="detached")
    (new,) = set(listed(page)) - {one.state.id for one in map_file.flags}
    assert page.locator("#count").inner_text() == "10 flags, 7 open."
    page.emulate_media(media="print")
    drawing = page.locator("#drawn svg", has=page.locator(f"g[data-of='{flag.state.id}']"))
    # Set at the very spot of flag 3: at its side, with a line to the spot.
    where = "all => all.map((it) => it.transform.baseVal.consolidate().matrix).map(({e, f}) => [e, f])"
    (old_px,) = drawing.locator(f"g[data-of='{flag.state.id}']").evaluate_all(where)
    (new_px,) = drawing.locator(f"g[data-of='{new}']").evaluate_all(where)
    assert 50 < np.hypot(*np.subtract(old_px, new_px)) < 120
    page.emulate_media(media="screen")
    press(page, "Show flag 1 on the map")
    page.get_by_role("button", name="Change flag 1").click()
    page.get_by_label("Fixed: somebody says so").check()
    press(page, "Save")
    page.get_by_role("button", name="Save", exact=True).wait_for(state="detached")
    page.emulate_media(media="print")
    changed = page.locator(f"#drawn g[data-of='{map_file.flags[0].state.id}'] polygon")
    assert changed.last.get_attribute("fill") == "#f0e442"
    assert (
        page.locator(f"tr[data-flag='{map_file.flags[0].state.id}'] .state").inner_text().startswith("Fixed")
    )


# The sheet.


def test_sheet_has_three_rests_and_leaves_half_to_the_map(look: Callable[..., Any]) -> None:
    page = look(PHONE).page
    assert rest(page) == "peek"
    stage, side = page.locator("#stage").bounding_box(), page.locator("#side").bounding_box()
    assert stage["height"] >= 0.5 * 740
    # Nothing of the map lies under the sheet at its low rest, and nothing is cut off.
    assert stage["y"] + stage["height"] <= side["y"] + 0.5
    assert side["y"] + side["height"] <= 740.5
    heights = [side["height"]]
    for name, pressed in (("half", "Pull up"), ("full", "Larger"), ("peek", "Back to the map")):
        press(page, f"Flags (9) {pressed}")
        settle(page)
        assert rest(page) == name
        heights.append(high(page, "#side"))
        assert high(page, "#stage") == stage["height"]
        assert page.locator("#handle").get_attribute("aria-expanded") == str(name != "peek").lower()
    assert heights[0] == heights[3] < heights[1] < heights[2]
    page.locator("#handle").focus()
    for key, name in (("ArrowUp", "half"), ("ArrowUp", "full"), ("ArrowDown", "half"), ("Escape", "peek")):
        page.keyboard.press(key)
        assert rest(page) == name


def test_a_phone_on_its_side_has_the_list_beside_the_map(visit: Callable[..., Any], two_fields: Path) -> None:
    """And a bubble fits the low map whole: buttons and scale make room while it is open."""
    page = visit((740, 360), path=two_fields).page
    stage, side = page.locator("#stage").bounding_box(), page.locator("#side").bounding_box()
    assert stage["x"] + stage["width"] <= side["x"] + 0.5
    assert side["x"] + side["width"] <= 740.5
    assert min(stage["height"], side["height"]) > 290
    press(page, "Show flag 1 on the map")
    settle(page)
    bubble = page.locator(".leaflet-popup-content-wrapper").bounding_box()
    assert bubble["y"] >= stage["y"]
    assert bubble["y"] + bubble["height"] <= stage["y"] + stage["height"]
    assert page.locator("#tools").is_hidden()
    page.keyboard.press("Escape")
    page.locator(".leaflet-popup-close-button").click()
    assert page.locator("#tools").is_visible()


def test_sheet_is_dragged(look: Callable[..., Any]) -> None:
    page = look(PHONE).page
    for way, name in ((-150, "half"), (-100, "full"), (500, "peek"), (3, "half")):
        settle(page)
        box = page.locator("#handle").bounding_box()
        x, y = box["x"] + 60, box["y"] + 30
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x, y + way / 2)
        page.mouse.move(x, y + way)
        page.mouse.up()
        # Three pixels are a press, not a pull.
        assert rest(page) == name


def test_still_for_those_who_want_it_still(look: Callable[..., Any]) -> None:
    page = look(PHONE).page
    for wish, still in (("reduce", True), ("no-preference", False)):
        page.emulate_media(reduced_motion=wish)
        found = page.evaluate("getComputedStyle(document.getElementById('side')).transitionDuration")
        assert (found == "0s") is still


def test_links_to_what_is_in_the_sheet_pull_it_up(visit: Callable[..., Any], two_fields: Path) -> None:
    page = visit(PHONE, path=two_fields).page
    press(page, "Where am I")
    page.get_by_role("link", name="Read the cautions").click()
    settle(page)
    assert rest(page) == "full"
    box = page.locator("#cautions-head").bounding_box()
    assert 0 < box["y"] < 700


# Where somebody is.


def spots(map_file: Any) -> list[tuple[float, float]]:
    """A place on each field, one beside all of them."""
    rng = np.random.default_rng(20261125)
    found = []
    for layout in map_file.layouts:
        x, y = rng.uniform(-300, 300, 2)
        lon, lat = layout.field.frame.to_lonlat(x, y)
        found.append((float(lon), float(lat)))
    return [*found, (found[0][0] - 0.02, found[0][1])]


def test_readout_says_what_where_says(at: Callable[..., Any], map_file: Any) -> None:
    """Each line that `ringrow where` prints, on every field and beside them, at several accuracies."""
    places = spots(map_file)
    page, context = at(DESKTOP, *places[0], 5.0, path=map_file.path)
    press(page, "Where am I")
    for index, (lon, lat) in enumerate(places):
        accuracy = Accuracy(radius_m=(5.0, 3.0, 12.0, 0.4)[index % 4], kind="r95")
        place(context, lon, lat, accuracy.radius_m)
        at_words = f"Latitude and longitude: {lat:.6f}, {lon:.6f}"
        page.get_by_text(at_words).wait_for()
        found = locate(map_file.layouts, lon, lat, accuracy=accuracy)
        near = nearest_field(map_file.layouts, lon, lat) if found.field is None else None
        said = place_words(found, map_file.farm.units, accuracy=accuracy, nearest=near)
        lines = [line.strip() for line in said.splitlines() if line.strip()]
        wanted = sorted(line for line in lines if not line.startswith("Position "))
        readout = page.locator(".readout").inner_text()
        shown = sorted(line.strip() for line in readout.splitlines() if line.strip())
        shown.remove(at_words)
        assert shown == wanted
        assert page.evaluate("window.ringrow.position()") == {
            "lon": lon, "lat": lat, "accuracy_m": accuracy.radius_m, "how": "gps",
        }  # fmt: skip


def test_way_to_the_chosen_flag(at: Callable[..., Any], map_file: Any) -> None:
    """Against geographiclib: distance to the foot, azimuth to a tenth of a degree, the compass word."""
    flag = map_file.flags[0]
    compass = ["north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest"]
    lon, lat = flag.lon + 0.01, flag.lat - 0.004
    page, context = at(PHONE, lon, lat, 6.0)
    press(page, "Where am I")
    page.get_by_text("good to 20 ft").wait_for()
    page.evaluate("window.ringrow.rest()")
    page.locator("tr[data-flag] button.go").first.wait_for(state="attached")
    page.keyboard.press("Escape")
    press(page, "Flags (9) Pull up")
    settle(page)
    press(page, "Show flag 1 on the map")
    assert page.evaluate("window.ringrow.following()") is False
    for shift in (0.0, 0.0021):
        place(context, lon - 4 * shift, lat + shift, 6.0)
        true = Geodesic.WGS84.Inverse(lat + shift, lon - 4 * shift, flag.lat, flag.lon)
        azimuth = true["azi1"] % 360
        point = compass[round(azimuth / 45) % 8]
        feet = f"{true['s12'] / 0.3048:,.0f} ft"
        line = page.locator("#stage .way")
        line.get_by_text(f"Flag 1: {feet} to the {point} (azimuth {azimuth:.1f})").wait_for()
    place(context, flag.lon, flag.lat + 2e-6, 6.0)
    page.locator("#stage .way").get_by_text("nearer than this position can tell").wait_for()


def test_map_follows_until_it_is_dragged(at: Callable[..., Any], map_file: Any) -> None:
    (lon, lat), (lon_2, lat_2) = spots(map_file)[0], spots(map_file)[3]
    page, context = at(DESKTOP, lon, lat, 6.0)
    press(page, "Where am I")
    until(page, "window.ringrow.position() !== null")
    centre = "[map_farm.getCenter().lng, map_farm.getCenter().lat]"
    assert page.evaluate(centre) == pytest.approx([lon, lat], abs=1e-4)
    place(context, lon_2, lat_2, 6.0)
    until(page, f"Math.abs(map_farm.getCenter().lat - {lat_2}) < 1e-4")
    page.mouse.move(400, 400)
    page.mouse.down()
    page.mouse.move(450, 470, steps=4)
    page.mouse.up()
    # A map that was thrown glides on a little.
    settle(page)
    assert page.evaluate("window.ringrow.following()") is False
    assert page.get_by_role("button", name="Follow me").get_attribute("aria-pressed") == "false"
    there = page.evaluate(centre)
    place(context, lon, lat, 6.0)
    until(page, f"window.ringrow.position().lat === {lat}")
    assert page.evaluate(centre) == there
    press(page, "Stop asking the phone")
    assert "no longer asked" in page.locator(".here-panel .state").inner_text()


FEIGNED = """
const phone = {
  watchPosition(found, failed) { failed({code: window.fault || 2}); return 1; },
  clearWatch() {},
};
const given = {get: () => (window.fault < 0 ? undefined : phone)};
Object.defineProperty(Navigator.prototype, "geolocation", given);
"""


def test_a_refused_position_is_said(at: Callable[..., Any]) -> None:
    """And what to do: a tap on the map still finds the place."""
    page, _ = at(PHONE)
    press(page, "Where am I")
    state = page.locator(".here-panel .state")
    state.get_by_text("was not allowed to say where you are").wait_for()
    assert "tap your place on the map, or type it" in state.inner_text()
    assert page.get_by_role("button", name="Try again").is_visible()
    press(page, "Tap the map")
    assert rest(page) == "peek"
    settle(page)
    page.touchscreen.tap(150, 330)
    until(page, "window.ringrow.position() !== null")
    assert page.evaluate("window.ringrow.position().how") == "tap"
    assert rest(page) == "half"
    assert "Tapped: good to about" in state.inner_text()


def test_a_page_over_plain_http_says_what_to_do(at: Callable[..., Any]) -> None:
    page, _ = at(PHONE, url="http://farm.example/map.html")
    press(page, "Where am I")
    said = page.locator(".here-panel .state").inner_text()
    assert "over plain http. Save this file to the phone and open it from there" in said


def test_a_phone_without_a_fix_says_what_to_do(at: Callable[..., Any]) -> None:
    """A feigned phone: off, then late; then a browser without positions at all."""
    page, _ = at(DESKTOP, script=FEIGNED)
    state = page.locator(".here-panel .state")
    press(page, "Where am I")
    assert "Switch its location on" in state.inner_text()
    for fault, said in (
        (3, "No position yet. Stand still in the open"),
        (-1, "This browser gives no position"),
    ):
        press(page, "Stop asking the phone")
        page.evaluate("(fault) => { window.fault = fault; }", fault)
        press(page, "Phone's position")
        assert said in state.inner_text()


LOOKED_AT = """
window.asked = [];
const watch = navigator.geolocation.watchPosition.bind(navigator.geolocation);
navigator.geolocation.watchPosition = (...all) => { window.asked.push("watch"); return watch(...all); };
navigator.geolocation.clearWatch = () => window.asked.push("clear");
Object.defineProperty(document, "hidden", {get: () => window.away === true});
window.look = (away) => { window.away = away; document.dispatchEvent(new Event("visibilitychange")); };
"""


def test_a_page_nobody_looks_at_asks_for_nothing(at: Callable[..., Any], map_file: Any) -> None:
    page, _ = at(PHONE, *spots(map_file)[0], 6.0, script=LOOKED_AT)
    page.evaluate("[true, false].forEach(window.look)")
    assert page.evaluate("window.asked") == []
    press(page, "Where am I")
    page.evaluate("[true, true, false, false].forEach(window.look)")
    assert page.evaluate("window.asked") == ["watch", "clear", "watch"]
    press(page, "Stop asking the phone")
    page.evaluate("[true, false].forEach(window.look)")
    assert page.evaluate("window.asked") == ["watch", "clear", "watch", "clear"]


def test_a_tap_finds_its_own_place(at: Callable[..., Any], map_file: Any) -> None:
    page, _ = at(DESKTOP, path=map_file.path)
    press(page, "Where am I")
    press(page, "Tap the map")
    page.mouse.click(300, 400)
    where = "map_farm.mouseEventToLatLng({clientX: 300, clientY: 400})"
    spot = page.evaluate(f"[{where}.lng, {where}.lat]")
    found = page.evaluate("window.ringrow.position()")
    assert [found["lon"], found["lat"]] == pytest.approx(spot, abs=1e-9)
    # Ten pixels on the ground; the next tap is the map's own again.
    pixel_m = page.evaluate(
        "map_farm.distance(...[0, 1].map((x) => map_farm.containerPointToLatLng([x, 300])))"
    )
    assert found["accuracy_m"] == pytest.approx(10 * pixel_m, rel=0.01)
    page.mouse.click(300, 450)
    page.locator(".leaflet-popup-content").wait_for()
    press(page, "Tap the map")
    press(page, "Take the middle of the map")
    middle = page.evaluate("[map_farm.getCenter().lng, map_farm.getCenter().lat]")
    found = page.evaluate("window.ringrow.position()")
    assert [found["lon"], found["lat"]] == pytest.approx(middle, abs=1e-9)


READ = [
    "36.7512, -101.5034", "36.7512 -101.5034", "36.7512N 101.5034W", "N 36 45.072, W 101 30.204",
    "36°45'04.32\"N 101°30'12.24\"W", "36 45 4.32 N, 101 30 12.24 W", "36,7512; -101,5034",
    "36,7512 -101,5034", "36,7512, -101,5034", "geo:36.7512,-101.5034", "lat: 36.7512 lon: -101.5034",
    "36° 45.072′ N, 101° 30.204′ W", "\u221236.5, 12", "(36.7512, -101.5034)",
    "36 45 60 N, 101 30 0 W", "90, 180",
]  # fmt: skip
REFUSED = [
    ("", "no latitude and longitude"), ("36.75", "no latitude and longitude"), ("north gate", "no latitude"),
    ("36.75, -101.5, 900", "no latitude"),
    ("-101.5034, 36.7512", "are the two swapped? Try 36.7512, -101.5034"),
    ("101.5 W, 36.75 N", "Latitude, with N or S, comes first"), ("91, 200", "Latitude runs from -90 to 90"),
    ("-36.75 N, 101.5 W", "contradict each other"), ("36 75.1 N, 101 30 W", "stay below 60"),
    ("36.5 45 N, 101 30 W", "decimals in the last number only"), ("36.75, -1e2", "no latitude"),
]  # fmt: skip


def test_typed_numbers_are_read_as_the_command_reads_them(look: Callable[..., Any]) -> None:
    page = look(DESKTOP).page
    for text in READ:
        found = page.evaluate("(text) => window.ringrow.readTyped(text)", text)
        assert [found["lat"], found["lon"]] == pytest.approx(parse_at(text), abs=1e-12), text
    for text, said in REFUSED:
        with pytest.raises(PlaceError):
            parse_at(text)
        message = page.evaluate(
            "(text) => { try { window.ringrow.readTyped(text); } catch (error) { return error.message; } }",
            text,
        )
        assert said in message, text


def test_typed_place_is_shown(at: Callable[..., Any], map_file: Any) -> None:
    lon, lat = spots(map_file)[0]
    page, _ = at(PHONE)
    press(page, "Where am I")
    press(page, "Type it")
    box = page.get_by_label("Latitude, then longitude")
    box.fill("95, 200")
    box.press("Enter")
    assert "Latitude runs from -90 to 90" in page.get_by_role("alert").inner_text()
    assert page.evaluate("window.ringrow.position()") is None
    box.fill(f"{lat}, {-lon}")
    press(page, "Show")
    slip = page.locator(".readout .fault").inner_text()
    assert f"Was {lat}, {lon} meant?" in slip
    box.fill(f"{lat}, {lon}")
    press(page, "Show")
    assert page.locator(".readout .fault").count() == 0
    words = panel_words(page)
    # The farm's own accuracy, as the command takes it.
    assert "Typed; taken as good to 16 ft, as the farm's file has it." in words
    place = locate(map_file.layouts, lon, lat, accuracy=map_file.farm.accuracy)
    for line in place_words(place, map_file.farm.units, accuracy=map_file.farm.accuracy).splitlines():
        assert not line or line.startswith("Position") or line.strip() in words


def test_keyboard_alone_is_enough(at: Callable[..., Any], map_file: Any) -> None:
    """Type a place, read it, close, filter the list, go to a flag: no pointer."""
    lon, lat = spots(map_file)[0]
    page, _ = at(PHONE)

    def tab_to(name: str) -> None:
        for _ in range(60):
            page.keyboard.press("Tab")
            said = page.evaluate(
                "(document.activeElement.getAttribute('aria-label') || document.activeElement.name"
                " || document.activeElement.innerText || '').trim()"
            )
            if said.startswith(name):
                return
        pytest.fail(f"Tab never reached {name}")

    tab_to("Where am I")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "panel-head"
    tab_to("Type it")
    page.keyboard.press("Space")
    assert page.evaluate("document.activeElement.id") == "typed"
    page.keyboard.type(f"{lat}, {lon}")
    page.keyboard.press("Enter")
    assert page.locator(".readout .ground").inner_text().startswith("Windmill quarter")
    page.keyboard.press("Escape")
    assert page.locator("#panel").is_hidden()
    assert page.evaluate("document.activeElement.dataset.action") == "here"
    tab_to("Flags (9)")
    page.keyboard.press("Enter")
    tab_to("Order and filter")
    page.keyboard.press("Enter")
    tab_to("status")
    page.keyboard.type("Fixed")
    assert listed(page) == [map_file.flags[1].state.id]
    tab_to("Show flag 2")
    settle(page)
    focused = page.evaluate("document.activeElement.getBoundingClientRect().toJSON()")
    assert 0 < focused["top"] < focused["bottom"] <= 740
    page.keyboard.press("Enter")
    assert "Flag 2" in page.locator(".leaflet-popup-content").inner_text()
    assert rest(page) == "peek"
    # The focus does not go down with the sheet: arrows now move the map.
    assert page.evaluate("document.activeElement.id") == "map_farm"


CONTROLS = "button, input, select, summary"


def assert_no_violation(page: Page) -> None:
    settle(page)
    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": WCAG}}).response["violations"]
    assert found == [], [(one["id"], [node["html"][:120] for node in one["nodes"][:3]]) for one in found]


def test_panel_is_within_reach(at: Callable[..., Any], map_file: Any) -> None:
    """On a phone: no violation of WCAG A and AA, no control under 44 px, nothing past the edge.

    A coarse position is said to be one, and a finer one that comes then is not.
    """
    page, context = at(PHONE, *spots(map_file)[0], 64.0)
    press(page, "Where am I")
    state = page.locator(".here-panel .state")
    said = "Coarse: good to 210 ft only. A span, tower or lateral named here may be wrong. Stand still"
    state.get_by_text(said).wait_for()
    assert assert_44_px(page, CONTROLS) > 5
    place(context, *spots(map_file)[0], 19.9)
    state.get_by_text("The phone says: good to 65 ft (95 of 100 fixes fall that close).").wait_for()
    place(context, *spots(map_file)[0], 64.0)
    state.get_by_text(said).wait_for()
    press(page, "Type it")
    page.get_by_label("Latitude, then longitude").fill("95, 200")
    press(page, "Show")
    assert assert_44_px(page, CONTROLS) > 5
    assert_no_violation(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= 360


def test_filters_are_within_reach(look: Callable[..., Any]) -> None:
    """On a wide screen, with a filter set: the same."""
    page = look(DESKTOP).page
    page.locator("select[name=status]").select_option(index=1)
    assert assert_44_px(page, CONTROLS) > 5
    assert_no_violation(page)
