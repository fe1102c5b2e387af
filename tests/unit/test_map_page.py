"""The map page's parts, one behaviour at a time; the page in a browser is in tests/browser."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import folium
import numpy as np
import pytest
import shapely
from defusedxml.ElementTree import fromstring
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from ringrow.coverage.layout import lay_out
from ringrow.equipment.pivot import Pivot, Sector
from ringrow.errors import FileError
from ringrow.farm.flag_model import Clash, FlagState, LocatedFlag, MachineSpot, WellSpot
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.load import load_farm
from ringrow.farm.model import Contact, Farm
from ringrow.frame import Frame
from ringrow.handoff import cautions, cautions_by_kind
from ringrow.handoff.feature_group import FeatureGroup
from ringrow.handoff.features import farm_features
from ringrow.handoff.field_features import tower_track
from ringrow.handoff.map import leaflet, sections, symbols, words
from ringrow.handoff.map.data import map_data, page_counts
from ringrow.handoff.map.drawing import Guide, draw_map
from ringrow.handoff.map.drawing_labels import acres_words
from ringrow.handoff.map.numbers import json_text, lonlat_polynomial, lonlat_terms
from ringrow.handoff.map.page import map_page
from ringrow.handoff.map.placing import label_box, spread
from ringrow.handoff.map.strips import draw_machine
from ringrow.units import FOOT_M, METRIC, US

if TYPE_CHECKING:
    import xml.etree.ElementTree as ET

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_fields" / "two_windmill_farm"
SVG = "{http://www.w3.org/2000/svg}"


def state(number: int, kind: str, **changes: Any) -> FlagState:
    plain = FlagState(
        id=f"00000000-0000-0000-0000-{number:012d}",
        number=number,
        kind=kind,
        status="open",
        name="",
        note="",
        spot=None,
        flag_class=None,
        set_at=datetime(2026, 3, 1, tzinfo=UTC),
        set_by="walker",
    )
    return replace(plain, **changes)


def on_pivot(number: int, feet: float, **changes: Any) -> FlagState:
    spot = MachineSpot(pivot="Windmill pivot", distance_m=feet * FOOT_M, said=f"{feet} ft")
    return state(number, "gearbox", spot=spot, **changes)


@pytest.fixture(scope="module")
def farm() -> Farm:
    return load_farm(SAMPLE)


@pytest.fixture(scope="module")
def layouts(farm: Farm) -> list[Any]:
    return [lay_out(field) for field in farm.fields]


@pytest.fixture(scope="module")
def flags(farm: Farm, layouts: list[Any]) -> list[LocatedFlag]:
    states = [
        on_pivot(1, 910),
        on_pivot(2, 920, status="fixed"),
        state(3, "panel", spot=WellSpot(well="Home well"), note="<b>&"),
        state(4, "nest", spot=WellSpot(well="Home well"), status="not-a-fault"),
    ]
    return locate_flags(farm, layouts, states)


@pytest.fixture(scope="module")
def page(farm: Farm, layouts: list[Any], flags: list[LocatedFlag]) -> str:
    return map_page(farm, layouts, flags)


# The page as text.


def test_same_farm_gives_the_same_bytes(
    page: str, farm: Farm, layouts: list[Any], flags: list[LocatedFlag]
) -> None:
    assert map_page(farm, layouts, list(reversed(flags))) == page


def test_policy_holds_the_hash_of_every_script_and_style(page: str) -> None:
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', page)
    assert policy is not None
    assert policy[1].startswith("default-src 'none'; ")
    assert "unsafe" not in policy[1]
    assert "http" not in policy[1]
    for kind in ("script", "style"):
        texts = re.findall(rf"<{kind}>(.*?)</{kind}>", page, flags=re.DOTALL)
        assert len(texts) == 2
        for text in texts:
            digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
            assert f"'sha256-{digest}'" in policy[1]


def test_nothing_in_the_page_points_outside(page: str) -> None:
    own = re.sub(r"<script>.*?</script>|<style>.*?</style>|<!--.*?-->", "", page, flags=re.DOTALL)
    assert re.findall(r'(?:src|href)\s*=\s*"(?!#)', own) == []
    assert "sourceMappingURL" not in page
    assert "http://" not in own
    assert "https://" not in own


def test_page_has_language_title_and_free_zoom(page: str) -> None:
    assert page.startswith('<!DOCTYPE html>\n<html lang="en">')
    assert "<title>Two Windmill Farm: map and flags</title>" in page
    assert page.count('name="viewport"') == 1
    assert "user-scalable" not in page
    assert "maximum-scale" not in page


def test_licence_stands_in_a_comment(page: str) -> None:
    comments = re.findall(r"<!--(.*?)-->", page, flags=re.DOTALL)
    assert any("BSD 2-Clause" in text and "Redistributions in binary form" in text for text in comments)


def test_folium_itself_stays_as_it_was(page: str) -> None:
    """An own list on our class, not folium's: another map in the process keeps its links."""
    assert any(name == "leaflet" for name, _ in folium.Map.default_js)
    assert any(name == "leaflet_css" for name, _ in folium.Map.default_css)


