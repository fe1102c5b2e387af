"""A round walked on the map page in a real browser: kept, judged, corrected, sent back, brought in.

Outside references: WCAG 2.2 levels A and AA by axe-core; NEMA MG 1 (clause 12.44.1: 10 % either way), by
which a plate of 460 V gives 414 to 506 V; `flag import`, `round show` and `reading list`, which never saw the
page's script, for what came back. Target size of 44 px is WCAG 2.5.5 (AAA, from memory), our own criterion.
"""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from click.testing import CliRunner

from phones import DESKTOP, PHONE, Opened, few_fields, new_phone
from ringrow.cli.main import cli
from ringrow.farm.flags import Stamp
from ringrow.farm.records import record_event
from ringrow.farm.season import SEASON_FILE, open_season

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser, Locator, Page

    from ringrow.farm.events import Event

QUALIFIED = '\n[[checklist]]\nitem = "line-volts"\nsystem = "Home well"\nwords = "Balance of the lines"\n'
HOSTILE = {
    "system": "Ditch lateral",
    "kind": "lateral move",
    "towers": "left 1",
    "zones": [1],
    "round": ["x"],
    "items": {
        "forward": {"answer": "bad", "said": "<img src=x>", "whose": {}},
        "reverse": "good",
        "tires": {"answer": []},
    },
    "except": "x",
    "note": {"a": 1},
    "nothing_seen": "yes",
}
"""A look as no page of ours writes it."""


def run(*words: object) -> str:
    result = CliRunner().invoke(cli, [str(word) for word in words])
    assert result.exit_code == 0, result.output
    return result.stdout


def from_a_notebook(round_id: str, stamp: Stamp) -> list[Event]:
    """What a table brings, days old: two words on one tower, of which the second stands, and a reading."""
    common = {"system": "Windmill pivot", "kind": "pivot", "round": round_id, "at": "2026-03-14T17:00:00Z"}
    said = (("flat", "bad", "f"), ("ok", "good", "0"))
    looks = [
        record_event(
            "look",
            {**common, "towers": ["7"], "items": {"tires": {"answer": answer, "said": word}}},
            stamp=replace(stamp, when=stamp.when + timedelta(microseconds=number)),
            subject=f"{first}0000000-0000-4000-8000-000000000000",
        )
        for number, (word, answer, first) in enumerate(said)
    ]
    flow = {**common, "item": "flow", "flow_lps": 49.2, "said": "780 gpm"}
    return [*looks, record_event("reading", flow, stamp=stamp)]


@dataclass(kw_only=True)
class Crew:
    """A farm in a round that somebody has begun, and the maps made of it."""

    farm: Path
    path: Path
    spanish: Path


@pytest.fixture(scope="module")
def crew(tmp_path_factory: pytest.TempPathFactory) -> Crew:
    folder = tmp_path_factory.mktemp("round")
    # Three fields with a pivot, a lateral move and a drip block.
    farm = few_fields(folder / "farm", "10_", "40_", "90_")
    with (farm / "farm.toml").open("a", encoding="utf-8") as stream:
        stream.write(QUALIFIED)
    run("round", "start", farm, "--name", "Spring", "--who", "Ana")
    no = ("forward=no: fuse", "--towers", "1-3", "--nothing-seen")
    run("round", "look", farm, "Windmill pivot", "--item", *no, "--who", "Ana")
    run(
        "round",
        "look",
        farm,
        "Ditch lateral",
        "--towers",
        "left 1-2",
        "--nothing-seen",
        "--item",
        "tires=bad: flat",
    )
    run("reading", "add", farm, "Home well", "volts", 400, "V", "--who", "Ana")
    run("reading", "add", farm, "Elevator drip", "zone-pressure", 9, "psi", "--zone", "North zone")
    round_id = shown(farm)["round"]["id"]
    stamp = Stamp(when=datetime.now(UTC), who="<b>Nobody</b>", source="t")
    with open_season(farm / SEASON_FILE) as season, season.writing():
        season.append([record_event("look", HOSTILE, stamp=stamp)])
        season.append(from_a_notebook(round_id, stamp))
    run("map", farm, "-o", folder / "farm.html")
    run("map", farm, "-o", folder / "es.html", "--language", "es")
    return Crew(farm=farm, path=folder / "farm.html", spanish=folder / "es.html")


