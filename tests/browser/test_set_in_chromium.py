"""The part of the map page that writes, in a real browser: flags set, changed, kept, sent back, brought in.

Outside references: WCAG 2.2 levels A and AA by axe-core; geographiclib for where a tower stands; hashlib for
SHA-256; Pillow for photos; `flag import` and the season log, which never saw the page's script, for what came
back. Target size of 44 px is WCAG 2.5.5 (AAA, from memory), our own criterion.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import shutil
import threading
from dataclasses import dataclass
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from click.testing import CliRunner
from geographiclib.geodesic import Geodesic
from PIL import Image

from phones import DESKTOP, PHONE, Opened, few_fields, new_phone, settle
from ringrow.cli.main import cli
from ringrow.errors import PlaceError
from ringrow.farm.load import load_farm
from ringrow.farm.machine_spots import Said, pivot_named, spot_on_pivot
from ringrow.farm.move_spots import SaidOnMove, spot_on_move
from ringrow.farm.season import SEASON_FILE, open_season
from ringrow.farm.spot_values import spot_to_json
from ringrow.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser, Page

PIVOT = (36.7536708, -101.4954381)
"""Windmill pivot's point, as its file says."""


def run(*words: object, code: int = 0) -> str:
    result = CliRunner().invoke(cli, [str(word) for word in words])
    assert result.exit_code == code, result.output
    return result.stdout


@dataclass(kw_only=True)
class Crew:
    """A farm with flags, and the map that was made of it."""

    farm: Path
    path: Path


@pytest.fixture(scope="module")
def crew(tmp_path_factory: pytest.TempPathFactory) -> Crew:
    folder = tmp_path_factory.mktemp("crew")
    # Two fields, one with a pivot and one with drip.
    farm = few_fields(folder / "farm", "10_", "40_")
    run("flag", "add", farm, "--kind", "leak", "--at", "36.7612, -101.4790", "--note", "wet")
    run("flag", "add", farm, "--kind", "gearbox", "--pivot", "Windmill pivot", "--tower", 5)
    run("map", farm, "-o", folder / "farm.html")
    return Crew(farm=farm, path=folder / "farm.html")


@pytest.fixture
def phone(browser: Browser, crew: Crew) -> Iterator[Callable[..., Opened]]:
    """A function that gives a new phone: ``phone(size=PHONE, at=None, url=None)``."""
    opened: list[Opened] = []

    def give(
        size: tuple[int, int] = PHONE,
        *,
        at: tuple[float, float] | None = None,
        url: str = "",
        offline: bool | None = None,
    ) -> Opened:
        made = new_phone(
            browser,
            url or crew.path.as_uri(),
            size,
            offline=not url if offline is None else offline,
            permissions=["geolocation"] if at else [],
            geolocation={"latitude": at[0], "longitude": at[1], "accuracy": 4} if at else None,
        )
        opened.append(made)
        return made

    yield give
    for one in opened:
        one.close()


def start(page: Page, on: str) -> None:
    page.get_by_role("button", name="Set a flag").click()
    page.get_by_role("button", name=on).click()


def save(page: Page, kind: str, *, note: str = "", who: str = "") -> None:
    page.get_by_label("What is wrong").select_option(kind)
    if note:
        page.get_by_label("Note").fill(note)
    if who:
        page.get_by_label("Your name").fill(who)
    page.get_by_role("button", name="Set this flag").click()
    page.get_by_role("button", name="Set this flag").wait_for(state="detached")


def at_the_cross(page: Page, kind: str = "rut", **said: str) -> None:
    start(page, "On the ground")
    page.get_by_role("button", name="At the cross").click()
    save(page, kind, **said)


def changes(page: Page) -> list[dict[str, Any]]:
    return page.evaluate("window.ringrow.changes()")


def value_of(page: Page, field_name: str) -> Any:
    return [event["value"] for event in changes(page) if event["field"] == field_name][-1]


def unsaved(page: Page) -> str:
    return page.locator(".unsaved").inner_text()


def sent_back(page: Page, folder: Path, name: str = "") -> Path:
    """Save the file as a person does; the page then says that all is in a file."""
    page.get_by_role("button", name="Send back").click()
    with page.expect_download() as download:
        page.get_by_role("link", name="Save the file on this phone").click()
    page.get_by_text("Send it to the farm").wait_for()
    path = folder / (name or download.value.suggested_filename)
    download.value.save_as(path)
    return path


