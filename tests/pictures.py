"""The pictures of README and docs, made from the sample farm's own map in a browser.

Run ``python tests/pictures.py`` to write them anew into docs/pictures; a test makes them too and
sees that those in docs are still what the program draws.
"""

from __future__ import annotations

import contextlib
import io
import shlex
import shutil
import sys
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from click.testing import CliRunner
from PIL import Image

from doc_blocks import Saved, shown_steps
from phones import SETTLED
from ringrow.cli.main import cli
from ringrow.coverage.layout import lay_out
from ringrow.farm.flag_places import locate_flags, parked_flags
from ringrow.farm.flags import Stamp
from ringrow.farm.load import load_farm
from ringrow.farm.parked import parked_lines, read_parked
from ringrow.farm.sample import import_sample_flags
from ringrow.farm.season import SEASON_FILE, read_states
from ringrow.handoff.map.page import map_page

if TYPE_CHECKING:
    from playwright.sync_api import Browser

ROOT = Path(__file__).resolve().parents[1]
SAMPLE = ROOT / "sample_fields" / "two_windmill_farm"
FOLDER = ROOT / "docs" / "pictures"

FIRST_HOUR = ROOT / "docs" / "first-hour.md"

PARKED = ("Windmill pivot=41.3", "Shelter pivot=20", "Tow pivot east=180")
"""Where the pictures have machines stand; the first is where its flags were set."""

WHEN = datetime(2026, 3, 10, 12, 0, tzinfo=UTC)
COLOURS = 48


@dataclass(frozen=True, kw_only=True)
class Picture:
    """One picture: size of the window, what to do in the page first, which page; a sheet is a file itself."""

    name: str
    size: tuple[int, int]
    act: str = ""
    of: str = "plain"
    only_map: bool = True


def _view(lon: float, lat: float, zoom: float) -> str:
    return f"map_farm.setView([{lat}, {lon}], {zoom}, {{animate: false}})"


def _flag(number: int) -> str:
    return f"document.querySelector('[aria-label=\"Show flag {number} on the map\"]').click()"


PICTURES = (
    Picture(name="whole_farm", size=(1440, 800)),
    Picture(name="corner_arm", size=(1200, 680), act=_view(-101.4954377, 36.7685, 16.25)),
    Picture(name="machines", size=(1480, 660), act=_view(-101.4825, 36.7684, 16.0), of="parked"),
    Picture(name="flag_on_phone", size=(360, 740), act=_flag(3), only_map=False),
    Picture(name="first_hour_phone", size=(360, 740), of="first hour", only_map=False),
    Picture(name="first_hour_sheet", size=(700, 906), of="first sheet"),
)
"""The pictures, by the name of their file in docs/pictures."""


def write_pages(folder: Path) -> dict[str, Path]:
    """Write what the pictures are taken of.

    Parameters
    ----------
    folder : Path
        An empty folder.

    Returns
    -------
    dict of str to Path
        The sample farm's map with its flags, ``plain``, and with machines where they stand, ``parked``; the
        map and the first sheet that the page on the first hour makes, ``first hour`` and ``first sheet``.
    """
    farm_folder = folder / "farm"
    shutil.copytree(SAMPLE, farm_folder)
    farm = load_farm(farm_folder)
    layouts = [lay_out(field) for field in farm.fields]
    import_sample_flags(farm, layouts, stamp=Stamp(when=WHEN, who="", source="pictures"))
    flags = locate_flags(farm, layouts, read_states(farm_folder / SEASON_FILE))
    said = read_parked(farm, PARKED)
    pages = {
        "plain": map_page(farm, layouts, flags),
        "parked": map_page(
            farm, layouts, parked_flags(farm, layouts, flags, said), standing=parked_lines(layouts, said)
        ),
    }
    paths = {name: folder / f"{name}.html" for name in pages}
    for name, page in pages.items():
        paths[name].write_text(page, encoding="utf-8", newline="\n")
    return {**paths, **first_hour(folder / "first_hour")}


def first_hour(folder: Path) -> dict[str, Path]:
    """Do what the page on the first hour says, up to the sheets, and return its map and first sheet.

    Parameters
    ----------
    folder : Path
        A folder that is not there yet.

    Returns
    -------
    dict of str to Path
        The map under ``first hour``, the sheet as a picture under ``first sheet``.
    """
    folder.mkdir()
    with contextlib.chdir(folder):
        for step in shown_steps(FIRST_HOUR.read_text(encoding="utf-8")):
            if isinstance(step, Saved):
                Path(step.path).write_text(step.text, encoding="utf-8")
                continue
            words = shlex.split(step.command)[1:]
            if words[0] == "demo":
                break
            more = ["--field", "North quarter", "--png", "png"] if words[0] == "sheets" else []
            done = CliRunner().invoke(cli, [*words, *more])
            if done.exit_code:
                raise RuntimeError(done.output)
    return {"first hour": folder / "crew.html", "first sheet": sorted((folder / "png").iterdir())[-1]}


def take(browser: Browser, picture: Picture, page_file: Path) -> bytes:
    """Return one picture as a PNG of few colours.

    Parameters
    ----------
    browser : Browser
        A browser.
    picture : Picture
        Which.
    page_file : Path
        The page to open.

    Returns
    -------
    bytes
        The file.
    """
    width, height = picture.size
    if page_file.suffix == ".png":
        sheet = Image.open(page_file).convert("RGB").resize(picture.size, Image.Resampling.LANCZOS)
        return _small(sheet)
    phone = width < 500
    context = browser.new_context(
        viewport={"width": width, "height": height}, is_mobile=phone, has_touch=phone, offline=True
    )
    page = context.new_page()
    page.goto(page_file.as_uri())
    page.wait_for_function("window.ringrow !== undefined")
    if picture.act:
        page.evaluate(picture.act)
    # The sheet slides up when the page opens, and the map glides.
    page.evaluate(SETTLED)
    shot = page.locator("#stage").screenshot() if picture.only_map else page.screenshot()
    context.close()
    image = Image.open(io.BytesIO(shot)).convert("RGB")
    if picture.only_map:
        # Without the rules that part the map from the list.
        image = image.crop((0, 0, image.width - 3, image.height - 3))
    return _small(image)


def _small(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.quantize(COLOURS, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return out.getvalue()


def main() -> None:
    """Write every picture into docs/pictures and say how large it is."""
    from playwright.sync_api import sync_playwright

    FOLDER.mkdir(exist_ok=True)
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        pages = write_pages(Path(folder))
        browser = play.chromium.launch(executable_path=chromium)
        for picture in PICTURES:
            data = take(browser, picture, pages[picture.of])
            (FOLDER / f"{picture.name}.png").write_bytes(data)
            sys.stdout.write(f"{picture.name}.png: {len(data) / 1000:.0f} kB\n")
        browser.close()


if __name__ == "__main__":
    main()
