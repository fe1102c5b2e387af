"""What tests share: the sample farm, real outside data, and how hard hypothesis tries."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from hypothesis import settings

ROOT = Path(__file__).resolve().parents[1]

settings.register_profile("quick", deadline=None, max_examples=25)
# The same examples every time: a change must not fail for what another change broke.
settings.register_profile("ci", settings.get_profile("quick"), derandomize=True, print_blob=True)
settings.register_profile("thorough", deadline=None, max_examples=2_000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if os.environ.get("CI") else "quick"))


@pytest.fixture(scope="session")
def project() -> Path:
    """The project's top folder."""
    return ROOT


@pytest.fixture(scope="session")
def outside_data() -> Path:
    """Real data that nobody on the project made, in the folder beside the project."""
    folder = ROOT.parent / "shared" / "data"
    if not folder.is_dir():
        pytest.skip(f"no data folder beside the project: {folder} is missing")
    return folder


@pytest.fixture
def sample_farm(tmp_path: Path) -> Path:
    """A copy of the sample farm, free to be changed."""
    source = ROOT / "sample_fields" / "two_windmill_farm"
    # A season log left behind by someone trying commands on the sample itself must not leak in.
    return Path(
        shutil.copytree(source, tmp_path / "two_windmill_farm", ignore=shutil.ignore_patterns("season.db*"))
    )