@pytest.fixture
def phone(browser: Browser, crew: Crew) -> Iterator[Callable[..., Opened]]:
    """A function that gives a new phone: ``phone(size=PHONE, path=None)``."""
    opened: list[Opened] = []

    def give(size: tuple[int, int] = PHONE, *, path: Path = crew.path) -> Opened:
        opened.append(new_phone(browser, path.as_uri(), size, offline=True))
        return opened[-1]

    yield give
    for one in opened:
        one.close()


def walk(page: Page, system: str, who: str = "") -> None:
    page.get_by_role("button", name="Round", exact=True).click()
    if who:
        page.get_by_label("Your name").fill(who)
    page.get_by_role("button", name=system).click()
    page.get_by_role("heading", name=system, exact=True).wait_for()


def item(page: Page, words: str) -> Locator:
    heading = page.get_by_role("heading", name=words)
    return page.locator(".round .item").filter(has=heading)


def kept(page: Page, text: str) -> None:
    page.locator(".round .kept").filter(has_text=text).wait_for()


def records(page: Page) -> list[dict[str, Any]]:
    """Values said on this phone, in order."""
    return [
        event["value"] for event in page.evaluate("window.ringrow.changes()") if event["field"] == "record"
    ]


def sent_back(page: Page, folder: Path, name: str = "phone.geojson") -> Path:
    page.get_by_role("button", name="Send back").click()
    with page.expect_download() as download:
        page.get_by_role("link", name="Save the file on this phone").click()
    page.get_by_text("Send it to the farm").wait_for()
    download.value.save_as(folder / name)
    return folder / name


def shown(farm: Path, *words: str) -> dict[str, Any]:
    return json.loads(run("round", "show", farm, *words, "--json"))


def answers(told: dict[str, Any]) -> list[dict[str, Any]]:
    """What the program says of each item, in the form of the page's own summary."""
    return [
        {
            "name": system["name"],
            "kind": system["kind"],
            "items": {
                each["item"]: {part["part"] or "": part["answer"] for part in each["parts"]}
                for each in system["items"]
            },
        }
        for system in told["systems"]
    ]


def of(told: dict[str, Any], name: str) -> dict[str, Any]:
    return next(system for system in told["systems"] if system["name"] == name)


def own_copy(crew: Crew, folder: Path) -> Path:
    return Path(shutil.copytree(crew.farm, folder / "farm"))


# ---- looking ----


def test_one_tap_says_all_and_comes_home(phone: Callable[..., Opened], crew: Crew, tmp_path: Path) -> None:
    """One tap, an exception, a failed try; kept over reload; the log says afterwards what the page said."""
    one = phone()
    page = one.page()
    farm = own_copy(crew, tmp_path)
    # What was said before the map was made stands on it as the program folds it.
    assert page.evaluate("window.ringrow.round()") == answers(shown(farm))
    walk(page, "Windmill pivot", who="Lupe")
    page.get_by_text("2 of 11 done, 1 not good").wait_for()
    page.get_by_role("button", name="Looked at, nothing seen").click()
    kept(page, "Looked at, nothing seen: kept on this phone")
    page.get_by_role("button", name="Looked at, nothing seen").click()
    kept(page, "That is kept already.")
    round_id = shown(farm)["round"]["id"]
    look = {
        "type": "look",
        "system": "Windmill pivot",
        "kind": "pivot",
        "round": round_id,
        "nothing_seen": True,
    }
    assert records(page) == [look]
    assert page.locator(".unsaved").inner_text() == "1 change is in no file"
    page.get_by_role("button", name="Nothing seen, except").click()
    assert page.get_by_label("Machine").input_value() == "Windmill pivot"
    page.get_by_label("Tower", exact=True).select_option("5")
    page.get_by_label("What is wrong").select_option("gearbox")
    page.get_by_role("button", name="Set this flag").click()
    kept(page, "flag set: Windmill pivot: tower 5")
    assert records(page)[-1]["except"][0]["said"].startswith("Windmill pivot: tower 5")
    reverse = item(page, "Walks in reverse")
    reverse.get_by_role("button", name="Not good").click()
    assert records(page)[-1]["items"] == {"reverse": {"answer": "bad"}}
    reverse.get_by_label("Why it failed").fill("contactor hums")
    reverse.get_by_label("Next step").fill("look at the contactor")
    reverse.get_by_label("Whose it is").select_option("electrician")
    reverse.get_by_label("Needed by").fill("2027-04-01")
    reverse.get_by_role("button", name="Keep this").click()
    reverse.get_by_text("whose: the electrician").wait_for()
    page = one.page()
    said = page.evaluate("window.ringrow.round()")
    run("flag", "import", farm, sent_back(page, tmp_path))
    told = shown(farm)
    assert answers(told) == said
    own = of(told, "Windmill pivot")
    *_notebook, ana, lupe = own["looks"]
    assert [(each["who"], each["nothing_seen"]) for each in (ana, lupe)] == [("Ana", True), ("Lupe", True)]
    exception = lupe["except"][0]
    assert exception["number"] is not None
    assert exception["status"] == "open"
    failed = next(each for each in own["failed"] if each["item"] == "reverse")
    wanted = {
        "why": "contactor hums",
        "next": "look at the contactor",
        "whose": "electrician",
        "needed_by": "2027-04-01",
    }
    assert {key: failed[key] for key in wanted} == wanted
    assert failed["who"] == "Lupe"
    # The new map has it all from the farm; the phone owes nothing and says nothing twice.
    run("map", farm, "-o", crew.path.with_name("again.html"))
    page.goto(crew.path.with_name("again.html").as_uri())
    page.wait_for_function("window.ringrow !== undefined")
    assert page.evaluate("window.ringrow.round()") == said
    one.requests.clear()
    one.requests.append(one.url)