def own_copy(crew: Crew, folder: Path) -> Path:
    return Path(shutil.copytree(crew.farm, folder))


def flags(farm: Path) -> list[dict[str, Any]]:
    return json.loads(run("flag", "list", farm, "--json"))["flags"]


def open_flag(page: Page, number: object) -> None:
    """Choose a flag from the list and open its form from the bubble."""
    row = page.get_by_role("button", name=f"Show flag {number} on the map")
    if not row.is_visible():
        page.get_by_role("button", name="Pull up").click()
    row.click()
    # The map glides until the bubble stands clear: a press on a button that moves off is none.
    settle(page)
    page.locator(".leaflet-popup-content").get_by_role("button", name=f"Change flag {number}").click()


# ---- setting ----


def test_ground_machine_and_well_come_back_as_they_were_set(
    phone: Callable[..., Opened], crew: Crew, tmp_path: Path
) -> None:
    """By tap, by where one stands at tower 5 (geographiclib), by name; kept over reload; brought in once."""
    stands = Geodesic.WGS84.Direct(PIVOT[0], PIVOT[1], 41.0, 910 * FOOT_M)
    one = phone(at=(stands["lat2"], stands["lon2"]))
    page = one.page()
    assert unsaved(page) == "Nothing was changed on this phone."
    start(page, "On the ground")
    # Twelve pixels on the ground, by geographiclib.
    ends = page.evaluate(
        "[0, 12].map((x) => map_farm.containerPointToLatLng([100 + x, 150])).map((p) => [p.lat, p.lng])"
    )
    reach_m = Geodesic.WGS84.Inverse(*ends[0], *ends[1])["s12"]
    page.touchscreen.tap(150, 240)
    save(page, "burrow", note="by the road", who="Walker")
    ground = value_of(page, "spot")
    assert ground["on"] == "ground"
    assert ground["accuracy_assumed"] is True
    assert "timed" not in ground
    assert ground["accuracy_m"] == pytest.approx(reach_m, rel=0.01)
    start(page, "On a machine")
    page.get_by_role("button", name="By where I stand").click()
    page.get_by_text("Nearest here: Windmill pivot, tower 5").wait_for()
    page.get_by_label("Wheel", exact=True).select_option("outer-trailing")
    save(page, "tire")
    machine = value_of(page, "spot")
    assert machine["azimuth_deg"] == pytest.approx(41.0, abs=0.01)
    loaded = load_farm(crew.farm)
    said = Said(tower=5, wheel="outer-trailing", azimuth_deg=machine["azimuth_deg"])
    pivot = pivot_named(loaded, "Windmill pivot", said)
    assert machine == rounded(spot_to_json(spot_on_pivot(pivot, said, units=loaded.units)))
    start(page, "At a well")
    page.get_by_label("Well", exact=True).select_option("Home well")
    save(page, "panel")
    assert unsaved(page).endswith("3 changes are in no file")
    page.close()
    page = one.page()
    assert unsaved(page).endswith("3 changes are in no file")
    assert page.evaluate("window.ringrow.spot(window.ringrow.changes()[0].flag)") is not None
    assert page.locator("tr[data-flag]").count() == 5
    assert "by the road" in page.locator("table.flags").inner_text()
    path = sent_back(page, tmp_path)
    assert "two-windmill-farm-20" in path.name
    assert unsaved(page) == "Everything you changed is in a file."
    farm = own_copy(crew, tmp_path / "farm")
    assert "3 new" in run("flag", "import", farm, path)
    assert "3 already there" in run("flag", "import", farm, path)
    came = {flag["kind"]: flag for flag in flags(farm)}
    assert came["burrow"]["note"] == "by the road"
    assert came["burrow"]["lat"] == pytest.approx(ground["lat"], abs=1e-9)
    assert (came["tire"]["system"], came["panel"]["system"]) == ("Windmill pivot", "Home well")
    shown = json.loads(run("flag", "show", farm, came["tire"]["number"], "--json"))
    assert {event["who"] for event in shown["events"]} == {"Walker"}
    assert {event["source"] for event in shown["events"]} == {"map file"}


