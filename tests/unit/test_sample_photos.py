"""The sample farm's photos are what their script draws, and become the flags their captions name."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from click.testing import CliRunner
from PIL import Image

from ringrow.cli.main import cli
from sample_photos import FOLDER, PHOTOS, write

if TYPE_CHECKING:
    from pathlib import Path


def test_shipped_photos_are_those_the_script_writes(tmp_path: Path) -> None:
    write(tmp_path)
    assert [path.name for path in sorted(FOLDER.iterdir())] == [photo.name for photo in PHOTOS]
    for photo in PHOTOS:
        with Image.open(tmp_path / photo.name) as drawn, Image.open(FOLDER / photo.name) as shipped:
            # Bytes depend on the picture library's version; what a reader takes does not.
            assert dict(drawn.getexif().get_ifd(0x8825)) == dict(shipped.getexif().get_ifd(0x8825))
            assert (drawn.size, drawn.getexif()[0x010E]) == (shipped.size, photo.caption)


def test_one_photo_a_fault_makes_one_flag_a_photo(sample_farm: Path) -> None:
    folder = sample_farm / "flags" / "camera_walker_4"
    done = CliRunner().invoke(cli, ["flag", "import", str(sample_farm), str(folder)])
    assert done.exit_code == 0, done.output
    flags = json.loads(CliRunner().invoke(cli, ["flag", "list", str(sample_farm), "--json"]).stdout)["flags"]
    assert {(flag["kind"], flag["field"]) for flag in flags} == {
        ("gearbox", "Windmill quarter"),
        ("burrow", "Windmill quarter"),
        ("leak", "Elevator quarter"),
    }
    assert len(list((sample_farm / "photos").glob("*.jpg"))) == 3
