"""A block along a curve on the map and in exports: its lines, its header and flush lines."""

import math
from pathlib import Path

import numpy as np
import pytest
import shapely

import farms
from ringrow.coverage.layout import lay_out
from ringrow.farm.load import load_farm
from ringrow.geometry.laterals import CurvedGrid, lateral_lines, point_at
from ringrow.handoff.features import farm_features
from ringrow.handoff.map.data import map_data

PLACES = ", ".join(
    f"{{ lat = {36.7536 + 0.0009 * math.sin(math.pi * step / 12):.7f}, lon = {-101.5 + 0.00075 * step:.7f} }}"
    for step in range(13)
)
FIELD = f"""name = "Hill field"
{farms.OUTLINE}
[[drip]]
name = "Hill drip"
line = {{ path = [{PLACES}] }}
row_spacing = 30
rows_per_lateral = 8
headland = 30
[[drip.zone]]
name = "Upper"
laterals = [1, 70]
valve = "H1"
[[drip.zone]]
name = "Lower"
laterals = [71, 143]
"""


@pytest.fixture
def hill(tmp_path: Path):
    """The farm, its one field laid out, and its features."""
    farm = load_farm(farms.write_farm(tmp_path / "hill", fields={"hill.toml": FIELD}))
    layouts = [lay_out(field) for field in farm.fields]
    return farm, layouts, list(farm_features(farm, layouts, []))


def unpacked(data, rings):
    """Longitudes and latitudes of lines as the page's script reads them."""
    west, south = data["bounds"][:2]
    for steps in rings:
        pairs = np.cumsum(np.array(steps).reshape(-1, 2), axis=0)
        yield pairs * data["step"] + (west, south)


def test_page_gets_a_line_for_every_piece_where_it_lies(hill) -> None:
    farm, layouts, groups = hill
    data = map_data(farm, layouts, groups, [])
    drip = layouts[0].drip[0]
    assert isinstance(drip.grid, CurvedGrid)
    (block,) = data["blocks"]
    assert np.cumsum(block["lateral"]).tolist() == drip.grid.piece_lateral.tolist()
    assert len(block["rings"]) == len(drip.grid.piece_lateral)
    assert "origin" not in block
    frame = layouts[0].field.frame
    for line, drawn in zip(lateral_lines(drip.grid), unpacked(data, block["rings"]), strict=True):
        xy = np.column_stack(frame.to_xy(*drawn.T))
        # Drawn to 0.22 m, on steps of 0.11 m.
        assert shapely.distance(shapely.points(xy), line).max() < 0.4
    (ground,) = [area for area in data["areas"] if area["kind"] == "wetted-area"]
    assert "heading_deg" not in ground


def test_header_and_flush_lines_are_features_and_drawn(hill) -> None:
    farm, layouts, groups = hill
    drip, frame = layouts[0].drip[0], layouts[0].field.frame
    by_kind = {group.kind: group for group in groups}
    for kind in ("header", "flush-line"):
        group = by_kind[kind]
        assert group.ids == [f"{kind}:Hill%20field/Hill%20drip/{zone}" for zone in ("Upper", "Lower")]
        assert group.columns["valve"] == ["H1", ""]
        assert group.columns["last_lateral"] == [70, 143]
        for shape, length_ft in zip(group.shapes, group.columns["length_ft"], strict=True):
            x, y = frame.to_xy(*np.array(shape.coords).T)
            length = np.hypot(np.diff(x), np.diff(y)).sum()
            assert length_ft * 0.3048 == pytest.approx(length, rel=1e-7)
    lon, lat = by_kind["header"].shapes[0].coords[0]
    first = int(drip.grid.piece_lateral[0])
    assert np.hstack(frame.to_xy(lon, lat)) == pytest.approx(point_at(drip.grid, first, 0), abs=1e-3)
    data = map_data(farm, layouts, groups, [])
    assert [end["kind"] for end in data["ends"]] == ["header"] * 2 + ["flush-line"] * 2
    assert len(by_kind["lateral"].shapes) == len(drip.grid.piece_lateral)