def test_text_is_escaped_in_the_page_and_in_the_data(page: str) -> None:
    assert "<b>&" not in page
    assert "&lt;b&gt;&amp;" in page
    assert '"note":"\\u003cb\\u003e\\u0026"' in page


def test_data_reads_back(page: str, flags: list[LocatedFlag]) -> None:
    text = re.search(r'<script type="application/json" id="data">(.*?)</script>', page, flags=re.DOTALL)
    assert text is not None
    data = json.loads(text[1])
    assert [flag["number"] for flag in data["flags"]] == [3, 1, 2, 4]
    assert data["counts"]["flags"] == 4
    assert data["flags"][1]["at"] is None
    assert data["flags"][1]["ring"]["radius_m"] == pytest.approx(910 * FOOT_M, abs=0.001)


def test_a_farm_without_flags_or_drip(farm: Farm, layouts: list[Any]) -> None:
    text = map_page(replace(farm, gate=None, wells=(), contacts=()), layouts[:1], [])
    assert "<p>No flags.</p>" in text
    assert 'id="machines"' not in text
    assert "Whom to call" not in text
    assert 'data-laterals="0"' in text
    assert text.count('<svg class="drawing') == 1


def test_metric_farm_speaks_hectares(farm: Farm, layouts: list[Any]) -> None:
    text = map_page(replace(farm, units=METRIC), layouts[:1], [])
    assert '<h2 id="acres-head">Hectares</h2>' in text
    assert '"words":"100 m"' in text
    # The class of flags is called so whatever the units.
    text = text.replace(words.CLASS_WORDS["acres"], "")
    assert " acres" not in re.sub(r"<script>.*?</script>", "", text, flags=re.DOTALL)


# Small parts.


@given(st.text())
def test_json_in_a_script_element_cannot_end_it(text: str) -> None:
    written = json_text({"note": text})
    assert not set("<>&\u2028\u2029") & set(written)
    assert json.loads(written) == {"note": text}


def test_polynomial_stands_for_the_frame() -> None:
    """Against geographiclib: within 5 mm at 4.5 km from the origin, which is as far as a field may reach."""
    frame = Frame(lon=-101.5, lat=36.75)
    terms = lonlat_polynomial(frame, 4500.0)
    for azimuth in range(0, 360, 15):
        for far_m in (0.0, 400.0, 1600.0, 4500.0):
            x, y = far_m * np.sin(np.radians(azimuth)), far_m * np.cos(np.radians(azimuth))
            row = lonlat_terms(np.array(x), np.array(y))
            true = Geodesic.WGS84.Direct(frame.lat, frame.lon, azimuth, far_m)
            off = Geodesic.WGS84.Inverse(true["lat2"], true["lon2"], row @ terms["lat"], row @ terms["lon"])
            assert off["s12"] < 0.005


def test_leaflet_files_are_the_known_ones() -> None:
    files = leaflet.leaflet_files()
    assert 'version="1.9.4"' in files.script
    assert not re.search(r"\{\{|\{%|</script", files.script)
    assert "Volodymyr Agafonkin" in files.licence


