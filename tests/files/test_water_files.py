"""Sprinkler charts and catch cans from CSV: units in the names, decimal commas, clear refusals."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

from ringrow.errors import FileError
from ringrow.farm.water_files import read_cans, read_chart
from ringrow.units import METRIC, US

if TYPE_CHECKING:
    from pathlib import Path


def written(folder: Path, text: str, name: str = "table.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_chart_in_farm_units(tmp_path: Path) -> None:
    path = written(
        tmp_path, "Outlet,Distance,Nozzle,Flow\n2,100,#14,1.5\n\n1,50,#9,\n3,150.5,=HYPERLINK(1),2\n"
    )
    rows = read_chart(path, US)
    assert [(row.outlet, row.nozzle) for row in rows] == [("1", "#9"), ("2", "#14"), ("3", "=HYPERLINK(1)")]
    assert [row.distance_m for row in rows] == pytest.approx([15.24, 30.48, 45.8724])
    assert rows[0].flow_lps is None
    assert rows[1].flow_lps == pytest.approx(1.5 * 3.785411784 / 60)


def test_units_in_names_and_decimal_commas(tmp_path: Path) -> None:
    path = written(tmp_path, "Outlet;Distance (m);Nozzle size;Design flow (gpm)\n1;12,5;A;2,5\n")
    (row,) = read_chart(path, US)
    assert row.distance_m == pytest.approx(12.5)
    assert row.flow_lps == pytest.approx(2.5 * 3.785411784 / 60)


def test_cans_by_depth_and_by_volume(tmp_path: Path) -> None:
    depth = read_cans(written(tmp_path, "can,distance_ft,depth_in\nA,10,0.5\nB,20,-\nC,30,0\n"), METRIC)
    assert [can.name for can in depth] == ["A", "B", "C"]
    assert depth[0].distance_m == pytest.approx(3.048)
    assert [can.depth_mm for can in depth] == [pytest.approx(12.7), None, 0.0]
    volume = read_cans(written(tmp_path, "distance,ml\n10,100\n20,\n"), METRIC, mouth_m=0.1)
    assert volume[0].depth_mm == pytest.approx(100_000 / (math.pi / 4 * 100**2))
    assert (volume[0].name, volume[1].depth_mm) == ("row 2", None)
    bare = read_cans(written(tmp_path, "caught\n0.5\n0.6\n"), US)
    assert [(can.distance_m, can.depth_mm) for can in bare] == [
        (None, pytest.approx(12.7)),
        (None, pytest.approx(15.24)),
    ]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "found an empty file"),
        ("outlet,nozzle\n1,A\n", 'no column for distance among "outlet", "nozzle"'),
        ("outlet,distance,nozzle\n", "found no outlets"),
        ("outlet,distance,nozzle\n1,,A\n", "row 2: distance: found nothing"),
        ("outlet,distance,nozzle\n1,far,A\n", 'row 2: distance: found "far"'),
        ("outlet,distance,nozzle\n1,-4,A\n", 'found "-4"; allowed: a number, 0 or more'),
        ("outlet,distance,nozzle\n1,nan,A\n", 'found "nan"'),
    ],
)
def test_charts_that_cannot_be_read(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(FileError, match=message):
        read_chart(written(tmp_path, text), US)


def test_cans_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(FileError, match='no column "depth" or "ml"'):
        read_cans(written(tmp_path, "distance\n10\n"), US)
    with pytest.raises(FileError, match="found volumes in ml"):
        read_cans(written(tmp_path, "distance,ml\n10,5\n"), US)
    with pytest.raises(FileError, match="found no such file"):
        read_cans(tmp_path / "none.csv", US)