def test_every_place_on_a_machine_is_said_as_the_command_says_it(
    look: Callable[..., Any], map_file: Any
) -> None:
    """Towers, wheels, drops and distances of all machines, against `flag add`'s own way to a spot."""
    page, loaded = look(DESKTOP).page, map_file.farm
    say = "(said) => said.map((one) => window.ringrow.spotOnMachine(one))"
    asked, wanted = [], []
    names = page.evaluate(
        "JSON.parse(document.getElementById('data').textContent).set.machines.map((m) => m.name)"
    )
    moves = {move.name: move for one in loaded.fields for move in one.lateral_moves}
    for name in names:
        plain = {"machine": name, "wheel": "", "drop": "", "distance": ""}
        if name in moves:
            for side, tower in itertools.product(("left", "right"), (1, 2)):
                if tower <= len(moves[name].wing(side).spans_m):
                    asked.append(plain | {"how": "tower", "side": side, "tower": str(tower)})
                    said = SaidOnMove(side=side, tower=tower)
                    wanted.append(spot_to_json(spot_on_move(moves[name], said, units=loaded.units)))
            continue
        pivot = pivot_named(loaded, name, Said())
        towers = len(pivot.spans_m) + (pivot.corner_arm is not None)
        for tower, wheel in itertools.product(range(1, towers + 1), ("", "inner-leading")):
            asked.append(plain | {"how": "tower", "tower": str(tower), "wheel": wheel})
            wanted.append(
                spot_to_json(spot_on_pivot(pivot, Said(tower=tower, wheel=wheel), units=loaded.units))
            )
        for tower, drop in itertools.product(range(1, len(pivot.spans_m) + 1), range(-25, 26)):
            asked.append(plain | {"how": "drop", "tower": str(tower), "drop": str(drop)})
            wanted.append(_drop(pivot, tower, drop, loaded.units))
        asked.append(plain | {"how": "distance", "tower": "1", "distance": "300"})
        said_ = Said(distance_m=300 * loaded.units.length_m)
        wanted.append(spot_to_json(spot_on_pivot(pivot, said_, units=loaded.units)))
    found = page.evaluate(say, asked)
    for said_here, one, other in zip(asked, found, wanted, strict=True):
        assert one == rounded(other), said_here
    assert sum(other is not None for other in wanted) > 300
    # The page's own SHA-256 against hashlib, at every length about the ends of its blocks, and long.
    texts = ["x" * length for length in (*range(50, 70), 119, 120, 128, 100_001)] + ["", "abc", "Ñandú"]
    prints = page.evaluate("(texts) => texts.map((text) => window.ringrow.sha256(text))", texts)
    assert prints == [hashlib.sha256(text.encode()).hexdigest() for text in texts]


def rounded(spot: Any) -> Any:
    """The page has lengths to a tenth of a millimetre."""
    if spot is None:
        return None
    return {
        key: pytest.approx(value, abs=2e-4) if isinstance(value, float) else value
        for key, value in spot.items()
    }


def _drop(pivot: Any, tower: int, drop: int, units: Any) -> Any:
    try:
        return spot_to_json(spot_on_pivot(pivot, Said(tower=tower, drop=drop), units=units))
    except PlaceError:
        return None


def test_a_photo_is_made_small_upright_and_kept(
    phone: Callable[..., Opened], crew: Crew, tmp_path: Path
) -> None:
    """A large photo taken with the phone on its side (Exif 6) stands upright at 1,280, kept after closing."""
    large = Image.new("RGB", (2400, 1600), "blue")
    large.paste("red", (0, 0, 1200, 1600))
    exif = Image.Exif()
    exif[274] = 6
    large.save(tmp_path / "IMG_0412.jpg", exif=exif)
    one = phone()
    page = one.page()
    start(page, "On the ground")
    page.get_by_role("button", name="At the cross").click()
    camera, chooser = page.get_by_label("Take a photo"), page.get_by_label("Choose a photo")
    # With the attribute phones open the camera and offer no album (HTML Media Capture, from memory).
    assert [one.get_attribute("capture") for one in (camera, chooser)] == ["environment", None]
    assert [one.get_attribute("accept") for one in (camera, chooser)] == ["image/*"] * 2
    (tmp_path / "note.jpg").write_text("no picture")
    chooser.set_input_files(tmp_path / "note.jpg")
    page.get_by_text("note.jpg is no photo that this browser can read").wait_for()
    camera.set_input_files(tmp_path / "IMG_0412.jpg")
    page.get_by_text("IMG_0412.jpg: 853 by 1280 points").wait_for()
    save(page, "washout", who="Walker")
    page.close()
    page = one.page()
    farm = own_copy(crew, tmp_path / "farm")
    path = sent_back(page, tmp_path)
    assert "1 new" in run("flag", "import", farm, path)
    (kept,) = (farm / "photos").iterdir()
    with Image.open(kept) as picture:
        assert picture.size == (853, 1280)
        # The left half of what lay on its side is the upper half of what stands.
        assert picture.getpixel((400, 200))[0] > 200
        assert picture.getpixel((400, 1080))[2] > 200
    page.close()
    page = one.page()
    page.get_by_role("button", name="Send back").click()
    page.get_by_role("link", name="Save the file on this phone").wait_for()
    assert "kB" in page.locator(".send-form .file").inner_text()


