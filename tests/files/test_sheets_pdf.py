"""The printed sheets read back with general PDF libraries: words, fonts, pages, nothing cut off."""

from __future__ import annotations

import itertools
import random
import re
from io import BytesIO
from typing import TYPE_CHECKING, Any

import pypdfium2
import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from farms import CENTRE, FIELD, write_farm
from ringrow.cli.main import cli
from ringrow.coverage.layout import lay_out
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.load import load_farm
from ringrow.farm.season import SEASON_FILE, read_states
from ringrow.handoff.cautions_by_kind import cautions_for
from ringrow.handoff.sheets.pages import Sheets, make_sheets
from ringrow.handoff.sheets.type import printable

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm

KINDS = ("tire", "gearbox", "sprinkler", "leak", "burrow", "rut", "drop", "cover", "panel")
HOSTILE = "<b>&amp;</para> <img src='x'/> =1+1 ñ¿¡áéíóúü ° ± \u2032 \u4e2d " + "W" * 300
WELL = (
    '[[well]]\nname = "Home <well>"\nat = { lat = 36.7537, lon = -101.4950 }\nserves = ["P & Q"]\n'
    'shutoffs = "Llave en el poste & válvula."\n'
)
PIVOT = FIELD.replace("[[pivot]]", '[[pivot]]\nname = "P & Q"')


def farm_with(
    folder: Path,
    count: int,
    *,
    field: str = PIVOT,
    note: str = "",
    size: tuple[float, float] = (0.0072, 0.009),
) -> Path:
    """Write a farm and bring in some flags spread over its field, the same ones every time."""
    write_farm(folder, f'name = "Test farm"\ngate = {{ lat = 36.75, lon = -101.5 }}\n{WELL}', {"home": field})
    chance = random.Random(7)
    rows = ["name,lat,lon,kind,note"]
    for number in range(count):
        lat, lon = 36.75 + chance.uniform(0, size[0]), -101.5 + chance.uniform(0, size[1])
        rows.append(f'f{number},{lat:.6f},{lon:.6f},{KINDS[number % len(KINDS)]},"{note}"')
    table = folder / "walk.csv"
    table.write_text("\n".join(rows) + "\n", encoding="utf-8")
    if count:
        result = CliRunner().invoke(cli, ["flag", "import", str(folder), str(table)])
        assert result.exit_code == 0, result.output
    return folder


def sheets_of(folder: Path, **options: Any) -> tuple[Sheets, Farm, list[LocatedFlag]]:
    farm = load_farm(folder)
    layouts = [lay_out(field) for field in farm.fields]
    flags = locate_flags(farm, layouts, read_states(folder / SEASON_FILE))
    return make_sheets(farm, layouts, flags, **options), farm, flags


