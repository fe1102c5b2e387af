"""``ringrow acres``: tables, JSON, messages, and nothing cut off."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
import shapely
from click.testing import CliRunner, Result

from ringrow.cli.main import cli
from ringrow.coverage.acres import FieldAcres, field_acres
from ringrow.coverage.field import Field
from ringrow.coverage.layout import lay_out
from ringrow.equipment.pivot import EndGun, Pivot
from ringrow.farm.model import Repair
from ringrow.frame import Frame
from ringrow.handoff.acres_table import acres_record, acres_table, area_statement, repair_lines
from ringrow.units import ACRE_M2, METRIC, US

if TYPE_CHECKING:
    from pathlib import Path

AREA_KEYS = [
    "field_acres",
    "excluded_acres",
    "farmable_acres",
    "irrigated_acres",
    "dry_acres",
    "overlap_acres",
    "overspray_acres",
    "overspray_outside_acres",
    "overspray_excluded_acres",
]
LONG = "The long quarter behind the second windmill on the county line road, north side"


def run(*words: object) -> Result:
    return CliRunner().invoke(cli, ["acres", *map(str, words)])


def named(name: str, system: str = "P1") -> FieldAcres:
    """A square of 1,000 m with a circle of 450 m and a gun, thrown 50 m over two sides."""
    pivot = Pivot(
        name=system,
        x_m=0,
        y_m=0,
        spans_m=(450.0,),
        end_gun=EndGun(reach_m=60, arcs="always"),
        assumed=("throw taken as 0 ft",),
    )
    field = Field(
        name=name,
        frame=Frame(lon=-101.5, lat=36.75),
        boundary=shapely.box(-500, -500, 500, 500),
        exclusions=shapely.box(-10, -10, 10, 10),
        pivots=(pivot,),
    )
    return field_acres(lay_out(field))


def test_json_has_the_keys_of_the_design(sample_farm: Path) -> None:
    result = run(sample_farm, "--json")
    assert result.exit_code == 0
    record = json.loads(result.stdout)
    assert list(record)[:2] == ["schema", "farm"]
    assert record["schema"] == 1
    for areas in (*record["fields"], record["total"]):
        assert [key for key in areas if key in AREA_KEYS] == AREA_KEYS
        assert areas["irrigated_acres"] + areas["dry_acres"] == pytest.approx(
            areas["farmable_acres"], rel=1e-9
        )
    for field in record["fields"]:
        for system in field["systems"]:
            assert set(system) == {
                *("name", "kind", "wetted_acres", "irrigated_acres"),
                *("end_gun_acres", "corner_arm_acres", "assumed"),
            }
        for piece in field["dry_pieces"]:
            assert set(piece) == {"name", "corner", "acres", "lat", "lon"}
        dry = sum(piece["acres"] for piece in field["dry_pieces"])
        assert dry == pytest.approx(field["dry_acres"], rel=1e-9)
    for key in AREA_KEYS:
        assert record["total"][key] == pytest.approx(sum(field[key] for field in record["fields"]))


def test_json_numbers_are_the_areas() -> None:
    """A circle of 450 m with a ring of 60 m in a square of 1,000 m less a yard of 400 m2, by hand."""
    record = acres_record("Farm", [named("North")], US)
    (field,) = record["fields"]
    assert field["field_acres"] == pytest.approx(1e6 / ACRE_M2, rel=1e-12)
    assert field["excluded_acres"] == pytest.approx(400 / ACRE_M2, rel=1e-12)
    assert field["overspray_excluded_acres"] == pytest.approx(400 / ACRE_M2, rel=1e-9)
    segment = 510**2 * math.acos(500 / 510) - 500 * math.sqrt(510**2 - 500**2)
    assert field["overspray_outside_acres"] == pytest.approx(4 * segment / ACRE_M2, rel=1e-5)
    (system,) = field["systems"]
    assert system["wetted_acres"] == pytest.approx(math.pi * 510**2 / ACRE_M2, rel=1e-9)
    gun = math.pi * (510**2 - 450**2) - 4 * segment
    assert system["end_gun_acres"] == pytest.approx(gun / ACRE_M2, rel=1e-6)
    assert system["corner_arm_acres"] is None
    assert system["assumed"] == ["throw taken as 0 ft"]
    assert field["assumed"] == ["P1: throw taken as 0 ft"]


def test_json_of_a_metric_farm_is_in_hectares() -> None:
    record = acres_record("Farm", [named("North")], METRIC)
    (field,) = record["fields"]
    assert field["field_ha"] == pytest.approx(100.0)
    assert record["total"]["dry_ha"] == field["dry_ha"]
    assert "ha" in field["dry_pieces"][0]
    assert field["neck_m"] == 15.24
    assert not re.search(r"acres|_ft", json.dumps(list(field) + list(field["systems"][0])))
    assert record["areas"] == "Hectares (10,000 m2) are horizontal, on the WGS 84 ellipsoid."


def test_one_field_only(sample_farm: Path) -> None:
    result = run(sample_farm, "--field", "Creek quarter", "--json")
    record = json.loads(result.stdout)
    assert [field["field"] for field in record["fields"]] == ["Creek quarter"]
    assert record["total"]["field_acres"] == record["fields"][0]["field_acres"]


def test_unknown_field_is_told_the_nearest_and_the_list(sample_farm: Path) -> None:
    result = run(sample_farm, "--field", "Creek quartr")
    assert result.exit_code == 1
    assert result.stdout == ""
    assert 'found "Creek quartr"' in result.stderr
    assert 'nearest: "Creek quarter"' in result.stderr
    assert '"Windmill quarter"' in result.stderr
    assert "Traceback" not in result.stderr


def test_missing_farm_is_one_message(tmp_path: Path) -> None:
    result = run(tmp_path / "nowhere")
    assert result.exit_code == 1
    assert "nowhere" in result.stderr
    assert isinstance(result.exception, SystemExit)


def test_table_says_everything_once(sample_farm: Path) -> None:
    result = run(sample_farm)
    assert result.exit_code == 0
    text = result.stdout
    for heading in ("Fields, acres", "Systems, acres", "Dry pieces", "Total"):
        assert heading in text
    assert "Acres are international acres (4,046.8564224 m2), horizontal, on the WGS 84 ellipsoid." in text
    assert "Dry ground narrower than 50 ft is counted as edge strips." in text
    assert "Assumed, because the farm's files do not say:" in text
    assert "panel zero taken as 0 deg" in text
    record = json.loads(run(sample_farm, "--json").stdout)
    for field in record["fields"]:
        line = next(line for line in text.splitlines() if line.startswith(field["field"]))
        for key in ("field_acres", "excluded_acres", "farmable_acres", "irrigated_acres", "dry_acres"):
            assert f"{field[key]:,.2f}" in line.split()
        for system in field["systems"]:
            assert re.search(rf"{system['name']} +{system['kind']} ", text)
    assert max(map(len, text.splitlines())) <= 110


def test_columns_of_the_fields_table_line_up() -> None:
    lines = acres_table([named("North"), named("South forty")], US, width=None).splitlines()
    head = lines.index("Fields, acres") + 2
    rule = lines[head + 1]
    assert set(rule) == {"-"}
    rows = [*lines[head + 2 : head + 4], lines[head + 5]]
    ends = {tuple(found.end() for found in re.finditer(r"\d\S*", row)) for row in rows}
    assert len(ends) == 1


def test_nothing_is_cut_when_not_a_terminal() -> None:
    text = acres_table([named(LONG, system=f"{LONG}, pivot 1")], US, width=None)
    assert f"{LONG}   " in text
    assert f"{LONG}, pivot 1   pivot" in text
    assert "…" not in text
    assert "..." not in text


@pytest.mark.parametrize("width", [72, 80, 100, 120])
def test_terminal_lines_fit_and_wrap_names_without_loss(width: int) -> None:
    text = acres_table([named(LONG, system=f"{LONG}, pivot 1")], US, width=width)
    assert max(map(len, text.splitlines())) <= width
    assert "…" not in text
    # Every number whole, in one line.
    flat = acres_table([named(LONG, system=f"{LONG}, pivot 1")], US, width=None)
    numbers = re.findall(r"-?[\d,]+\.\d+", flat)
    assert sorted(re.findall(r"-?[\d,]+\.\d+", text)) == sorted(numbers)
    # Every word of the name, in order, down the column it is wrapped in.
    table = text[text.index("Fields, acres") : text.index("Watered twice")]
    column = table.splitlines()[4:]
    wrapped = " ".join(
        re.split(r"  +", line)[0].strip() for line in column if not line.startswith(("-", "Total"))
    )
    assert LONG.replace(" ", "") in wrapped.replace(" ", "")


def test_a_narrower_terminal_does_not_break_numbers() -> None:
    text = acres_table([named("North")], US, width=40)
    assert re.search(r"North +247\.11 +0\.10 +247\.01 ", text)


def test_names_are_words_not_markup() -> None:
    text = acres_table([named("[red]North[/red]\x1b[31m", system="[bold]P")], US, width=80)
    assert "[red]North[/red][31m" in text.replace("\n", "")
    assert "[bold]P" in text
    assert "\x1b" not in text


def test_no_overlap_and_no_overspray_is_said_in_a_line() -> None:
    calm = replace(
        named("North"),
        overlap_m2=0.0,
        overspray_m2=0.0,
        overspray_outside_m2=0.0,
        overspray_excluded_m2=0.0,
    )
    text = acres_table([calm], US, width=None)
    assert "No overlap, and no water outside farmable ground." in text
    assert "Watered twice" not in text
    assert "No overlap" not in acres_table([named("North")], US, width=None)


def test_rounding_errors_do_not_read_as_minus_zero() -> None:
    assert "-0.00" not in acres_table([replace(named("North"), dry_m2=-1e-9)], US, width=None)


def test_two_necks_are_both_named() -> None:
    text = acres_table([named("North"), replace(named("South"), neck_m=3.048)], US, width=None)
    assert "Dry ground narrower than 10 or 50 ft (each field by its own) is counted as edge strips." in text


def test_corner_arm_column_shows_when_a_system_has_one() -> None:
    north = named("North")
    armed = replace(north, systems=(replace(north.systems[0], corner_arm_m2=ACRE_M2),))
    assert "Corner arm" not in acres_table([north], US, width=None)
    text = acres_table([armed], US, width=None)
    assert re.search(r"Corner arm\n-+\n.* 1\.00\n", text)


def test_no_fields() -> None:
    assert acres_table([], US, width=80).startswith("No fields.")
    assert acres_record("Farm", [], US)["total"]["dry_acres"] == 0


def test_mended_shapes_and_warnings_are_told_on_stderr(sample_farm: Path) -> None:
    """The sample's first field file gets a bow-tie outline and a machine outside it."""
    (sample_farm / "fields" / "99_bow_tie.toml").write_text(
        'name = "Bow tie"\n'
        "outline = [{ lat = 36.75, lon = -101.46 }, { lat = 36.76, lon = -101.45 }, "
        "{ lat = 36.75, lon = -101.45 }, { lat = 36.76, lon = -101.46 }]\n"
        '[[pivot]]\nname = "Stray pivot"\npoint = { lat = 36.77, lon = -101.455 }\nspans = [150]\n',
        encoding="utf-8",
    )
    result = run(sample_farm, "--field", "Bow tie", "--json")
    assert result.exit_code == 0
    assert "fields/99_bow_tie.toml: outline: mended: The outline crosses itself near " in result.stderr
    assert re.search(r"[\d.]+ acres as drawn, [\d.]+ acres after mending \(\+0\.0000\)", result.stderr)
    assert re.search(r"warning: fields/99_bow_tie\.toml: pivot\[1\]\.point", result.stderr)
    record: dict[str, Any] = json.loads(result.stdout)
    # Two triangles: half of the rectangle of 0.01 by 0.01 degrees, 110.9 x 89.3 m a thousandth.
    assert record["total"]["field_acres"] == pytest.approx(1109.7 * 892.9 / 2 / ACRE_M2, rel=1e-3)


def test_repair_lines_tell_what_moved() -> None:
    repair = Repair(
        file="fields/a.toml",
        key="",
        changes=("Hole 1 lies outside; it was dropped.",),
        area_before_m2=2 * ACRE_M2,
        area_after_m2=ACRE_M2,
    )
    assert repair_lines(repair, US) == [
        "fields/a.toml: mended: Hole 1 lies outside; it was dropped.",
        "fields/a.toml: 2.0000 acres as drawn, 1.0000 acres after mending (-1.0000)",
    ]


def test_area_statement_names_the_acre() -> None:
    assert area_statement(US).startswith("Acres are international acres (4,046.8564224 m2)")