def test_photos_that_do_not_fit_wait_for_the_next_file(
    phone: Callable[..., Opened], crew: Crew, tmp_path: Path
) -> None:
    """With room for one of two: the other is still in no file, goes with the next, and none is lost."""
    small = tmp_path / "small.html"
    text = crew.path.read_text(encoding="utf-8")
    assert text.count('"limit_bytes":18000000') == 1
    small.write_text(text.replace('"limit_bytes":18000000', '"limit_bytes":18000'), encoding="utf-8")
    page = phone(url=small.as_uri(), offline=True).page()
    for colour in ("red", "blue"):
        Image.new("RGB", (1280, 960), colour).save(tmp_path / f"{colour}.jpg")
        start(page, "On the ground")
        page.get_by_role("button", name="At the cross").click()
        page.get_by_label("Choose a photo").set_input_files(tmp_path / f"{colour}.jpg")
        page.get_by_text(f"{colour}.jpg: 1280 by 960 points").wait_for()
        save(page, "rut")
    page.get_by_role("button", name="Send back").click()
    page.get_by_text("Photos that do not fit into one file of 0.018 MB: 1.").wait_for()
    page.get_by_role("button", name="Close", exact=False).last.click()
    farm = own_copy(crew, tmp_path / "farm")
    run("flag", "import", farm, sent_back(page, tmp_path, "one.geojson"))
    assert len(list((farm / "photos").iterdir())) == 1
    assert unsaved(page).endswith("1 change is in no file")
    page.get_by_role("button", name="Close", exact=False).last.click()
    run("flag", "import", farm, sent_back(page, tmp_path, "two.geojson"))
    assert len(list((farm / "photos").iterdir())) == 2
    assert unsaved(page) == "Everything you changed is in a file."


# ---- changing ----


def test_a_flag_is_changed_and_the_change_names_what_it_saw(
    phone: Callable[..., Opened], crew: Crew, tmp_path: Path
) -> None:
    """Status, note, parts, wire flag and hole: each an event whose parents are the log's own heads."""
    one = phone()
    page = one.page()
    open_flag(page, 1)
    page.get_by_label("Fixed: somebody says so").check()
    page.get_by_label("Note").fill("new tube, holds")
    page.get_by_role("button", name="One more part").click()
    page.get_by_label("Part, with its size").fill("coupling 1 3/8 in")
    page.get_by_label("How many").fill("2")
    page.get_by_role("button", name="Mark where the hole was").click()
    page.get_by_role("button", name="At the cross").click()
    page.get_by_label("It was pulled").check()
    page.get_by_label("Your name").fill("Crew")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_role("button", name="Save", exact=True).wait_for(state="detached")
    assert unsaved(page).endswith("1 change is in no file")
    said = page.locator(".leaflet-popup-content").inner_text()
    for words in ("Fixed", "new tube, holds", "2 × coupling 1 3/8 in", "The hole is marked"):
        assert words in said
    farm = own_copy(crew, tmp_path / "farm")
    with open_season(farm / SEASON_FILE) as season:
        told = {event.field: event.id for event in season.events() if event.flag == season.states()[0].id}
    made = {event["field"]: event for event in changes(page)}
    assert set(made) == {"status", "note", "parts", "dig", "ground_flag"}
    assert made["note"]["parents"] == [told["note"]]
    assert made["status"]["parents"] == []
    assert "1 edited" in run("flag", "import", farm, sent_back(page, tmp_path, "back.geojson.txt"))
    with open_season(farm / SEASON_FILE) as season:
        state = season.states()[0]
    assert (state.status, state.note, state.ground_flag) == ("fixed", "new tube, holds", "pulled")
    assert [(used.part, used.quantity) for used in state.parts] == [("coupling 1 3/8 in", 2)]
    assert spot_to_json(state.dig) == made["dig"]["value"]
    assert state.clashes == ()
    # A map made after that shows it by itself, and the phone's own copy adds nothing to it.
    before = crew.path.read_bytes()
    run("map", farm, "-o", crew.path, "--overwrite")
    try:
        page.reload()
        page.wait_for_function("window.ringrow !== undefined")
        assert {event["home"] for event in changes(page)} == {True}
        assert unsaved(page) == "Everything you changed is in a file."
        page.get_by_role("button", name="Send back").click()
        page.get_by_text("There is nothing to send back yet").wait_for()
    finally:
        crew.path.write_bytes(before)