def test_a_changed_library_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(leaflet, "SCRIPT_SHA256", "0" * 64)
    message = r"leaflet\.js in the package .* has the checksum db49d009c841f5ca\.\.\.; allowed: 0000"
    with pytest.raises(FileError, match=message):
        leaflet.leaflet_files()


def test_a_missing_library_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(leaflet, "PACKAGE", "no-such-package")
    with pytest.raises(
        FileError, match=r'the package "no-such-package" cannot be read .*install ringrow again'
    ):
        leaflet.leaflet_files()


@pytest.mark.parametrize("status", list(symbols.FILLS))
def test_number_stands_out_on_its_fill(status: str) -> None:
    """WCAG 2 contrast (formula from memory) of number on fill: 4.5 at least."""

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return float(np.dot([0.2126, 0.7152, 0.0722], linear))

    light, dark = sorted([luminance(symbols.FILLS[status]), luminance(symbols.INKS[status])], reverse=True)
    assert (light + 0.05) / (dark + 0.05) >= 4.5


def test_each_status_has_its_own_shape() -> None:
    drawn = {status: symbols.symbol_svg(status, "") for status in symbols.FILLS}
    shapes = {re.sub(r'fill="[^"]*"', "", text) for text in drawn.values()}
    assert len(shapes) == 4
    assert set(drawn) == set(symbols.STATUS_WORDS)


def test_long_numbers_get_smaller_type() -> None:
    assert 'font-size="16"' in symbols.symbol_svg("open", "99")
    assert 'font-size="12"' in symbols.symbol_svg("open", "100")


def test_unknown_status_is_drawn_as_open() -> None:
    assert symbols.symbol_svg("strange", "1") == symbols.symbol_svg("open", "1")


def test_spread_leaves_lone_symbols_alone() -> None:
    assert spread([(0.0, 0.0), (100.0, 0.0)], gap=40) == [(0.0, 0.0), (100.0, 0.0)]


def test_spread_moves_off_what_is_fixed() -> None:
    ((x, y),) = spread([(5.0, 5.0)], gap=40, fixed=[(5.0, 5.0)])
    assert np.hypot(x - 5, y - 5) == pytest.approx(40)


@given(st.lists(st.tuples(st.floats(0, 300), st.floats(0, 300)), max_size=12))
def test_spread_keeps_symbols_apart_and_near(spots: list[tuple[float, float]]) -> None:
    places = spread(spots, gap=20)
    for index, (x, y) in enumerate(places):
        assert np.hypot(x - spots[index][0], y - spots[index][1]) <= 80 + 1e-6
        for px, py in places[:index]:
            assert np.hypot(x - px, y - py) >= 20 - 1e-5


def test_boxes_meet_when_they_share_ground() -> None:
    box = label_box(["ab"], (0.0, 0.0), size=20)
    assert box.meets(label_box(["ab"], (10.0, 5.0), size=20))
    assert not box.meets(label_box(["ab"], (0.0, 24.1), size=20))


@pytest.mark.parametrize(
    ("properties", "said"),
    [
        ({"acres": 0.123}, "0.12 acres"),
        ({"ha": 432.19}, "432.2 ha"),
        ({"acres": 1234.5}, "1,234 acres"),
        ({}, ""),
    ],
)
def test_acres_in_words(properties: dict[str, float], said: str) -> None:
    assert acres_words(properties) == said


def test_track_of_a_part_circle_is_an_open_arc() -> None:
    pivot = Pivot(name="P", x_m=10, y_m=20, spans_m=(100.0,), sector=Sector(start_deg=90, stop_deg=180))
    arc = tower_track(pivot, 100.0)
    assert arc.length == pytest.approx(np.pi * 50, rel=1e-4)
    assert arc.coords[0] == pytest.approx((110, 20))
    assert arc.coords[-1] == pytest.approx((10, -80))


def test_track_turns_with_true_north() -> None:
    pivot = Pivot(
        name="P", x_m=0, y_m=0, convergence_deg=2.0, spans_m=(100.0,), sector=Sector(start_deg=0, stop_deg=90)
    )
    x, y = tower_track(pivot, 100.0).coords[0]
    assert np.degrees(np.arctan2(x, y)) == pytest.approx(2.0)


