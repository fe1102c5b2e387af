"""Copying the sample farm: whole, never over something, never over a season log."""

from __future__ import annotations

import errno
import shutil
from typing import TYPE_CHECKING

import pytest

from ringrow.errors import FileError
from ringrow.farm.sample import copy_sample, sample_files, sample_folder

if TYPE_CHECKING:
    from pathlib import Path


def test_every_file_is_copied_as_it_is(tmp_path: Path) -> None:
    written = copy_sample(tmp_path / "farm")
    assert len(written) == len(sample_files())
    for path in sample_files():
        assert (tmp_path / "farm" / path).read_bytes() == (sample_folder() / path).read_bytes()


def test_ten_fields_four_kinds_of_flag_file_and_no_season_log_travel() -> None:
    files = sample_files()
    assert sum(path.parts[0] == "fields" for path in files) == 10
    assert {path.suffix for path in files if path.parts[0] == "flags"} == {
        ".csv",
        ".geojson",
        ".gpx",
        ".jpg",
    }
    assert not any("season" in path.name for path in files)


def test_a_file_in_the_way_is_named_and_nothing_is_written(tmp_path: Path) -> None:
    (tmp_path / "farm.toml").write_text("mine")
    with pytest.raises(FileError, match=r"farm\.toml: already there; .*--overwrite"):
        copy_sample(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["farm.toml"]
    assert (tmp_path / "farm.toml").read_text() == "mine"


def test_overwrite_replaces_the_sample_but_not_the_season_log(tmp_path: Path) -> None:
    (tmp_path / "farm.toml").write_text("old")
    (tmp_path / "season.db").write_text("somebody's flags")
    copy_sample(tmp_path, overwrite=True)
    assert (tmp_path / "farm.toml").read_bytes() == (sample_folder() / "farm.toml").read_bytes()
    assert (tmp_path / "season.db").read_text() == "somebody's flags"


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(FileError, match=r"file/farm: cannot be written \(.*\); name a folder that can"):
        copy_sample(tmp_path / "file" / "farm")


@pytest.mark.parametrize("there", [False, True])
def test_a_disk_that_fills_up_leaves_no_half_farm(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, there: bool
) -> None:
    farm = tmp_path / "farm"
    if there:
        (farm / "fields").mkdir(parents=True)
        (farm / "fields" / "own.txt").write_text("mine")
    before = sorted(tmp_path.rglob("*"))
    copyfile = shutil.copyfile

    def filling(origin: Path, target: Path) -> None:
        copyfile(origin, target)
        if len(list(farm.rglob("*.toml"))) > 3:
            raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(shutil, "copyfile", filling)
    with pytest.raises(FileError, match=r"farm: cannot be written \(No space left on device\)"):
        copy_sample(farm)
    assert sorted(tmp_path.rglob("*")) == before