def test_the_last_change_is_taken_back(phone: Callable[..., Opened], crew: Crew, tmp_path: Path) -> None:
    """A new event each time: a status goes back, parts no longer count, a new flag is no fault.

    Another window of the same map shows each change as it happens.
    """
    one = phone()
    page, other = one.page(), one.page()
    # A window behind another is drawn once a second, and every click waits for a drawing.
    page.bring_to_front()
    open_flag(page, 1)
    page.get_by_label("Checked: seen to hold").check()
    page.get_by_role("button", name="One more part").click()
    page.get_by_label("Part, with its size").fill("clamp")
    page.get_by_label("Your name").fill("Crew")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_role("button", name="Save", exact=True).wait_for(state="detached")
    at_the_cross(page, "rut")
    page.get_by_role("button", name="Send back").click()
    page.get_by_role("button", name="Take back the last change").click()
    page.get_by_text("Taken back: Flag a1 set").wait_for()
    page.get_by_role("button", name="Take back the last change").click()
    page.get_by_text("Taken back: Flag 1: Checked").wait_for()
    assert page.get_by_role("button", name="Take back the last change").count() == 0
    other.locator("tr[data-flag]", has_text="Not a fault").wait_for(state="attached")
    assert changes(other) == changes(page)
    farm = own_copy(crew, tmp_path / "farm")
    page.get_by_role("button", name="Close", exact=False).last.click()
    run("flag", "import", farm, sent_back(page, tmp_path))
    with open_season(farm / SEASON_FILE) as season:
        first, _, new = season.states()
    assert (first.status, first.parts, new.kind, new.status) == ("open", (), "rut", "not-a-fault")


# ---- two phones ----


def test_two_phones_in_any_order_leave_one_state(
    phone: Callable[..., Opened], crew: Crew, tmp_path: Path
) -> None:
    """Two real files about one flag, in both orders and twice: the same flags; the clash is shown."""
    paths = []
    for name, status in (("one", "Fixed: somebody says so"), ("two", "Not a fault")):
        page = phone().page()
        open_flag(page, 1)
        page.get_by_label(status).check()
        page.get_by_label("Your name").fill(name)
        page.get_by_role("button", name="Save", exact=True).click()
        page.get_by_role("button", name="Save", exact=True).wait_for(state="detached")
        at_the_cross(page, "rock", note=name)
        paths.append(sent_back(page, tmp_path, f"{name}.geojson"))
    ends = []
    for number, order in enumerate([(0, 1), (1, 0, 1)]):
        farm = own_copy(crew, tmp_path / f"farm-{number}")
        for index in order:
            run("flag", "import", farm, paths[index])
        with open_season(farm / SEASON_FILE) as season:
            events = {event.id: event for event in season.events()}
            ends.append(
                (events, {state.id: (state.status, state.note, state.clashes) for state in season.states()})
            )
    assert ends[0] == ends[1]
    assert len(ends[0][1]) == 4
    (clash,) = next(clashes for _, _, clashes in ends[0][1].values() if clashes)
    assert (clash.field, set(clash.values)) == ("status", {"fixed", "not-a-fault"})


# ---- keeping ----


def test_clearing_warns_and_asks_twice_for_what_is_in_no_file(
    phone: Callable[..., Opened], tmp_path: Path
) -> None:
    one = phone()
    page = one.page()
    page.evaluate("localStorage.setItem('somebody-else', 'stays')")
    at_the_cross(page, "rut", who="Walker")
    sent_back(page, tmp_path)
    page.get_by_role("button", name="Close", exact=False).last.click()
    at_the_cross(page, "rock")
    page.get_by_role("button", name="Send back").click()
    page.get_by_role("button", name="Clear what is in a file").click()
    page.get_by_text("Did the file arrive?").wait_for()
    assert len({event["flag"] for event in changes(page)}) == 2
    page.get_by_role("button", name="It arrived: clear 1").click()
    page.get_by_text("Cleared: 1. Still in no file: 1.").wait_for()
    assert {event["value"] for event in changes(page) if event["field"] == "kind"} == {"rock"}
    page.get_by_role("button", name="Clear what is in a file").click()
    page.get_by_text("there is nothing to clear").wait_for()
    page.get_by_role("button", name="Also throw away what is in no file").click()
    page.get_by_text("lost for good").wait_for()
    assert changes(page)
    page.get_by_role("button", name="Throw away 1 for good").click()
    page.get_by_text("Cleared: 1. Still in no file: 0.").wait_for()
    assert changes(page) == []
    assert page.evaluate("localStorage.getItem('somebody-else')") == "stays"
    assert page.locator("tr[data-flag]").count() == 2