def test_clash_of_places_does_not_print_their_values() -> None:
    clash = Clash(field="spot", values=({"lat": 1}, {"lat": 2}))
    assert words.clash_words(clash) == "Two people disagree about spot; the later one is shown."


# Drawings.


def parsed(svg: str) -> ET.Element:
    return fromstring(svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))


def square(side_m: float) -> FeatureGroup:
    frame = Frame(lon=-101.5, lat=36.75)
    half = side_m / 2
    outline = frame.unproject(shapely.box(-half, -half, half, half))
    return FeatureGroup(
        kind="boundary",
        ids=["boundary:a/a"],
        shapes=np.array([outline], dtype=object),
        shared={"field": "a", "name": 'A & B "c"'},
    )


@pytest.mark.parametrize("side_m", [100.0, 805.0, 3218.0])
def test_drawing_is_true_to_scale(side_m: float) -> None:
    """The square's drawn side over the scale bar's drawn length, against what both say: within 0.2 %."""
    root = parsed(draw_map([square(side_m)], [], key="k", title="t"))
    path = next(item for item in root.iter(f"{SVG}path") if item.get("class") == "boundary")
    xs = [float(pair.split()[0]) for pair in re.findall(r"[\d.]+ [\d.]+", path.get("d") or "")]
    px_per_m = (max(xs) - min(xs)) / side_m
    bars = [item.get("d") or "" for item in root.iter(f"{SVG}path") if item.get("class") == "scale"]
    texts = [item.text or "" for item in root.iter(f"{SVG}text") if item.get("class") == "small start"]
    assert len(bars) == len(texts) == 2
    for bar, said in zip(bars, texts, strict=True):
        number, unit = said.split()
        length_m = float(number.replace(",", "")) * (FOOT_M if unit == "ft" else 1.0)
        right = float(re.findall(r"H([\d.]+)", bar)[0])
        assert (right - 20.0) / px_per_m == pytest.approx(length_m, rel=2e-3)


@pytest.mark.parametrize("side_m", [805.0, 6000.0])
def test_drawing_says_how_degrees_become_pixels(side_m: float) -> None:
    """What the page's script adds to a drawing stands within a pixel of what is drawn there."""
    ground = square(side_m)
    # Off the round numbers, so that a rounded origin would show.
    ground.shapes[0] = shapely.transform(ground.shapes[0], lambda lonlat: lonlat + 0.012345678)
    root = parsed(draw_map([ground], [], key="k", title="t"))
    lon, lat, x, y, x_lon, y_lon, x_lat, y_lat = map(float, (root.get("data-px") or "").split())
    path = next(item for item in root.iter(f"{SVG}path") if item.get("class") == "boundary")
    drawn = [tuple(map(float, pair.split())) for pair in re.findall(r"[\d.]+ [\d.]+", path.get("d") or "")]
    for corner, (px, py) in zip(shapely.get_coordinates(ground.shapes[0]), drawn, strict=True):
        east, north = corner[0] - lon, corner[1] - lat
        assert np.hypot(x + east * x_lon + north * x_lat - px, y + east * y_lon + north * y_lat - py) < 1.0


def test_drawing_is_well_formed_and_escaped() -> None:
    svg = draw_map([square(400.0)], [], key="k", title='<"&>', overview=True)
    root = parsed(svg)
    assert root.get("aria-label") == '<"&>'
    assert (next(root.iter(f"{SVG}text")).text or "").startswith("A & B")


def test_nothing_to_draw_is_no_drawing() -> None:
    assert draw_map([], [], key="k", title="t") == ""


def test_everything_stays_on_the_sheet(farm: Farm, layouts: list[Any]) -> None:
    groups = list(farm_features(farm, layouts[:1], [], laterals=False))
    line = layouts[0].field.frame.unproject(shapely.LineString([(-402, 395), (402, 395)]))
    root = parsed(draw_map(groups, [], key="k", title="t", guides=[Guide(label="lateral 1", line=line)]))
    _, _, wide, high = map(float, (root.get("viewBox") or "").split())
    for text in root.iter(f"{SVG}text"):
        if text.get("class") == "name":
            box = label_box(
                [text.text or ""], (float(text.get("x") or 0), float(text.get("y") or 0)), size=24
            )
            assert box.left >= 0
            assert box.right <= wide
            assert 0 <= float(text.get("y") or 0) <= high


