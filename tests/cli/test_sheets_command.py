"""``ringrow sheets``: what it writes, says and refuses."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from PIL import Image
from pypdf import PdfReader

from farms import write_farm
from phones import few_fields
from ringrow.cli.main import cli
from ringrow.farm.events import Event
from ringrow.farm.season import open_season

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    folder = write_farm(tmp_path / "farm")
    for tower, kind in (("2", "tire"), ("5", "gearbox")):
        spot = ["--pivot", "Home field pivot 1", "--tower", tower, "--kind", kind]
        assert CliRunner().invoke(cli, ["flag", "add", str(folder), *spot]).exit_code == 0
    arguments = ["flag", "set", str(folder), "2", "--status", "fixed"]
    assert CliRunner().invoke(cli, arguments).exit_code == 0
    return folder


def text_of(path: Path) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(path.read_bytes())).pages)


def test_open_flags_alone_unless_asked(farm: Path, tmp_path: Path) -> None:
    out = tmp_path / "crew.pdf"
    result = CliRunner().invoke(cli, ["sheets", str(farm), "-o", str(out)])
    assert result.exit_code == 0, result.output
    assert result.stdout == ""
    assert f"Wrote {out}: 2 pages for 1 flag (What to bring 1, Home field 1)." in result.stderr
    assert "1. tire" in text_of(out)
    assert "2. gearbox" not in text_of(out)
    both = ["--status", "open", "--status", "fixed", "--overwrite"]
    assert CliRunner().invoke(cli, ["sheets", str(farm), "-o", str(out), *both]).exit_code == 0
    assert "2. gearbox leaking or bad (fixed)" in text_of(out)


def test_pictures_of_every_page(farm: Path, tmp_path: Path) -> None:
    out, pictures = tmp_path / "crew.pdf", tmp_path / "pictures"
    arguments = ["sheets", str(farm), "-o", str(out), "--png", str(pictures)]
    result = CliRunner().invoke(cli, arguments)
    assert result.exit_code == 0, result.output
    names = sorted(path.name for path in pictures.iterdir())
    assert names == ["crew-01.png", "crew-02.png"]
    with Image.open(pictures / "crew-02.png") as picture:
        assert picture.size == pytest.approx((1275, 1650), abs=1)  # 150 dots an inch
        low, high = picture.convert("L").getextrema()
        assert (low, high) == (0, 255)
    out.unlink()
    again = CliRunner().invoke(cli, arguments)
    assert again.exit_code == 1
    assert "crew-01.png" in again.stderr
    assert "--overwrite" in again.stderr
    assert not out.exists()


def test_pictures_of_an_earlier_run_are_named(farm: Path, tmp_path: Path) -> None:
    pictures = tmp_path / "pictures"
    pictures.mkdir()
    for name in ("crew-03.png", "crew-night-01.png"):
        (pictures / name).write_bytes(b"old")
    arguments = ["sheets", str(farm), "-o", str(tmp_path / "crew.pdf"), "--png", str(pictures)]
    result = CliRunner().invoke(cli, arguments)
    assert result.exit_code == 0, result.output
    assert "Not of these sheets, left from before: crew-03.png. Send none of them." in result.stderr
    assert (pictures / "crew-03.png").read_bytes() == b"old"


def test_pictures_need_a_folder_that_can_be_made(farm: Path, tmp_path: Path) -> None:
    (tmp_path / "plain").write_text("a file")
    arguments = ["-o", str(tmp_path / "crew.pdf"), "--png", str(tmp_path / "plain" / "pictures")]
    result = CliRunner().invoke(cli, ["sheets", str(farm), *arguments])
    assert result.exit_code == 1
    assert "cannot be written" in result.stderr
    assert not (tmp_path / "crew.pdf").exists()


def test_an_existing_file_is_kept(farm: Path, tmp_path: Path) -> None:
    out = tmp_path / "crew.pdf"
    out.write_bytes(b"mine")
    result = CliRunner().invoke(cli, ["sheets", str(farm), "-o", str(out)])
    assert result.exit_code == 1
    assert "already there" in result.stderr
    assert out.read_bytes() == b"mine"


def test_ending_and_field_are_checked(farm: Path, tmp_path: Path) -> None:
    result = CliRunner().invoke(cli, ["sheets", str(farm), "-o", str(tmp_path / "crew.doc")])
    assert result.exit_code == 1
    assert ".pdf" in result.stderr
    out = str(tmp_path / "crew.pdf")
    result = CliRunner().invoke(cli, ["sheets", str(farm), "-o", out, "--field", "Home"])
    assert result.exit_code == 1
    assert "field" in result.stderr


def test_one_field_with_a4(farm: Path, tmp_path: Path) -> None:
    out = tmp_path / "crew.pdf"
    arguments = ["sheets", str(farm), "-o", str(out), "--field", "home field", "--paper", "a4"]
    assert CliRunner().invoke(cli, arguments).exit_code == 0
    page = PdfReader(BytesIO(out.read_bytes())).pages[0]
    assert float(page.mediabox.height) == pytest.approx(841.9, abs=0.1)


def test_stops_by_route_stand_as_the_route_goes_to_them(tmp_path: Path) -> None:
    sample_farm = few_fields(tmp_path / "farm", "10", "40")

    def run(*words: object) -> str:
        result = CliRunner().invoke(cli, [str(word) for word in words])
        assert result.exit_code == 0, result.output
        return result.stdout

    flags = ("handheld_walker_1.gpx", "phone_walker_2.geojson", "kitchen_table_walker_3.csv")
    run("flag", "import", sample_farm, *(sample_farm / "flags" / name for name in flags))
    # Flags of the fields that are not there would stand on a page of their own, behind the rest.
    listed = json.loads(run("flag", "list", sample_farm, "--json"))["flags"]
    beside = [
        flag["number"] for flag in listed if flag["place"].startswith(("outside", "Draw", "North", "Prairie"))
    ]
    run("flag", "set", sample_farm, *beside, "--status", "not-a-fault")
    run("flag", "set", sample_farm, 4, "--ground-flag")
    out = tmp_path / "crew.pdf"
    run("sheets", sample_farm, "-o", out, "--by", "route", "--crop", "up")
    (crew,) = json.loads(run("route", sample_farm, "--crop", "up", "--json"))["route"]["crews"]
    going = {stop["flag"]: number for number, stop in enumerate(crew["stops"], 1)}
    words = " ".join(text_of(out).split())
    listed = re.findall(r"(\d+)\. [a-z ,()]+? · stop (\d+)", words)
    assert {int(flag): int(stop) for flag, stop in listed} == going
    # Within each field they rise, and fields stand as the route first comes to them.
    on_page = [int(stop) for _, stop in listed]
    falls = [place for place in range(1, len(on_page)) if on_page[place] < on_page[place - 1]]
    firsts = [on_page[0], *(on_page[place] for place in falls)]
    assert len(falls) < len(going) / 3
    assert firsts == sorted(firsts)
    assert "To dig At each of them: Start at the water." in words
    assert "Likeliest tape: lateral 188, rows 375 and 376 beside it" in words
    assert "C1 and C2 by the pivot road" in words
    assert "Small print" not in words
    assert "which together hold 95 in 100." in words


def test_crop_belongs_to_the_route(farm: Path, tmp_path: Path) -> None:
    result = CliRunner().invoke(cli, ["sheets", str(farm), "-o", str(tmp_path / "c.pdf"), "--crop", "up"])
    assert result.exit_code == 2
    assert "--crop: only with --by route" in result.output


def test_parts_of_earlier_years_stand_on_the_first_sheet(farm: Path, tmp_path: Path) -> None:
    with open_season(farm / "season.db") as season, season.writing():
        (tire, gearbox) = (state.id for state in season.states())
        for year, flag in ((2019, tire), (2021, gearbox)):
            season.append(
                [
                    Event(
                        id=f"00000000-0000-4000-8000-00000000{year}",
                        flag=flag,
                        field="parts",
                        value=[{"part": "gear oil", "quantity": 2}],
                        when=datetime(year, 4, 2, tzinfo=UTC),
                        who="Ana",
                        source="test",
                        parents=(),
                    )
                ]
            )
    out = tmp_path / "crew.pdf"
    assert CliRunner().invoke(cli, ["sheets", str(farm), "-o", str(out)]).exit_code == 0
    words = " ".join(text_of(out).split())
    assert "Home field pivot 1, used here in earlier years: 4 x gear oil (2019, 2021)" in words