def test_a_full_store_is_said_aloud_and_nothing_is_half_kept(phone: Callable[..., Opened]) -> None:
    page = phone().page()
    page.evaluate(
        """() => {
            let size = 1 << 20;
            for (let i = 0; size >= 1; i += 1) {
                try { localStorage.setItem(`full-${i}`, 'x'.repeat(size)); } catch (error) { size >>= 1; }
            }
        }"""
    )
    start(page, "On the ground")
    page.get_by_role("button", name="At the cross").click()
    page.get_by_label("What is wrong").select_option("rut")
    page.get_by_role("button", name="Set this flag").click()
    page.locator(".set-form .alert", has_text="NOT KEPT").wait_for()
    assert changes(page) == []
    assert page.evaluate("Object.keys(localStorage).filter((key) => key.includes(':e:')).length") == 0
    # What was typed is still there; with room again it is kept.
    page.evaluate(
        """() => Object.keys(localStorage)
            .filter((key) => key.startsWith('full-')).forEach((key) => localStorage.removeItem(key))"""
    )
    page.get_by_role("button", name="Set this flag").click()
    page.get_by_role("button", name="Set this flag").wait_for(state="detached")
    assert value_of(page, "kind") == "rut"


def test_a_form_that_was_begun_is_there_again_when_the_phone_dropped_the_page(
    phone: Callable[..., Opened],
) -> None:
    """Some phones close the page for their camera: what was typed comes back, until kept or cancelled."""
    one = phone()
    page = one.page()
    start(page, "On a machine")
    page.get_by_label("Tower", exact=True).select_option("3")
    page.get_by_label("What is wrong").select_option("gearbox")
    page.get_by_label("Note").fill("<b>oil</b> on the wheel")
    page.close()
    page = one.page()
    assert changes(page) == []
    begun = page.locator(".begun-line")
    assert begun.inner_text() == "A flag was begun and is not kept: press Set a flag to go on."
    page.get_by_role("button", name="Set a flag").click()
    page.get_by_text("Begun and not kept: On a machine; gearbox leaking or bad; <b>oil</b> on the").wait_for()
    page.get_by_role("button", name="Go on with it").click()
    assert page.get_by_label("Tower", exact=True).input_value() == "3"
    page.get_by_role("button", name="Set this flag").click()
    page.get_by_role("button", name="Set this flag").wait_for(state="detached")
    assert (value_of(page, "kind"), value_of(page, "note")) == ("gearbox", "<b>oil</b> on the wheel")
    assert value_of(page, "spot")["tower"] == 3
    # Kept: nothing waits any more. A change of a flag waits as well; who cancels throws it away.
    assert begun.inner_text() == ""
    open_flag(page, 1)
    page.get_by_role("button", name="One more part").click()
    page.get_by_label("Part, with its size").fill("coupling")
    page.get_by_role("button", name="Where am I").click()
    page.get_by_role("button", name="Set a flag").click()
    page.get_by_role("button", name="Go on with it").click()
    assert page.get_by_label("Part, with its size").input_value() == "coupling"
    page.get_by_role("button", name="Cancel").click()
    page.get_by_role("button", name="Set a flag").click()
    assert page.get_by_role("button", name="Go on with it").count() == 0
    one.complaints[:] = [said for said in one.complaints if "eolocation" not in said]


def test_a_browser_that_keeps_nothing_says_so(phone: Callable[..., Opened]) -> None:
    one = phone()
    one.before_all(
        """Object.defineProperty(
            window, 'localStorage', { get() { throw new DOMException('no', 'SecurityError'); } })"""
    )
    page = one.page()
    at_the_cross(page, "rut")
    assert unsaved(page).endswith("1 change is in no file")
    page.get_by_role("button", name="Send back").click()
    page.get_by_text("This browser keeps nothing for this page").wait_for()


