"""Broken and hostile files against every reader: one clear message each, never a crash.

A taste of what `tests/fuzz/run.py` does for minutes a reader.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings

from effort import effort
from fuzz.breaking import broken_files
from fuzz.seeds import DATA
from fuzz.targets import TARGETS, try_file

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize("name", TARGETS)
def test_a_broken_file_is_read_or_refused_in_words(
    tmp_path_factory: pytest.TempPathFactory, name: str
) -> None:
    if name in ("track-nmea", "track-gpx") and not DATA.is_dir():
        pytest.skip("the real logs and tracks to be broken lie in a folder that is missing here")
    target = TARGETS[name]
    folder: Path = tmp_path_factory.mktemp("fuzz")
    seeds = target.seeds(folder)

    @settings(max_examples=effort(8 if name == "gpkg" else 25), suppress_health_check=list(HealthCheck))
    @given(broken_files(target, seeds))
    def check(data: bytes) -> None:
        assert try_file(target, data, folder / f"file{target.ending}")

    check()
    # The whole file itself must be taken, or breaking it would prove nothing.
    assert try_file(target, seeds[0], folder / f"file{target.ending}") == "read"