def test_towers_are_said_by_range_and_words_taken_back(phone: Callable[..., Opened]) -> None:
    page = phone().page()
    walk(page, "Ditch lateral")
    # What came from elsewhere is text, and what makes no sense in it is passed over.
    item(page, "Walks forward").get_by_text("<img src=x> (<b>Nobody</b>").wait_for()
    page.get_by_label("From tower").select_option(label="right 1")
    page.get_by_role("button", name="Looked at, nothing seen: towers right 1").click()
    towers = page.evaluate("window.ringrow.round()")
    tires = next(system for system in towers if system["name"] == "Ditch lateral")["items"]["tires"]
    sides = [part for part in tires if part.startswith("right")]
    assert records(page)[-1]["towers"] == sides
    # Said by nobody: the last tower on the left; said by others: the first two.
    assert tires == {"left 1": "bad", "left 2": "bad", "left 3": None} | dict.fromkeys(sides, "good")
    boxes = item(page, "Tower boxes")
    boxes.get_by_role("button", name="Not yet").click()
    again = page.evaluate("window.ringrow.round()")
    now = next(system for system in again if system["name"] == "Ditch lateral")["items"]
    assert {now["boxes-and-covers"][side] for side in sides} == {None}
    assert {now["gearboxes"][side] for side in sides} == {"good"}
    page.get_by_role("button", name="Send back").click()
    page.get_by_role("button", name="Take back the last change").click()
    assert records(page)[-1]["nothing_seen"] is True
    walk(page, "Ditch lateral")
    page.get_by_role("button", name="Take back: towers right").click()
    kept(page, "Taken back: towers right")
    assert records(page)[-1] is None
    home = page.evaluate("window.ringrow.round()")
    assert (
        next(system for system in home if system["name"] == "Ditch lateral")["items"]["gearboxes"]["right 1"]
        is None
    )


# ---- reading ----