def test_over_http_without_the_newer_calls(phone: Callable[..., Opened], crew: Crew, tmp_path: Path) -> None:
    """Plain http has no randomUUID; ids are then made by hand. Sharing is offered only where it works."""
    handler = partial(_Quiet, directory=str(crew.path.parent))
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        one = phone(DESKTOP, url=f"http://127.0.0.1:{server.server_port}/{crew.path.name}")
        one.before_all(
            """
            delete Crypto.prototype.randomUUID;
            navigator.canShare = ({ files }) => files.every((file) => file.name.endsWith('.geojson.txt'));
            navigator.share = async ({ files }) => {
                window.shared = [files[0].name, await files[0].text()];
            };
            """
        )
        page = one.page()
        at_the_cross(page, "rut", who="Walker")
        page.get_by_role("button", name="Send back").click()
        page.get_by_role("button", name="Send by message or mail").click()
        page.get_by_text("Send it to the farm").wait_for()
        name, text = page.evaluate("window.shared")
        assert unsaved(page) == "Everything you changed is in a file."
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        assert "1 new" in run("flag", "import", own_copy(crew, tmp_path / "farm"), path)
        page.reload()
        page.wait_for_function("window.ringrow !== undefined")
        assert len(changes(page)) == 2
        page.get_by_role("button", name="Send back").click()
        page.get_by_text("The file as text, for a message").click()
        assert json.loads(page.get_by_label("The file as text, for a message").input_value()) == json.loads(
            text
        )
    finally:
        server.shutdown()
        server.server_close()
    one.requests[:] = [one.url]


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, *_: Any) -> None:
        """Say nothing of each request."""


def test_a_position_that_is_refused_is_said_and_the_tap_is_left(phone: Callable[..., Opened]) -> None:
    page = phone().page()
    start(page, "On the ground")
    page.get_by_role("button", name="Where I stand").click()
    page.locator(".placing .alert", has_text="Tap the place on the map").wait_for()
    page.keyboard.press("Escape")
    assert page.locator(".placing").count() == 0
    assert page.get_by_role("heading", name="What is it on?").count() == 1


# ---- for everybody ----


def press(page: Page, key: str, until: str, most: int = 60) -> None:
    """Press a key until what has the focus says so."""
    said = """() => {
        const one = document.activeElement;
        return one.textContent.trim() || (one.labels && one.labels[0] ? one.labels[0].textContent : '');
    }"""
    for _ in range(most):
        if page.evaluate(said).startswith(until):
            return
        page.keyboard.press(key)
    raise AssertionError(f"no focus on {until}")


def test_a_flag_is_set_and_sent_back_by_keyboard_alone(phone: Callable[..., Opened], tmp_path: Path) -> None:
    page = phone(DESKTOP).page()
    press(page, "Tab", "Set a flag")
    page.keyboard.press("Enter")
    press(page, "Tab", "On the ground")
    page.keyboard.press("Enter")
    centre = page.evaluate("map_farm.getCenter().lng")
    page.keyboard.press("ArrowLeft")
    settle(page)
    assert page.evaluate("map_farm.getCenter().lng") < centre
    press(page, "Tab", "At the cross")
    page.keyboard.press("Enter")
    page.get_by_label("What is wrong").wait_for()
    page.evaluate("document.activeElement.blur()")
    page.locator(".set-form select").focus()
    page.keyboard.type("ru")
    press(page, "Tab", "Your name")
    page.keyboard.type("Walker")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Set this flag").wait_for(state="detached")
    assert value_of(page, "kind") == "rut"
    press(page, "Tab", "Send back")
    page.keyboard.press("Enter")
    page.get_by_role("link", name="Save the file on this phone").wait_for()
    press(page, "Tab", "Save the file on this phone")
    with page.expect_download():
        page.keyboard.press("Enter")
    page.get_by_text("Send it to the farm").wait_for()


def check_panel(page: Page) -> None:
    """No fault by axe; nothing to press is smaller than 44 px; nothing runs out of the side."""
    # A sheet that still slides up covers the bar.
    settle(page)
    rules = {"runOnly": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]}
    assert Axe().run(page, options=rules).response["violations"] == []
    small = page.evaluate(
        """() => ['.panel', '.placing', '.bar']
            .flatMap((box) => ['button', 'select', 'input', 'textarea', 'a', 'summary']
                .map((one) => `${box} ${one}`))
            .flatMap((one) => [...document.querySelectorAll(one)])
            .map((one) => ['checkbox', 'radio'].includes(one.type) ? one.closest('label') : one)
            .map((one) => [one.textContent || one.id, one.getBoundingClientRect()])
            .filter(([, box]) => box.width && (box.width < 44 || box.height < 44))
            .map(([name, box]) => [name, box.width, box.height])"""
    )
    assert small == []
    assert page.evaluate(
        """() => [...document.querySelectorAll('.panel, .placing, .bar')]
            .every((one) => one.scrollWidth <= one.clientWidth + 1)"""
    )


