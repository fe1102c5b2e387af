"""Whatever people write comes back: any text through each kind of file, any text as a safe cell."""

from __future__ import annotations

import re
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from effort import effort
from exported import book, ground, plan_of
from ringrow.farm.readers.own import as_carried, plain_cell, safe_cell

SMALL = """name = "Home"
outline = [
    { lat = 36.75, lon = -101.5 },
    { lat = 36.75, lon = -101.491 },
    { lat = 36.7572, lon = -101.491 },
]
"""

notes = st.text(max_size=60) | st.text(alphabet="=+-@';|\t\r\n\"<&>]\x07\x0b\x85\u2028 añ🌾", max_size=30)
cells = st.text(alphabet="=+-@';|\t\r\n a=\u200b\ufeff\x0b\x1c\x85\uff1d", max_size=30) | st.text(max_size=60)


def farm_folder(folder: Path) -> Path:
    (folder / "fields").mkdir()
    (folder / "farm.toml").write_text('name = "F"\n', encoding="utf-8")
    (folder / "fields" / "home.toml").write_text(SMALL, encoding="utf-8")
    return folder


@given(
    st.lists(notes, min_size=4, max_size=15), st.sampled_from([".gpx", ".csv", ".kml", ".gpkg", ".geojson"])
)
@settings(max_examples=effort(14), suppress_health_check=[HealthCheck.too_slow])
def test_any_note_comes_back_unchanged(texts: list[str], ending: str) -> None:
    with TemporaryDirectory() as folder:
        root = farm_folder(Path(folder))
        spots = [(ground(36.75 + n / 1000, -101.5), "rock", "", note) for n, note in enumerate(texts)]
        farm = book(root, spots)
        farm.export(root / f"out{ending}")
        plan = plan_of(root / f"out{ending}", farm)
    assert plan.events == ()
    assert [outcome.result for outcome in plan.outcomes] == ["already there"] * len(texts)


@given(cells)
@settings(max_examples=effort(500))
def test_safe_cells_are_undone_and_begin_no_formula(text: str) -> None:
    safe = safe_cell(text)
    assert plain_cell(safe) == text
    blank = "".join(map(chr, range(33))) + "\x85\xa0\u200b\ufeff"
    for piece in re.split(r"[;|\t\r\n]", safe):
        assert piece.strip(blank)[:1] not in tuple("=+-@\uff1d\uff0b\uff0d\uff20")


@given(cells)
def test_what_a_file_carries_is_carried_again(text: str) -> None:
    assert as_carried(as_carried(text)) == as_carried(text)
    assert as_carried(f" {text}\r\n") == as_carried(text)