def text_of(pdf: bytes) -> str:
    """All text, blanks and line breaks made one blank."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def fonts_of(pdf: bytes) -> list[Any]:
    pages = PdfReader(BytesIO(pdf)).pages
    return [font.get_object() for page in pages for font in page["/Resources"]["/Font"].values()]


def assert_text_inside(pdf: bytes) -> None:
    """Every letter lies at least 18 points inside the edge of its page."""
    document = pypdfium2.PdfDocument(pdf)
    for page in document:
        wide, high = page.get_size()
        letters = page.get_textpage()
        for index in range(letters.count_chars()):
            left, bottom, right, top = letters.get_charbox(index)
            if right > left:
                assert left >= 18
                assert right <= wide - 18
                assert bottom >= 18
                assert top <= high - 18
    document.close()


BIG = (
    PIVOT.replace("-101.491 ", "-101.48 ")
    .replace("36.7572,", "36.7672,")
    .replace("spans = [180, 180, 180, 180, 180, 180, 150]", f"spans = {[180] * 13}")
    .replace(str(CENTRE[0]), "36.7586")
    .replace(str(CENTRE[1]), "-101.49")
)


@pytest.mark.parametrize(
    ("count", "most", "field", "size"),
    [
        (0, 2, PIVOT, (0.0072, 0.009)),
        (1, 2, PIVOT, (0.0072, 0.009)),
        (12, 3, PIVOT, (0.0072, 0.009)),
        (40, 8, PIVOT, (0.0072, 0.009)),  # so many on one machine that the cautions stand on the second page
        (80, 12, BIG, (0.0172, 0.02)),
    ],
)
def test_every_flag_word_and_caution_is_there_and_nothing_is_cut_off(
    tmp_path: Path, count: int, most: int, field: str, size: tuple[float, float]
) -> None:
    made, _, flags = sheets_of(farm_with(tmp_path / "farm", count, field=field, size=size))
    text = text_of(made.pdf)
    assert len(flags) == count
    assert len(PdfReader(BytesIO(made.pdf)).pages) == sum(made.pages.values()) <= most
    for flag in flags:
        assert f"{flag.state.number}. {flag.kind.words}" in text
        assert f"{flag.lat:.6f}, {flag.lon:.6f}" in text
    for caution in cautions_for(flag.kind for flag in flags):
        assert caution.text in text
    assert text.count("Local codes and licensed people come first.") == sum(made.pages.values())
    pages = [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(made.pdf)).pages]
    own = pages[made.pages["What to bring"] :][: made.pages["Home field"]]
    (told,) = [number for number, page in enumerate(own, 1) if "Alone out there" in page]
    for number, page in enumerate(own, 1):
        assert (f"Cautions for this work: page {told}." in page) == (number != told)
    assert_text_inside(made.pdf)


def test_a_stop_says_what_to_shut_and_has_room_to_write(tmp_path: Path) -> None:
    made, _, _ = sheets_of(farm_with(tmp_path / "farm", 1))
    text = text_of(made.pdf)
    assert "Shut Home <well>: Llave en el poste & válvula." in text
    assert "tire with tube, tire size not stated" in text
    for words in ("done", "found", "left as found:", "engine off", "valves", "covers on", "parked at"):
        assert words in text
    assert "36.750000, -101.500000" in text


def test_text_is_data_and_odd_letters_are_shown(tmp_path: Path) -> None:
    made, _, _ = sheets_of(farm_with(tmp_path / "farm", 3, note=HOSTILE))
    text = text_of(made.pdf)
    assert "<b>&amp;</para> <img src='x'/> =1+1 ñ¿¡áéíóúü ° ± ' ?" in text
    assert_text_inside(made.pdf)


def test_long_names_are_cut_and_stand_beside_each_other(tmp_path: Path) -> None:
    """Names of 80 letters, the most that a farm may have: the head's two ends stay apart."""
    field, farm, pivot = (f"{start} {'W' * (79 - len(start))}" for start in ("Field", "Farm", "Pivot"))
    folder = farm_with(tmp_path / "farm", 0, field=PIVOT.replace("P & Q", pivot))
    for path, name, new in (
        (folder / "farm.toml", "Test farm", farm),
        (folder / "fields", "Home field", field),
    ):
        for file in [path] if path.is_file() else path.glob("*.toml"):
            text = file.read_text(encoding="utf-8").replace(name, new).replace("P & Q", pivot)
            file.write_text(text, encoding="utf-8")
    made, _, _ = sheets_of(folder)
    document = pypdfium2.PdfDocument(made.pdf)
    letters = document[1].get_textpage()
    head = letters.get_text_bounded(bottom=792 - 34 - 4)
    boxes = sorted(
        letters.get_charbox(index)
        for index in range(letters.count_chars())
        if letters.get_charbox(index)[1] > 792 - 40
    )
    document.close()
    assert "Field WWW" in head
    assert "Farm WWW" in head
    assert head.count("…") == 2
    assert all(right <= left + 0.5 for (_, _, right, _), (left, _, _, _) in itertools.pairwise(boxes))


def test_the_key_names_the_signs_that_are_drawn(tmp_path: Path) -> None:
    folder = farm_with(tmp_path / "farm", 3)
    for number, status in ((1, "fixed"), (2, "checked")):
        arguments = ["flag", "set", str(folder), str(number), "--status", status]
        assert CliRunner().invoke(cli, arguments).exit_code == 0
    text = text_of(sheets_of(folder)[0].pdf)
    assert "triangle: open flag; diamond: fixed flag; circle: checked flag." in text
    assert "not a fault" not in text


def test_fonts_are_embedded(tmp_path: Path) -> None:
    made, _, _ = sheets_of(farm_with(tmp_path / "farm", 3))
    used = [font for font in fonts_of(made.pdf) if font["/Subtype"] == "/TrueType"]
    assert used
    assert all("/FontFile2" in font["/FontDescriptor"] for font in used)
    # The library names one font of its own on every page; no letter is written in it.
    document = pypdfium2.PdfDocument(made.pdf)
    names = {
        item.get_font().get_base_name()
        for page in document
        for item in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_TEXT])
    }
    document.close()
    assert {re.sub(r"^\w+\+", "", name) for name in names} == {
        "BitstreamVeraSans-Roman",
        "BitstreamVeraSans-Bold",
    }