def test_machine_line_puts_flags_by_distance(farm: Farm, flags: list[LocatedFlag]) -> None:
    pivot = farm.fields[0].pivots[0]
    riding = [flag for flag in flags if flag.pivot is not None]
    root = parsed(draw_machine(pivot, riding, US, title="t"))
    towers = [text for text in root.iter(f"{SVG}text") if text.get("class") == "tower"]
    assert [text.text for text in towers] == ["1", "2", "3", "4", "5", "6", "7"]
    places = [
        tuple(map(float, re.findall(r"translate\(([\d.]+) ([\d.]+)\)", group.get("transform") or "")[0]))
        for group in root.iter(f"{SVG}g")
        if group.get("class") == "flag"
    ]
    reach_px = float(towers[-1].get("x") or 0) - 34.0
    per_foot = reach_px / (pivot.tower_radii_m[-1] / FOOT_M)
    assert [x for x, _ in places] == pytest.approx([34 + 910 * per_foot, 34 + 920 * per_foot], abs=0.2)
    assert places[0][1] != places[1][1]


# Sections.


def test_rows_stand_under_their_class(layouts: list[Any], flags: list[LocatedFlag]) -> None:
    text = sections.flag_section(flags, layouts, US, {"Windmill quarter": "field-1"})
    assert text.count("<tr data-flag=") == len(flags)
    assert text.count('href="#field-1"') == 2
    head = text.index("Stops a machine or a well")
    assert head < text.index('aria-label="Show flag 1 on the map"')


def test_cautions_end_with_local_codes() -> None:
    text = sections.caution_section([Contact(name="Electrician <x>", phone="580-555-0100")])
    assert "Electrician &lt;x&gt;: 580-555-0100" in text
    assert text.endswith("<p><strong>Local codes and licensed people come first.</strong></p></section>")


def test_every_caution_has_a_row_in_the_docs() -> None:
    rows = (ROOT / "docs" / "cautions.md").read_text(encoding="utf-8")
    assert set(re.findall(r"^\| `(\w+)` \|", rows, flags=re.MULTILINE)) == {
        one.key for one in (*cautions.GENERAL, *cautions_by_kind.WORK)
    }


def test_flags_beside_every_field_stand_on_the_whole_farm(
    farm: Farm, layouts: list[Any], flags: list[LocatedFlag]
) -> None:
    west = replace(flags[2], field=None, lon=-101.52, lat=36.75)
    groups = list(farm_features(farm, layouts, [], laterals=False))
    text = sections.drawing_section(farm, layouts, groups, [west], {})
    whole, *fields = re.findall(r"<figure.*?</figure>", text, flags=re.DOTALL)
    assert 'id="whole-farm"' in whole
    assert whole.count('class="flag"') == 1
    assert not any('class="flag"' in one for one in fields)


def test_key_shows_every_status_and_ground() -> None:
    text = sections.key_section()
    for said in (*symbols.STATUS_WORDS.values(), "Dry piece", "Not farmed", "Watered by an end gun"):
        assert said in text


def test_counts(farm: Farm, layouts: list[Any], flags: list[LocatedFlag]) -> None:
    counts = page_counts(farm, layouts, flags)
    assert counts["pivots"] == 10
    assert counts["wells"] == 6
    assert counts["pieces"] > counts["laterals"] > 900


def test_data_keeps_the_farm_small(farm: Farm, layouts: list[Any]) -> None:
    """Two blocks of 1,400 pieces of tape take a few numbers each, not a line each."""
    groups = list(farm_features(farm, layouts, [], laterals=False))
    blocks = map_data(farm, layouts, groups, [])["blocks"]
    pieces = sum(len(block["lateral"]) for block in blocks)
    assert len(json_text(blocks)) / pieces < 20