@pytest.mark.parametrize("size", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_panels_are_open_to_all(phone: Callable[..., Opened], size: tuple[int, int]) -> None:
    page = phone(size).page()
    page.get_by_role("button", name="Set a flag").click()
    check_panel(page)
    page.get_by_role("button", name="On the ground").click()
    check_panel(page)
    page.get_by_role("button", name="At the cross").click()
    check_panel(page)
    save(page, "rut", who="Walker")
    start(page, "On a machine")
    check_panel(page)
    page.get_by_role("button", name="Cancel").click()
    open_flag(page, 1)
    page.get_by_role("button", name="One more part").click()
    check_panel(page)
    page.get_by_role("button", name="Cancel").click()
    page.get_by_role("button", name="Send back").click()
    page.get_by_role("button", name="Clear what is in a file").click()
    page.get_by_text("The file as text, for a message").click()
    check_panel(page)


def test_without_scripts_the_page_says_how_to_report_by_photo(browser: Browser, crew: Crew) -> None:
    context = browser.new_context(java_script_enabled=False, offline=True)
    try:
        page = context.new_page()
        page.goto(crew.path.as_uri())
        told = page.locator("#by-photo")
        assert told.is_visible()
        assert "P3 T5 gearbox" in told.inner_text()
        assert "ringrow flag import FARM PHOTOFOLDER" in told.inner_text()
    finally:
        context.close()


BAD = "<img src=x onerror=document.title=1>"


def test_script_in_anything_people_write_is_text(
    phone: Callable[..., Opened], crew: Crew, tmp_path: Path
) -> None:
    """Names of field, machine and well; note, name, photo's file name, what a look says: there and back."""
    farm = own_copy(crew, tmp_path / "farm")
    for file in (farm / "farm.toml", *(farm / "fields").iterdir()):
        text = file.read_text(encoding="utf-8")
        for name in ("Windmill pivot", "Home well"):
            text = text.replace(f'"{name}"', f"'{name}{BAD}'")
        text = text.replace('name = "Windmill quarter"', f"name = 'Windmill quarter{BAD}'")
        file.write_text(text, encoding="utf-8")
    (farm / SEASON_FILE).unlink()
    run("round", "start", farm, "--name", BAD, "--who", BAD)
    run("map", farm, "-o", tmp_path / "farm.html")
    Image.new("RGB", (40, 30), "red").save(tmp_path / "photo.jpg")
    photo = {"name": f"{BAD}.jpg", "mimeType": "image/jpeg", "buffer": (tmp_path / "photo.jpg").read_bytes()}
    page = phone(url=(tmp_path / "farm.html").as_uri(), offline=True).page()
    title = page.title()
    start(page, "On a machine")
    page.get_by_label("Choose a photo").set_input_files(photo)
    page.locator(".photo-part canvas").wait_for()
    save(page, "gearbox", note=BAD, who=BAD)
    page.get_by_role("button", name="Round", exact=True).click()
    page.locator("button.system", has_text="Windmill pivot").click()
    tried = page.locator(".round .item", has=page.get_by_role("heading", name="Walks forward"))
    tried.get_by_role("button", name="Not good").click()
    tried.get_by_label("Why it failed").fill(BAD)
    tried.get_by_role("button", name="Keep this").click()
    page.locator(".round .stands.bad", has_text=BAD).first.wait_for()

    def nothing_ran() -> None:
        assert page.locator("img").count() == 0
        assert page.title() == title

    nothing_ran()
    run("flag", "import", farm, sent_back(page, tmp_path))
    assert BAD in page.locator(".changes").inner_text()
    nothing_ran()
    run("map", farm, "-o", tmp_path / "farm.html", "--overwrite")
    page.reload()
    page.wait_for_function("window.ringrow !== undefined")
    page.get_by_role("button", name="Round", exact=True).click()
    page.locator("button.system", has_text="Windmill pivot").click()
    page.locator(".round .said-of", has_text=BAD).wait_for()
    page.get_by_role("button", name="Where am I").click()
    nothing_ran()