def test_readings_are_judged_at_once(phone: Callable[..., Opened], crew: Crew, tmp_path: Path) -> None:
    """460 V on the plate: 414 to 506 V (NEMA MG 1). Walking or idle is asked; the open panel is not."""
    page = phone().page()
    walk(page, "Home well")
    assert "panel door stays shut" in item(page, "Balance of the lines").inner_text()
    assert item(page, "Balance of the lines").get_by_role("textbox").count() == 0
    volts = item(page, "Volts on the meter")
    assert (
        "Good from 414 V to 506 V. (plate 460 V, 10 % either way: NEMA MG 1, clause 12.44.1)"
        in volts.inner_text()
    )
    number, verdict = volts.get_by_label("Number read, V"), volts.locator(".verdict")
    for typed, judged in (("413.9", "too low"), ("414", "good"), ("506", "good"), ("506.1", "too high")):
        number.fill(typed)
        assert judged in verdict.inner_text()
        assert ("This becomes an open item." in verdict.inner_text()) == judged.startswith("too")
    number.fill("4x")
    volts.get_by_role("button", name="Keep this reading").click()
    assert "Type the number as it is read" in volts.inner_text()
    number.fill("1,001")
    volts.get_by_role("button", name="Keep this reading").click()
    assert "Say a number from 0 to 1,000 V." in volts.inner_text()
    # Going away throws nothing away that was typed.
    page.get_by_role("button", name="All systems").first.click()
    page.get_by_role("button", name="Home well").filter(has_text="Typed there and not kept yet.").click()
    assert number.input_value() == "1,001"
    number.fill("488")
    volts.get_by_role("button", name="Keep this reading").click()
    page.get_by_role(
        "button", name="Correct: Volts on the meter in the closed door, walking or idle: 488"
    ).click()
    number.fill("478")
    volts.get_by_role("button", name="Keep the correction").click()
    reading = {"type": "reading", "system": "Home well", "kind": "well", "item": "volts", "voltage_v": 478}
    assert records(page)[-1] == {**reading, "said": "478 V"}
    page.get_by_role("button", name="All systems").first.click()
    page.get_by_role("button", name="Windmill pivot").click()
    volts = item(page, "Volts on the meter")
    volts.get_by_label("Number read, V").fill("471")
    volts.get_by_role("button", name="Keep this reading").click()
    assert "Say whether it walks or is idle" in volts.inner_text()
    volts.get_by_role("button", name="Walking", exact=True).click()
    volts.get_by_role("button", name="Keep this reading").click()
    assert records(page)[-1]["walking"] is True
    # The notebook's reading, corrected, stays in its round and at its day.
    page.get_by_role("button", name="Correct: Flow").click()
    item(page, "Flow on the meter").get_by_role("button", name="Keep the correction").click()
    assert {"round", "at"} <= records(page)[-1].keys()
    page.get_by_role("button", name="All systems").first.click()
    page.get_by_role("button", name="Elevator drip").click()
    pressure = item(page, "Pressure of the zone")
    pressure.get_by_label("Zone", exact=True).select_option("South zone")
    pressure.get_by_label("Unit").select_option("bar")
    pressure.get_by_label("Number read").fill("0.7")
    pressure.get_by_role("button", name="Keep this reading").click()
    assert records(page)[-1]["pressure_kpa"] == pytest.approx(70)
    # What is wrong on drip lies on the ground: the block fills the map, and cancelling leads back.
    page.get_by_role("button", name="Nothing seen, except").click()
    metres = page.evaluate(
        "map_farm.distance(map_farm.getBounds().getNorthWest(), map_farm.getBounds().getNorthEast())"
    )
    assert 700 < metres < 1700
    page.get_by_role("button", name="Cancel").click()
    page.get_by_role("heading", name="Pressure of the zone").wait_for()
    farm = own_copy(crew, tmp_path)
    said = page.evaluate("window.ringrow.round()")
    run("flag", "import", farm, sent_back(page, tmp_path))
    assert answers(shown(farm)) == said
    readings = json.loads(run("reading", "list", farm, "--json"))["readings"]
    own = {(each["system"], each["item"], each["zone"]): each for each in readings if each["latest"]}
    assert own["Home well", "volts", None]["read_v"] == 478
    assert own["Home well", "volts", None]["ok"] is True
    assert own["Windmill pivot", "volts", None]["walking"] is True
    assert own["Elevator drip", "zone-pressure", "South zone"]["said"] == "0.7 bar"
    # Ana's 400 V was an open item; read again, it is none.
    assert "Home well" not in run("reading", "list", farm, "--open")


# ---- two phones ----


def test_two_phones_both_stand_and_two_corrections_are_named(
    phone: Callable[..., Opened], crew: Crew, tmp_path: Path
) -> None:
    farm = own_copy(crew, tmp_path)
    for who, number in (("Lupe", 440), ("Ray", 450)):
        page = phone().page()
        walk(page, "Home well", who=who)
        page.get_by_role("button", name="Looked at, nothing seen").click()
        # Ana's reading of 400 V, corrected on two phones that do not see each other.
        page.get_by_role("button", name="Correct: Volts").click()
        volts = item(page, "Volts on the meter")
        volts.get_by_label("Number read, V").fill(str(number))
        volts.get_by_role("button", name="Keep the correction").click()
        run("flag", "import", farm, sent_back(page, tmp_path, f"{who}.geojson"))
    looks = of(shown(farm), "Home well")["looks"]
    assert [(look["who"], look["clashes"]) for look in looks] == [("Lupe", []), ("Ray", [])]
    (reading,) = of(shown(farm), "Home well")["readings"]
    assert reading["read_v"] == 450
    assert [each["said"] for each in reading["clashes"]] == ["440 V"]
    assert "the other says: 440 V" in run("round", "show", farm)
    # A map made then says so on the phone, and what is said there settles it.
    run("map", farm, "-o", tmp_path / "clash.html")
    page = phone(path=tmp_path / "clash.html").page()
    walk(page, "Home well")
    page.get_by_text("Two people corrected this in two ways").wait_for()
    page.get_by_role("button", name="Correct: Volts").click()
    item(page, "Volts on the meter").get_by_role("button", name="Keep the correction").click()
    run("flag", "import", farm, sent_back(page, tmp_path, "settled.geojson"))
    assert of(shown(farm), "Home well")["readings"][0]["clashes"] == []


