"""Bad farms: each fault names its file, its key, what was found, what is allowed and what to do."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from bad_farm import AT, HEAD, ZONES, Bad, bounded, check_bad, drip, pivot, the_fault
from farms import (
    DRIP,
    EAST,
    FARM_TOML,
    FIELD,
    HOME,
    NORTH,
    OUTLINE,
    PIVOT,
    SOUTH,
    WEST,
    collection,
    rectangle,
    write_farm,
)
from ringrow.errors import FarmFileError
from ringrow.farm.load import inspect_farm, load_farm

if TYPE_CHECKING:
    from pathlib import Path


BAD = [
    # TOML and structure
    Bad(
        "broken TOML",
        "line 3",
        r"broken TOML at line 3, column 9 .*: wrong =",
        "TOML",
        "look at this line",
        home='name = "a"\n\nwrong = \n',
    ),
    Bad(
        "text without quotes",
        "line 1",
        "line 1, column 8",
        "TOML",
        "put text in quotes",
        home="name = Home\n",
    ),
    Bad("a key twice", "line 2", "overwrite", "TOML", "only once", home='name = "a"\nname = "b"\n'),
    Bad(
        "broken farm.toml",
        "line 2",
        "line 2",
        "TOML",
        "look at this line",
        file="farm.toml",
        farm='name = "a"\n[[well\n',
    ),
    Bad(
        "wrong encoding",
        "line 2",
        "not UTF-8",
        "UTF-8",
        "save it again as UTF-8",
        home='name = "a"\n# Ca\u00f1on\n'.encode("latin-1"),
    ),
    Bad(
        "a huge file",
        "",
        r"2\.5 MB",
        "at most 2 MB",
        "shapes folder",
        home=f'name = "a"\n# {"x" * 2_500_000}\n',
    ),
    Bad(
        "unknown key",
        "pivot[1].overhangs",
        'unknown key "overhangs"',
        '"overhang"',
        'did you mean "overhang"',
        home=pivot(overhangs="40"),
    ),
    Bad(
        "key below the table it belongs above",
        "pivot[1].setback",
        'unknown key "setback"',
        '"spans"',
        r'"setback" belongs above the first \[\[pivot\]\]',
        home=f"{FIELD}setback = 30\n",
    ),
    Bad(
        "key of the pivot below its gun",
        "pivot[1].end_gun.panel_zero",
        "unknown key",
        '"reach"',
        r'"panel_zero" belongs above \[pivot\.end_gun\]',
        home=f"{FIELD}[pivot.end_gun]\nreach = 90\npanel_zero = 9\n",
    ),
    Bad(
        "key of the gun in the pivot",
        "pivot[1].reach",
        "unknown key",
        '"spans"',
        r'"reach" belongs under \[pivot\.end_gun\]',
        home=pivot(reach="90"),
    ),
    Bad(
        "key of the pivot in the field",
        "spans",
        "unknown key",
        '"boundary"',
        r'"spans" belongs under \[\[pivot\]\]',
        home=f"spans = [100]\n{FIELD}",
    ),
    Bad(
        "key of farm.toml in a field",
        "units",
        "unknown key",
        '"boundary"',
        r'"units" belongs in farm\.toml',
        home=f'units = "us"\n{FIELD}',
    ),
    Bad(
        "one bracket",
        "pivot",
        "a table",
        "a list of",
        r"write \[\[pivot\]\] with two brackets",
        home=f"{HEAD}[pivot]\n{AT}spans = [100]\n",
    ),
    Bad(
        "text for number",
        "pivot[1].overhang",
        '"40 ft"',
        "a number of ft, at least 0 and at most 300",
        "the number alone",
        home=pivot(overhang='"40 ft"'),
    ),
    Bad(
        "number in quotes",
        "pivot[1].spans[2]",
        '"180"',
        "above 0 and at most 400",
        "without quotes: 180",
        home=pivot(spans='[180, "180"]'),
    ),
    Bad(
        "bool for number",
        "pivot[1].throw",
        "true",
        "a number of ft",
        "write a number",
        home=pivot(throw="true"),
    ),
    Bad("number for text", "name", "40", "a name", 'in quotes: "40"', home=f"name = 40\n{OUTLINE}"),
    Bad("empty name", "name", '" "', "1 to 80 letters", home=f'name = " "\n{OUTLINE}'),
    Bad("nan", "pivot[1].flow", "nan", "a number of gpm, above 0", home=pivot(flow="nan")),
    Bad("inf", "pivot[1].pressure", "inf", "a number of psi, at least 0", home=pivot(pressure="inf")),
    Bad(
        "a number of 400 digits",
        "pivot[1].flow",
        "whole number",
        "a number of gpm",
        home=pivot(flow="9" * 401),
    ),
    Bad(
        "word that is none of the choices",
        "well[1].power",
        '"electrik"',
        '"electric" or "engine"',
        'did you mean "electric"',
        file="farm.toml",
        farm=f'{FARM_TOML}[[well]]\nname = "W"\nat = {{ lat = 36.7, lon = -101.5 }}\npower = "electrik"\n',
    ),
    Bad(
        "units that are none",
        "units",
        '"imperial"',
        '"us" or "metric"',
        file="farm.toml",
        farm=f'{FARM_TOML}units = "imperial"\n',
    ),
    Bad(
        "accuracy nobody can read",
        "defaults.accuracy",
        '"good"',
        r'such as "16 ft r95"',
        file="farm.toml",
        farm=f'{FARM_TOML}[defaults]\naccuracy = "good"\n',
    ),
    Bad("no farm name", "name", "nothing", "a name", 'name = "..."', file="farm.toml", farm='units = "us"\n'),
    # Names across files
    Bad(
        "two fields of one name",
        "name",
        r'"home FIELD", which fields/home\.toml has too',
        "field names unique",
        "another name",
        file="fields/other.toml",
        more={"other": f'name = "home FIELD"\n{OUTLINE}'},
    ),
    Bad(
        "two pivots of one name",
        "pivot[2].name",
        r'"P", which fields/home\.toml: pivot\[1\] has too',
        "pivot names unique",
        home=f'{HEAD}{PIVOT}name = "P"\n{PIVOT}name = "P"\n',
        hint="another name",
    ),
    Bad(
        "a name like another's default",
        "pivot[2].name",
        r'"Home field pivot 1", which',
        "unique",
        "another name",
        home=f'{HEAD}{PIVOT}{PIVOT}name = "Home field pivot 1"\n',
    ),
    Bad(
        "well serves nobody",
        "well[1].serves[2]",
        '"Home pivot", which is no pivot, lateral move or drip block',
        'one of "Home field pivot 1"',
        "did you mean",
        file="farm.toml",
        farm=f'{FARM_TOML}[[well]]\nname = "W"\nat = {{ lat = 36.75, lon = -101.5 }}\n'
        'serves = ["Home field pivot 1", "Home pivot"]\n',
    ),
    Bad(
        "two wells of one name",
        "well[2].name",
        '"W", which',
        "well names unique",
        "another name",
        file="farm.toml",
        farm=FARM_TOML + '[[well]]\nname = "W"\nat = { lat = 36.75, lon = -101.5 }\n' * 2,
    ),
    Bad(
        "new kind without a place",
        "kind[1].on",
        "nothing",
        '"ground", "machine" or "works"',
        "must say",
        file="farm.toml",
        farm=f'{FARM_TOML}[[kind]]\nname = "fence"\n',
    ),
    Bad(
        "our kind moved elsewhere",
        "kind[1].on",
        '"works"',
        '"ground", where burrow sits',
        "a name of its own",
        file="farm.toml",
        farm=f'{FARM_TOML}[[kind]]\nname = "burrow"\non = "works"\n',
    ),
]


@pytest.mark.parametrize("bad", BAD, ids=lambda bad: bad.name)
def test_bad_farm(bad: Bad, tmp_path: Path) -> None:
    check_bad(bad, tmp_path)


def test_rows_have_names_of_their_own() -> None:
    assert len({bad.name for bad in BAD}) == len(BAD) >= 30


def test_folder_that_is_not_there(tmp_path: Path) -> None:
    fault = the_fault(tmp_path / "no-farm")
    assert (fault.file, fault.key) == (str(tmp_path / "no-farm"), "")
    assert "nothing at this path" in fault.found
    assert "ringrow new" in fault.hint


def test_file_in_place_of_a_folder(tmp_path: Path) -> None:
    path = tmp_path / "farm.toml"
    path.write_text(FARM_TOML)
    assert "a file at this path" in the_fault(path).found


def test_missing_farm_toml(tmp_path: Path) -> None:
    fault = the_fault(write_farm(tmp_path, farm_toml=""))
    assert (fault.file, fault.found) == ("farm.toml", "no such file")
    assert "ringrow new DIR" in fault.hint


def test_missing_farm_toml_one_folder_too_high(tmp_path: Path) -> None:
    write_farm(tmp_path / "my-farm")
    hints = [fault.hint for fault in inspect_farm(tmp_path).findings.faults]
    assert "is my-farm in it the farm?" in hints


def test_empty_fields_folder(tmp_path: Path) -> None:
    fault = the_fault(write_farm(tmp_path, fields={}))
    assert (fault.file, fault.found) == ("fields", "no field file")


def test_a_pivot_point_on_the_fence_line_is_no_matter(tmp_path: Path) -> None:
    """0.6 m north of the boundary is on it, 2.2 m is not."""
    for number, (aside_deg, warnings) in enumerate([(5e-6, 0), (2e-5, 1)]):
        point = f"{{ lat = {NORTH + aside_deg}, lon = -101.4955 }}"
        folder = write_farm(tmp_path / str(number), fields={"a": pivot(point=point)})
        assert len(load_farm(folder).warnings) == warnings


WARNED = [
    (
        "pivot outside",
        pivot(point=f"{{ lat = {NORTH + 0.001}, lon = -101.4955 }}"),
        {},
        "pivot[1].point",
        r"364 ft outside the boundary",
        "look at point and boundary",
    ),
    (
        "laterals in no zone",
        drip(ZONES.format("[1, 264]", "[270, 524]")),
        {},
        "drip[1].zone",
        r"5 of 524 laterals in no zone \(265-269\)",
        "give them to a zone",
    ),
    (
        "exclusion elsewhere",
        f'{HEAD}exclusions = [{{ file = "shapes/a.geojson" }}]\n',
        {"a.geojson": collection((rectangle(-101.4, 36.7, -101.39, 36.71), {}))},
        "exclusions[1]",
        "does not touch the field",
        "where",
    ),
    (
        "points beside polygons",
        bounded(),
        {"a.geojson": collection((HOME, {}), ({"type": "Point", "coordinates": [0, 0]}, {}))},
        "boundary.file",
        "a point left out",
        "",
    ),
    (
        "closed line",
        bounded(),
        {"a.geojson": collection(({"type": "LineString", "coordinates": HOME["coordinates"][0]}, {}))},
        "boundary.file",
        r"a line taken as an outline, its ends lie 0\.0 m apart",
        "",
    ),
    (
        "open ring",
        bounded(),
        {"a.geojson": collection(({"type": "Polygon", "coordinates": [HOME["coordinates"][0][:-1]]}, {}))},
        "boundary.file",
        "feature 1: a ring that does not end where it began, closed",
        "",
    ),
    (
        "gun that adds nothing",
        f"{FIELD}end_gun = {{ reach = 15 }}\n",
        {},
        "pivot[1].end_gun",
        "reach 15 ft, no more than throw 20 ft",
        "adds no ground",
    ),
    (
        "gun arc outside the sector",
        f"{FIELD}sector = {{ start = 90, stop = 270 }}\n"
        f"end_gun = {{ reach = 90, arcs = [{{ start = 60, stop = 120 }}] }}\n",
        {},
        "pivot[1].end_gun.arcs[1]",
        "60 to 120",
        "does not count",
    ),
    (
        "drip area over the fence",
        drip(area="{ file = 'shapes/a.geojson' }"),
        {"a.geojson": collection((rectangle(WEST - 0.001, SOUTH, EAST, NORTH), {}))},
        "drip[1].area",
        r"17\.\d+ acres of it outside",
        "map",
    ),
]


@pytest.mark.parametrize(
    ("name", "home", "shapes", "key", "found", "hint"), WARNED, ids=lambda value: str(value)[:30]
)
def test_legal_but_odd(
    name: str, home: str, shapes: dict[str, str], key: str, found: str, hint: str, tmp_path: Path
) -> None:
    farm = load_farm(write_farm(tmp_path, fields={"home": home}, shapes=shapes))
    (warning,) = farm.warnings
    assert (warning.file, warning.key) == ("fields/home.toml", key)
    assert re.search(found, warning.found), warning
    assert hint in warning.hint


def test_file_that_is_not_read_is_warned_of(tmp_path: Path) -> None:
    farm = load_farm(write_farm(tmp_path, fields={"home": FIELD, "north.toml.txt": FIELD, ".hidden": ""}))
    (warning,) = farm.warnings
    assert (warning.file, warning.found) == ("fields/north.toml.txt", "a file that is not read")
    assert "rename it" in warning.hint


def test_well_on_another_continent_is_warned_of(tmp_path: Path) -> None:
    text = f'{FARM_TOML}[[well]]\nname = "W"\nat = {{ lat = 36.75, lon = 101.5 }}\n'
    (warning,) = load_farm(write_farm(tmp_path, text)).warnings
    assert (warning.file, warning.key) == ("farm.toml", "well[1].at")
    assert re.search(r"\d{4,5} km from the nearest field", warning.found)


MANY = {
    "bad": "name = Unquoted\n",
    "east": f'name = "East"\n{OUTLINE}\n[[pivot]]\n{AT}spans = [-1, 180]\n'
    "sector = { start = 5, stop = 5 }\n"
    f"[[pivot]]\nsspans = [180]\n{AT}\n[[pivot]]\npoint = {{ lat = 40, lon = -101.4955 }}\nspans = [180]\n",
    "west": f'name = "East"\n{bounded(file="none.geojson").split(chr(10), 1)[1]}{DRIP}'
    'depth = "12"\nheader = "up"\n'
    f"[[drip.zone]]\nlaterals = [1, 9]\n[[drip.zone]]\nlaterals = [9, 4]\n",
}


def test_all_faults_of_all_files_in_one_run(tmp_path: Path) -> None:
    """One slip hides no other: structure, ranges, rules, names and shapes are told together."""
    text = 'nam = "Farm"\n[[well]]\nname = "W"\nat = { lat = 1 }\n'
    faults = inspect_farm(write_farm(tmp_path, text, dict(MANY))).findings.faults
    assert {(fault.file, fault.key) for fault in faults} == {
        ("farm.toml", "nam"),
        ("farm.toml", "name"),
        ("farm.toml", "well[1].at.lon"),
        ("fields/bad.toml", "line 1"),
        ("fields/east.toml", "pivot[1].spans[1]"),
        ("fields/east.toml", "pivot[1].sector"),
        ("fields/east.toml", "pivot[2].sspans"),
        ("fields/east.toml", "pivot[2].spans"),
        ("fields/east.toml", "pivot[3].point"),
        ("fields/west.toml", "name"),
        ("fields/west.toml", "boundary.file"),
        ("fields/west.toml", "drip[1].depth"),
        ("fields/west.toml", "drip[1].header"),
        ("fields/west.toml", "drip[1].zone[2].laterals"),
    }
    assert [fault.file for fault in faults] == sorted(
        (fault.file for fault in faults), key=lambda file: (file != "farm.toml", file)
    )


def snapshot(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder with its content."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_checking_writes_nothing(tmp_path: Path, outside_data: Path) -> None:
    gpkg = (outside_data / "us_fields.gpkg").read_bytes()
    fields = {
        **MANY,
        "real": 'name = "R"\nboundary = { file = "shapes/us.gpkg", where = { CSBID = "351724000000001" } }\n',
    }
    farm = write_farm(tmp_path, fields=fields, shapes={"us.gpkg": gpkg})
    before = snapshot(farm)
    with pytest.raises(FarmFileError, match=r"bad\.toml"):
        load_farm(farm)
    assert snapshot(farm) == before


def test_wrong_units_make_no_false_range_faults(tmp_path: Path) -> None:
    """Spans of 180 are right in feet and wrong in metres; without units only `units` is at fault."""
    assert the_fault(write_farm(tmp_path, f'{FARM_TOML}units = "feet"\n')).key == "units"


def test_feet_in_a_metric_farm(tmp_path: Path) -> None:
    faults = inspect_farm(write_farm(tmp_path, f'{FARM_TOML}units = "metric"\n')).findings.faults
    assert [fault.key for fault in faults] == [f"pivot[1].spans[{n}]" for n in range(1, 8)]
    assert faults[0].allowed == "a number of m, above 0 and at most 121.9"


def test_message_of_the_error_holds_every_fault(tmp_path: Path) -> None:
    farm = write_farm(tmp_path, fields=dict(MANY))
    with pytest.raises(
        FarmFileError, match=r"(?s)fields/bad\.toml: line 1.*fields/west\.toml: drip\[1\]\.zone\[2\]"
    ):
        load_farm(farm)