def test_same_farm_same_bytes(tmp_path: Path) -> None:
    folder = farm_with(tmp_path / "farm", 5)
    assert sheets_of(folder)[0].pdf == sheets_of(folder)[0].pdf


@pytest.mark.parametrize(("paper", "size"), [("letter", (612, 792)), ("a4", (595.28, 841.89))])
def test_paper(tmp_path: Path, paper: Any, size: tuple[float, float]) -> None:
    made, _, _ = sheets_of(farm_with(tmp_path / "farm", 12), paper=paper)
    for page in PdfReader(BytesIO(made.pdf)).pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(size, abs=0.01)
    assert_text_inside(made.pdf)


def test_road_and_legal_description_are_printed(tmp_path: Path) -> None:
    said = 'access = "Second gate west of the elevator."\nlegal = "SW/4 Sec. 12, T3N R15E"\n'
    made, _, _ = sheets_of(farm_with(tmp_path / "farm", 1, field=said + PIVOT))
    text = text_of(made.pdf)
    assert "Second gate west of the elevator" in text
    assert "SW/4 Sec. 12, T3N R15E" in text


def test_every_kind_of_machine(sample_farm: Path) -> None:
    farm = load_farm(sample_farm)
    layouts = [lay_out(field) for field in farm.fields]
    made = make_sheets(farm, layouts, [])
    text = text_of(made.pdf)
    assert made.pages == {"What to bring": 1, **{field.name: 1 for field in farm.fields}}
    for layout in layouts:
        assert all(printable(system.name) in text for system in layout.drip)
    assert "thick dashed: cart path" in text
    assert "hatched wide: corner arm" in text
    assert_text_inside(made.pdf)


def test_flags_beside_every_field_get_a_page_of_their_own(tmp_path: Path) -> None:
    folder = farm_with(tmp_path / "farm", 1, size=(0.0, 0.0))
    arguments = ["flag", "add", str(folder), "--at", "36.77, -101.5", "--kind", "rock"]
    assert CliRunner().invoke(cli, arguments).exit_code == 0
    made, _, _ = sheets_of(folder)
    assert "Places beside the fields" in made.pages
    assert "2. rock" in text_of(made.pdf)


def test_long_words_of_every_kind_still_fit(tmp_path: Path) -> None:
    """A row of the table must fit a page whatever the farm's files say; a strip too."""
    long = "Shut it. " * 220
    wells = "".join(
        f'[[well]]\nname = "W{number}"\nat = {{ lat = 36.7537, lon = -101.4950 }}\n'
        f'serves = ["P & Q"]\nshutoffs = "{long}"\nnotes = "{long}"\n'
        for number in range(8)
    )
    parts = "".join(f'[[part]]\nkind = "tire"\npart = "{"part " * 14}{n}"\n' for n in range(60))
    field = f'access = "{long}"\nlegal = "{long}"\n{PIVOT}'
    folder = farm_with(tmp_path / "farm", 0, field=field)
    (folder / "farm.toml").write_text(f'name = "Test farm"\nunits = "us"\n{wells}{parts}', encoding="utf-8")
    for _ in range(24):
        spot = ["--pivot", "P & Q", "--tower", "3", "--kind", "tire", "--note", long[:1900]]
        assert CliRunner().invoke(cli, ["flag", "add", str(folder), *spot]).exit_code == 0
    made, _, flags = sheets_of(folder)
    text = text_of(made.pdf)
    assert len(flags) == 24
    assert all(f"{number}. tire flat or bad" in text for number in range(1, 25))
    assert "50 more on the first sheet" in text
    assert "also W4, W5, W6, W7" in text
    assert_text_inside(made.pdf)


def test_metric_farm(tmp_path: Path) -> None:
    field = PIVOT.replace("[180, 180, 180, 180, 180, 180, 150]", "[55, 55, 55, 55, 55, 55]").replace(
        "overhang = 40\nthrow = 20", "overhang = 12\nthrow = 6"
    )
    folder = farm_with(tmp_path / "farm", 0, field=field)
    top = (folder / "farm.toml").read_text(encoding="utf-8")
    (folder / "farm.toml").write_text(top.replace("[[well]]", 'units = "metric"\n[[well]]'), encoding="utf-8")
    made, _, _ = sheets_of(folder)
    text = text_of(made.pdf)
    assert "Squares 100 m" in text  # some 1,440 m across the map, 8 squares or more
    assert " ft" not in text
    assert " ha" in text