def test_without_a_round_the_date_decides(phone: Callable[..., Opened], crew: Crew, tmp_path: Path) -> None:
    farm = own_copy(crew, tmp_path)
    run("round", "end", farm, "--who", "Ana")
    run("map", farm, "-o", tmp_path / "ended.html")
    page = phone(path=tmp_path / "ended.html").page()
    page.get_by_role("button", name="Round", exact=True).click()
    page.get_by_text("No round is open at the farm.").wait_for()
    page.get_by_role("button", name="Home well").click()
    page.get_by_role("button", name="Looked at, nothing seen").click()
    assert "round" not in records(page)[-1]
    run("flag", "import", farm, sent_back(page, tmp_path))
    assert of(shown(farm, "--round", "Spring"), "Home well")["looks"][0]["nothing_seen"] is True


# ---- hands, eyes, keys, languages ----


def check_thumbs(page: Page) -> None:
    """At least 44 CSS pixels each way (WCAG 2.5.5, from memory); no sideways scroll."""
    for system in ("", "Windmill pivot", "Elevator drip"):
        if system:
            page.get_by_role("button", name=system).first.click()
        if system == "Windmill pivot":
            item(page, "Walks forward").get_by_text("What becomes of it").click()
        if not system:
            page.get_by_role("button", name="Round", exact=True).click()
        small = page.evaluate(
            """[...document.querySelectorAll('.bar button, .panel :is(button, input, select, summary)')]
            .filter(e => e.checkVisibility())
            .map(e => [e.dataset.key || e.textContent, e.getBoundingClientRect()])
            .filter(([, r]) => r.width < 44 || r.height < 44).map(([name]) => name)"""
        )
        assert small == []
        assert page.evaluate("document.getElementById('panel').scrollWidth <= innerWidth")
        if system:
            page.get_by_role("button", name="All systems").first.click()


def check_both_sizes(page: Page, options: dict[str, Any]) -> None:
    for width, height in (DESKTOP, PHONE):
        page.set_viewport_size({"width": width, "height": height})
        assert Axe().run(page, options=options).response["violations"] == []


def test_accessible(phone: Callable[..., Opened]) -> None:
    """By axe-core (WCAG 2.2 A and AA): the list, a checklist with an open form; by thumbs on a phone."""
    page = phone().page()
    check_thumbs(page)
    page.get_by_role("button", name="Round", exact=True).click()
    options = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
    check_both_sizes(page, options)
    page.get_by_role("button", name="Windmill pivot").click()
    item(page, "Walks in reverse").get_by_role("button", name="Not good").click()
    check_both_sizes(page, options)


def test_keys_alone_will_do(phone: Callable[..., Opened]) -> None:
    page = phone(DESKTOP).page()
    page.get_by_role("button", name="Round", exact=True).focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Windmill pivot").focus()
    page.keyboard.press("Enter")
    good = item(page, "Walks forward").get_by_role("button", name="Good", exact=True)
    good.focus()
    page.keyboard.press("Space")
    assert records(page)[-1]["items"] == {"forward": {"answer": "good"}}
    # The page is drawn anew and the focus stays on the button.
    assert page.evaluate("document.activeElement.dataset.key") == "forward good"
    assert good.get_attribute("aria-pressed") == "true"
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.dataset.key") == "forward bad"


def test_a_spanish_crew_reads_spanish(phone: Callable[..., Opened], crew: Crew) -> None:
    page = phone(path=crew.spanish).page()
    page.get_by_role("button", name="Ronda").click()
    page.get_by_text("La puerta del tablero se queda cerrada").wait_for()
    page.get_by_role("button", name="Windmill pivot").click()
    page.get_by_role("button", name="Revisado, no se vio nada").click()
    kept(page, "guardado en este teléfono")
    text = page.locator(".round").inner_text()
    for word in ("Camina hacia adelante", "Guardar esta lectura", "Precaución"):
        assert word in text
    assert not {"Good", "Keep", "looked", "Caution", "towers"} & set(re.findall(r"\w+", text))
    # The log stays English, whoever speaks.
    assert records(page)[-1]["kind"] == "pivot"
