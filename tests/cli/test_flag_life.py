"""The life of a flag on the command line: parts, the flag in the ground, photos, undo, history."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner
from PIL import Image

from ringrow.cli.main import cli
from ringrow.errors import SeasonError
from ringrow.farm.flags import Stamp
from ringrow.farm.photo_store import give_photo, writing_photos
from ringrow.farm.readers.photos import read_photo
from ringrow.farm.season import open_season, read_states

if TYPE_CHECKING:
    from pathlib import Path

TIRE = ("--kind", "tire", "--pivot", "Windmill pivot", "--tower", "5")


def run(*words: Any, code: int = 0) -> str:
    result = CliRunner().invoke(cli, ["flag", *map(str, words)])
    assert result.exit_code == code, result.output
    return result.output


@pytest.fixture
def farm(sample_farm: Path) -> Path:
    """Of the sample farm one pivot, quick to read."""
    for path in (sample_farm / "fields").glob("*.toml"):
        if not path.name.startswith("10_"):
            path.unlink()
    (sample_farm / "farm.toml").write_text('name = "Two Windmill Farm"\n', encoding="utf-8")
    return sample_farm


def shown(farm: Path) -> dict[str, Any]:
    plain: dict[str, Any] = json.loads(run("show", farm, "1", "--json"))
    return plain


def picture(path: Path) -> Path:
    Image.new("RGB", (40, 30), (90, 120, 60)).save(path)
    return path


def test_parts_and_the_flag_in_the_ground_from_set_to_pulled(farm: Path) -> None:
    run("add", farm, *TIRE, "--ground-flag", "--who", "Luis")
    assert shown(farm)["flags"][0]["ground_flag"] == "set"
    run("set", farm, "1", "--status", "fixed", "--parts", "1x tire; 2x clamp", "--who", "Ana")
    run("set", farm, "1", "--parts", "2x clamp", "--pulled", "--by", "Eva")
    (flag,) = json.loads(run("list", farm, "--json"))["flags"]
    assert (flag["parts"], flag["ground_flag"], flag["photo_files"]) == (
        [{"part": "tire", "quantity": 1}, {"part": "clamp", "quantity": 4}],
        "pulled",
        [],
    )
    text = run("show", farm, "1")
    assert "parts used: 1 x tire; 4 x clamp" in text
    assert "flag in the ground: pulled out" in text
    history = text[text.index("History") :].splitlines()
    assert [line for line in history if "Luis: flag in the ground = set there  [flag add]" in line]
    assert [line for line in history if "Ana: parts used = 1 x tire; 2 x clamp  [flag set]" in line]
    assert "banderita en el suelo: sacada" in run("show", farm, "1", "--language", "es")


def test_undo_of_parts_and_of_the_flag_in_the_ground(farm: Path) -> None:
    run("add", farm, *TIRE)
    run("set", farm, "1", "--parts", "tire", "--ground-flag")
    run("set", farm, "1", "--parts", "clamp")
    run("undo", farm, "1", "parts")
    assert shown(farm)["flags"][0]["parts"] == [{"part": "tire", "quantity": 1}]
    run("undo", farm, "1", "parts")
    assert len(shown(farm)["flags"][0]["parts"]) == 2
    run("undo", farm, "1", "ground-flag")
    assert shown(farm)["flags"][0]["ground_flag"] is None
    assert "nothing was said about this field" in run("undo", farm, "1", "photo", code=1)
    assert "parts used = the last one taken back" in run("show", farm, "1")


def test_a_photo_taken_back_can_be_given_again(farm: Path, tmp_path: Path) -> None:
    photo = picture(tmp_path / "tire.png")
    run("add", farm, *TIRE, "--photo", photo)
    (file,) = shown(farm)["flags"][0]["photo_files"]
    run("undo", farm, "1", "photo")
    assert shown(farm)["flags"][0]["photo_files"] == []
    assert "kept" in run("set", farm, "1", "--photo", photo)
    assert len(shown(farm)["flags"][0]["photo_files"]) == 1
    assert (farm / file).is_file()


def test_a_flag_whose_photo_cannot_be_kept_is_not_set_at_all(farm: Path, tmp_path: Path) -> None:
    (farm / "photos").write_text("in the way")
    message = run("add", farm, *TIRE, "--photo", picture(tmp_path / "tire.png"), code=1)
    assert "found a link or a file; allowed: a folder of its own for photos" in message
    assert read_states(farm / "season.db") == []
    (farm / "photos").unlink()
    run("add", farm, *TIRE)
    (farm / "photos").write_text("in the way")
    run("set", farm, "1", "--status", "fixed", "--photo", tmp_path / "tire.png", code=1)
    assert read_states(farm / "season.db")[0].status == "open"


def test_no_photo_is_left_behind_when_the_log_cannot_take_the_flag(farm: Path, tmp_path: Path) -> None:
    photo = read_photo(picture(tmp_path / "tire.png"))
    stamp = Stamp(when=datetime(2026, 4, 2, tzinfo=UTC), who="", source="test")
    flag = "00000000-0000-4000-8000-000000000001"
    with open_season(farm / "season.db", create=True) as season:
        # A commit that fails, as on a full disk, after the copy was written.
        season.connection.execute(
            "CREATE TABLE held (b PRIMARY KEY, a REFERENCES held (b) DEFERRABLE INITIALLY DEFERRED)"
        )
        season.connection.execute("PRAGMA foreign_keys = ON")
        with pytest.raises(SeasonError, match="FOREIGN KEY"), writing_photos(season) as wanted:  # noqa: PT012
            assert give_photo(season, [flag], photo, wanted=wanted, stamp=stamp) == [flag]
            season.connection.execute("INSERT INTO held VALUES (1, 7)")
        assert season.events() == []
    assert list((farm / "photos").iterdir()) == []


def test_parts_that_cannot_be_change_nothing(farm: Path) -> None:
    run("add", farm, *TIRE)
    assert 'parts: found "0x tire"; allowed' in run("set", farm, "1", "--parts", "0x tire", code=1)
    assert "nothing to change: give --status" in run("set", farm, "1", code=2)
