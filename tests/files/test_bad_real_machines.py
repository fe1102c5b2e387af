"""Bad corner arms, bends, towed machines, lateral moves, panel readings, and what guns keep off."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

import pytest

from bad_farm import AT, HEAD, ZONES, Bad, check_bad, drip, pivot
from farms import CENTRE, DRIP, EAST, FARM_TOML, FIELD, collection, rectangle, write_farm
from ringrow.errors import FarmFileError
from ringrow.farm.load import load_farm

if TYPE_CHECKING:
    from pathlib import Path

ARM = '{ length = 262, side = "trailing", fold = 90, open = 165 }'
SPANS = "[180, 180, 180, 180]"
TURN = "{ start = 20, stop = 310 }"
PLACE = "lat = 36.752, lon = -101.498"
OTHER = "lat = 36.755, lon = -101.498"
PATH = "[{ lat = 36.7505, lon = -101.4955 }, { lat = 36.7565, lon = -101.4955 }]"


def bow(rise: float) -> list[str]:
    """Return points from west to east on a bow that rises north in the middle by so many degrees."""
    shares = [step / 20 for step in range(21)]
    return [
        f"{{ lat = {36.7525 + rise * math.sin(math.pi * share):.7f}, lon = {-101.5 + 0.009 * share:.7f} }}"
        for share in shares
    ]


GENTLE, TIGHT = bow(0.0001), bow(0.0018)


def arm(keys: str = ARM, **more: str) -> str:
    """Return a field with one pivot that has a corner arm."""
    return pivot(spans=SPANS, corner_arm=keys, **more)


def bent(*bends: str, **more: str) -> str:
    """Return a field with one part circle that bends."""
    keys = {"spans": SPANS, "sector": TURN, **more}
    return pivot(**keys) + "".join(f"[[pivot.bend]]\n{bend}\n" for bend in bends)


def towed(*points: str, **more: str) -> str:
    """Return a field with one machine that is towed between points."""
    rows = ", ".join(f"{{ {point} }}" for point in points)
    return pivot(point="", spans="[120, 120]", points=f"[{rows}]", **more)


def move(**keys: str) -> str:
    """Return a field with one lateral move, keys replaced, added or (empty) left out."""
    given = {"path": PATH, "left": "{ spans = [150, 150] }", **keys}
    return f"{HEAD}[[lateral_move]]\n" + "".join(f"{k} = {v}\n" for k, v in given.items() if v)


def keep_off(*shapes: str) -> str:
    """Return a field that names what guns keep off."""
    return FIELD.replace("[[pivot]]", f"keep_off = [{', '.join(shapes)}]\n[[pivot]]")


def lines(*rows: list[list[float]]) -> str:
    """Return a GeoJSON file of lines."""
    return collection(*(({"type": "LineString", "coordinates": row}, {}) for row in rows))


BAD = [
    # Corner arms
    Bad(
        "corner arm and overhang",
        "pivot[1].overhang",
        "overhang 46 beside a corner arm",
        "hinged at the last tower",
        r"corner_arm\.overhang",
        home=arm(overhang="46"),
    ),
    Bad(
        "corner arm and end gun",
        "pivot[1].end_gun",
        "end_gun beside a corner arm",
        "a corner arm, or overhang, end_gun and bend",
        r"move it to \[pivot\.corner_arm\.end_gun\]",
        home=arm(end_gun="{ reach = 90 }"),
    ),
    Bad(
        "corner arm and bend",
        "pivot[1].bend",
        "bend beside a corner arm",
        "a corner arm, or",
        "does not bend",
        home=arm(sector=TURN, bend='[{ tower = 2, at = "stop", sweep = 70 }]'),
    ),
    Bad(
        "arm opens less than it folds",
        "pivot[1].corner_arm.open",
        "open 90 and fold 165",
        "wider than the fold",
        "180 is straight",
        home=arm(ARM.replace("fold = 90, open = 165", "fold = 165, open = 90")),
    ),
    Bad(
        "arm opens past straight",
        "pivot[1].corner_arm.open",
        "195",
        "above 0 and at most 180",
        home=arm(ARM.replace("165", "195")),
    ),
    Bad(
        "arm folded to nothing",
        "pivot[1].corner_arm.fold",
        "0",
        "above 0 and below 180",
        home=arm(ARM.replace("fold = 90", "fold = 0")),
    ),
    Bad(
        "arm longer than its machine",
        "pivot[1].corner_arm.length",
        "an arm of 490 on a main pipe of 360",
        "no longer than the main pipe",
        "hinge at the last tower",
        home=pivot(corner_arm=ARM.replace("262", "450, overhang = 40")),
    ),
    Bad(
        "arm of a mile",
        "pivot[1].corner_arm.length",
        "5280",
        "at most 500",
        home=arm(ARM.replace("262", "5280")),
    ),
    Bad(
        "arm on a side that is none",
        "pivot[1].corner_arm.side",
        '"trail"',
        '"trailing" or "leading"',
        'did you mean "trailing"',
        home=arm(ARM.replace("trailing", "trail")),
    ),
    Bad(
        "arm without a side",
        "pivot[1].corner_arm.side",
        "nothing",
        '"trailing" or "leading"',
        home=arm(ARM.replace('side = "trailing", ', "")),
    ),
    Bad(
        "arm that opens at once",
        "pivot[1].corner_arm.open_rate",
        "300",
        "a number of deg per deg, at least 0.1 and at most 30",
        home=arm(ARM.replace("open = 165", "open = 165, open_rate = 300")),
    ),
    Bad(
        "gun on the arm without reach",
        "pivot[1].corner_arm.end_gun.reach",
        "nothing",
        "reach or wetted_radius",
        "75 %",
        home=arm(ARM.replace("open = 165", "open = 165, end_gun = {}")),
    ),
    Bad(
        "arm misspelled",
        "pivot[1].corner_arms",
        'unknown key "corner_arms"',
        '"corner_arm"',
        'did you mean "corner_arm"',
        home=pivot(spans=SPANS, corner_arms=ARM),
    ),
    # Bends
    Bad(
        "bend on a full circle",
        "pivot[1].bend",
        "a bend on a full circle",
        "bends with a sector",
        "add sector",
        home=bent('tower = 2\nat = "stop"\nsweep = 70', sector=""),
    ),
    Bad(
        "bend at the last tower",
        "pivot[1].bend[1].tower",
        "4",
        "1 to 3, as it has 4 towers",
        "nothing walks on past tower 4",
        home=bent('tower = 4\nat = "stop"\nsweep = 70'),
    ),
    Bad(
        "bend on a machine of one tower",
        "pivot[1].bend[1].tower",
        "1",
        "a longer machine",
        "count from the pivot point",
        home=bent('tower = 1\nat = "stop"\nsweep = 70', spans="[180]"),
    ),
    Bad(
        "outer bend first",
        "pivot[1].bend[2].tower",
        r"tower 2 after tower 3 of bend\[1\]",
        "rising towers at the stop",
        "inner bend first",
        home=bent('tower = 3\nat = "stop"\nsweep = 70', 'tower = 2\nat = "stop"\nsweep = 30'),
    ),
    Bad(
        "two bends at one tower",
        "pivot[1].bend[2].tower",
        "tower 2 after tower 2",
        "rising towers at the start",
        "one bend a tower",
        home=bent('tower = 2\nat = "start"\nsweep = 70', 'tower = 2\nat = "start"\nsweep = 30'),
    ),
    Bad(
        "bend past half a turn",
        "pivot[1].bend[1].sweep",
        "200",
        "above 0 and at most 180",
        home=bent('tower = 2\nat = "stop"\nsweep = 200'),
    ),
    Bad(
        "bend at neither stop",
        "pivot[1].bend[1].at",
        '"end"',
        '"stop" or "start"',
        home=bent('tower = 2\nat = "end"\nsweep = 70'),
    ),
    Bad(
        "bend before the first tower",
        "pivot[1].bend[1].tower",
        "0",
        "from 1 to 59",
        home=bent('tower = 0\nat = "stop"\nsweep = 70'),
    ),
    Bad(
        "bend in single brackets",
        "pivot[1].bend",
        "a table",
        "a list of at most 20",
        "two brackets",
        home=pivot(spans=SPANS, sector=TURN) + '[pivot.bend]\ntower = 2\nat = "stop"\nsweep = 70\n',
    ),
    # Towed machines
    Bad(
        "point and points",
        "pivot[1].points",
        "point and points",
        "one of them",
        "take one out",
        home=pivot(points=f"[{{ {PLACE} }}]"),
    ),
    Bad(
        "towed to nowhere",
        "pivot[1].points",
        "a list of 0",
        "a list of 1 or more",
        home=pivot(point="", points="[]"),
    ),
    Bad(
        "towed to one place twice",
        "pivot[1].points[2]",
        r"the same place as points\[1\]",
        "a place of its own",
        "take one out",
        home=towed(PLACE, PLACE),
    ),
    Bad(
        "towed 20 km",
        "pivot[1].points[2]",
        r"\d+ km from the boundary",
        "at most 10 km from it",
        "west longitudes",
        home=towed(PLACE, "lat = 36.952, lon = -101.498"),
    ),
    Bad(
        "parked at two points",
        "pivot[1].points[2]",
        r"parked here and at points\[1\]",
        "one point where the machine stands now",
        "take one out",
        home=towed(f"{PLACE}, parked = 10", f"{OTHER}, parked_panel = 20"),
    ),
    Bad(
        "parked, but where",
        "pivot[1].parked",
        "parked beside points",
        "in the point that it was seen at",
        "in its row of points",
        home=towed(PLACE, OTHER, parked="10"),
    ),
    Bad(
        "road of a towed machine, but to which point",
        "pivot[1].pivot_road",
        "pivot_road beside points",
        "in the point that it leads to",
        "in its row of points",
        home=towed(PLACE, OTHER, pivot_road=f"[{{ {PLACE} }}]"),
    ),
    Bad(
        "road that goes nowhere",
        "pivot[1].pivot_road",
        "a road that begins and ends at the pivot point",
        "a road from the field's edge to the pivot point",
        "where it leaves the field's edge",
        home=pivot(pivot_road=f"[{{ lat = {CENTRE[0]}, lon = {CENTRE[1]} }}]"),
    ),
    Bad(
        "road with a sign missing",
        "pivot[1].pivot_road",
        r"a road \d+ km from the boundary",
        "at most 10 km from it",
        "west longitudes",
        home=pivot(pivot_road="[{ lat = 36.9, lon = -101.5 }, { lat = 36.91, lon = -101.5 }]"),
    ),
    Bad(
        "road from a file without a line",
        "pivot[1].pivot_road.file",
        "no line",
        "a line",
        "drive it as a track",
        home=pivot(pivot_road='{ file = "shapes/a.geojson" }'),
        shapes={"a.geojson": collection(({"type": "Point", "coordinates": [-101.498, 36.752]}, {}))},
    ),
    Bad(
        "point with the name of its machine",
        "pivot[1].points[1].name",
        '"Long pivot", which fields/home.toml: pivot',
        "pivot names unique",
        "another name",
        home=towed(f'{PLACE}, name = "Long pivot"', name='"Long pivot"'),
    ),
    Bad(
        "sector of a point of no size",
        "pivot[1].points[1].sector",
        "start and stop both 30",
        "two different azimuths",
        "full circle",
        home=towed(f"{PLACE}, sector = {{ start = 30, stop = 30 }}"),
    ),
    Bad(
        "bends with a sector at one point only",
        "pivot[1].bend",
        "a bend on a full circle",
        "bends with a sector",
        "add sector",
        home=towed(f"{PLACE}, sector = {TURN}", OTHER, bend='[{ tower = 1, at = "stop", sweep = 30 }]'),
    ),
    # Panels
    Bad(
        "panel zero and reading",
        "pivot[1].panel_reading",
        "panel_zero and panel_reading",
        "one of them",
        "take one out",
        home=pivot(panel_zero="90", panel_reading=f"{{ shows = 214, last_tower = {{ {PLACE} }} }}"),
    ),
    Bad(
        "panel zero in words",
        "pivot[1].panel_zero",
        '"no"',
        '"none" or a number of deg',
        'did you mean "none"',
        home=pivot(panel_zero='"no"'),
    ),
    Bad(
        "reading at the pivot point",
        "pivot[1].panel_reading.last_tower",
        "the pivot point itself",
        "the last tower, 360 ft away",
        home=pivot(
            panel_reading=f"{{ shows = 214, last_tower = {AT.split(' = ', 1)[1].strip()} }}",
        ),
    ),
    Bad(
        "reading without a place",
        "pivot[1].panel_reading.last_tower",
        "nothing",
        "a table with lat, lon",
        home=pivot(panel_reading="{ shows = 214 }"),
    ),
    Bad(
        "parked said twice",
        "pivot[1].parked_panel",
        "parked and parked_panel",
        "one of them",
        "take one out",
        home=pivot(parked="20", parked_panel="290"),
    ),
    Bad(
        "parked by a panel without angles",
        "pivot[1].parked_panel",
        'parked_panel beside panel_zero = "none"',
        "a panel with an angle",
        "the true azimuth",
        home=pivot(panel_zero='"none"', parked_panel="290"),
    ),
    Bad(
        "top speed in feet a minute times too many",
        "pivot[1].top_speed",
        "81000",
        "a number of ft/h, above 0 and at most 6000",
        home=pivot(top_speed="81000"),
    ),
    Bad(
        "pipe bore in feet",
        "pivot[1].bore",
        r"0\.55",
        "a number of in, at least 1.575",
        home=pivot(bore="0.55"),
    ),
    Bad(
        "standard error of a furlong",
        "pivot[1].radius_se",
        "660",
        "at most 100",
        "one standard error",
        home=pivot(radius_se="660"),
    ),
    # Lateral moves
    Bad(
        "lateral move without a path",
        "lateral_move[1].path",
        "nothing",
        "a list of 2 or more",
        home=move(path=""),
    ),
    Bad(
        "lateral move without a pipe",
        "lateral_move[1].left",
        "nothing",
        "left or right, or both",
        "spans",
        home=move(left=""),
    ),
    Bad(
        "wing without spans",
        "lateral_move[1].right.spans",
        "nothing",
        "spans, or towers and last_tower",
        "or towers = 7",
        home=move(right="{ overhang = 20 }"),
    ),
    Bad(
        "wing with a span of a mile",
        "lateral_move[1].left.spans[2]",
        "5280",
        "above 0 and at most 400",
        home=move(left="{ spans = [150, 5280] }"),
    ),
    Bad(
        "path of one corner",
        "lateral_move[1].path",
        "a list of 1",
        "a list of 2 or more",
        home=move(path=f"[{{ {PLACE} }}]"),
    ),
    Bad(
        "path that stands still",
        "lateral_move[1].path[2]",
        "the same place as the one before",
        "a place of its own",
        "take one out",
        home=move(path=f"[{{ {PLACE} }}, {{ {PLACE} }}, {{ {OTHER} }}]"),
    ),
    Bad(
        "path that turns back",
        "lateral_move[1].path",
        r"a turn of 1\d\d degrees",
        "up to 135 degrees",
        "back and forth",
        home=move(path=f"[{{ {PLACE} }}, {{ {OTHER} }}, {{ lat = 36.7521, lon = -101.49801 }}]"),
    ),
    Bad(
        "path in the next county",
        "lateral_move[1].path",
        r"a path \d\d km from the boundary",
        "at most 10 km from it",
        "negative",
        home=move(path=PATH.replace("36.75", "36.95")),
    ),
    Bad(
        "path table without a file",
        "lateral_move[1].path.file",
        "nothing",
        "file that holds the line",
        "or path",
        home=move(path="{ where = { id = 1 } }"),
    ),
    Bad(
        "path file of areas",
        "lateral_move[1].path.file",
        r"no line \(Polygon\)",
        "a line",
        "drive it as a track",
        home=move(path='{ file = "shapes/a.geojson" }'),
        shapes={"a.geojson": collection((rectangle(-101.498, 36.752, -101.497, 36.753), {}))},
    ),
    Bad(
        "path file of two lines",
        "lateral_move[1].path.file",
        "2 lines that do not join",
        "one line",
        "where",
        home=move(path='{ file = "shapes/a.geojson" }'),
        shapes={
            "a.geojson": lines(
                [[-101.498, 36.752], [-101.498, 36.753]], [[-101.497, 36.752], [-101.497, 36.753]]
            )
        },
    ),
    Bad(
        "lateral move in single brackets",
        "lateral_move",
        "a table",
        "a list of at most 50",
        r"write \[\[lateral_move\]\]",
        home=move().replace("[[lateral_move]]", "[lateral_move]"),
    ),
    Bad(
        "lateral move named as a pivot",
        "lateral_move[1].name",
        r'"walker", which fields/home\.toml: pivot\[1\] has too',
        "lateral move names unique",
        "another name",
        home=f'{FIELD}name = "Walker"\n[[lateral_move]]\nname = "walker"\npath = {PATH}\n'
        "left = { spans = [150] }\n",
    ),
    Bad(
        "tape under no machine",
        "drip[1].not[1]",
        '"Walker"',
        'one of "Home field lateral move 1"',
        home=f'{move()}{DRIP}not = ["Walker"]\n',
    ),
    Bad(
        "well serves a point that is none",
        "well[1].serves[1]",
        '"Home field pivot 1 at point 3"',
        '"Home field pivot 1 at point 2"',
        "did you mean",
        file="farm.toml",
        home=towed(PLACE, OTHER),
        farm=f'{FARM_TOML}[[well]]\nname = "W"\nat = {{ {PLACE} }}\n'
        'serves = ["Home field pivot 1 at point 3"]\n',
    ),
    # What guns keep off
    Bad(
        "nothing to keep off",
        "keep_off[1].file",
        "nothing",
        "file or outline or line or point",
        "a pole",
        home=keep_off("{}"),
    ),
    Bad(
        "kept off twice over",
        "keep_off[1].point",
        "line and point",
        "one of them",
        "take one out",
        home=keep_off(f"{{ line = {PATH}, point = {{ {PLACE} }} }}"),
    ),
    Bad(
        "kept off what lies far away",
        "keep_off[2]",
        r"a shape 20\.\d km from the field",
        "within 2 km",
        "signs right",
        home=keep_off(f"{{ point = {{ {PLACE} }} }}", "{ point = { lat = 36.94, lon = -101.4955 } }"),
    ),
    Bad(
        "kept off the other side of the globe",
        "keep_off[1]",
        r"a shape (half the globe|\d+(\.\d)? km) from the field",
        "within 2 km",
        "signs right",
        home=keep_off("{ point = { lat = 36.7536, lon = 101.4955 } }"),
    ),
    Bad(
        "where beside a line",
        "keep_off[1].where",
        "where beside line",
        "where only with file",
        "take it out",
        home=keep_off(f'{{ line = {PATH}, where = {{ kind = "road" }} }}'),
    ),
    Bad(
        "a road of one point",
        "keep_off[1].line",
        "a list of 1",
        "a list of 2 or more",
        home=keep_off(f"{{ line = [{{ {PLACE} }}] }}"),
    ),
    Bad(
        "keep_off that is no list",
        "keep_off",
        "a table",
        "a list of at most 500",
        r"a list in \[ \]",
        home=FIELD.replace("[[pivot]]", f"keep_off = {{ point = {{ {PLACE} }} }}\n[[pivot]]"),
    ),
    Bad(
        "keep_off below a pivot",
        "pivot[1].keep_off",
        'unknown key "keep_off"',
        '"point"',
        r"belongs above the first \[\[pivot\]\]",
        home=f"{FIELD}keep_off = [{{ point = {{ {PLACE} }} }}]\n",
    ),
    # Drip as it lies
    Bad(
        "one end's height alone",
        "drip[1].far_elevation",
        "nothing",
        "far_elevation beside header_elevation",
        "above any level",
        home=drip(header_elevation="3010"),
    ),
    Bad(
        "fed from the middle",
        "drip[1].fed",
        '"middle"',
        '"one" or "both"',
        home=drip(fed='"middle"'),
    ),
    Bad(
        "guidance line with one end",
        "drip[1].line.to",
        "nothing",
        "to beside from",
        "two ends",
        home=drip(heading="", line=f"{{ from = {{ {PLACE} }} }}"),
    ),
    Bad(
        "guidance line said twice",
        "drip[1].line.path",
        "from and to beside path",
        "from and to, or path, or file",
        "take one out",
        home=drip(heading="", line=f"{{ from = {{ {PLACE} }}, to = {{ {OTHER} }}, path = {PATH} }}"),
    ),
    Bad(
        "guidance line of nothing",
        "drip[1].line.from",
        "nothing",
        "from and to, or path, or file",
        "straight line",
        home=drip(heading="", line="{}"),
    ),
    Bad(
        "guidance line that comes back",
        "drip[1].line",
        r"ends lie 0\.\d\d m apart",
        "a good way apart",
        "its two ends",
        home=drip(
            heading="",
            line=f"{{ path = [{{ {PLACE} }}, {{ {OTHER} }}, {{ lat = 36.7520001, lon = -101.498 }}] }}",
        ),
    ),
    Bad(
        "guidance line that crosses itself",
        "drip[1].line",
        "a line that crosses itself",
        "runs through the block once",
        home=drip(
            heading="",
            line="{ path = [{ lat = 36.751, lon = -101.499 }, { lat = 36.755, lon = -101.493 }, "
            "{ lat = 36.755, lon = -101.499 }, { lat = 36.751, lon = -101.493 }] }",
        ),
    ),
    Bad(
        "guidance line with a bend too tight for the block",
        "drip[1].line",
        r"a bend with a radius of \d+ m .* would fold up",
        "reaches less far into the bend than its radius",
        "split the block",
        home=drip(heading="", line=f"{{ path = [{', '.join(TIGHT)}] }}"),
    ),
    Bad(
        "zones past the last curved lateral",
        "drip[1].zone[2].laterals",
        "300 to 900, but the block has 531",
        "numbers from 1 to 531",
        "row_spacing",
        home=drip(
            ZONES.format("[1, 299]", "[300, 900]"), heading="", line=f"{{ path = [{', '.join(GENTLE)}] }}"
        ),
    ),
    Bad(
        "guidance file with no line",
        "drip[1].line.file",
        "no line",
        "a line",
        "drive it as a track",
        home=drip(heading="", line='{ file = "shapes/a.geojson" }'),
        shapes={"a.geojson": collection(({"type": "Point", "coordinates": [-101.498, 36.752]}, {}))},
    ),
    Bad(
        "tillage in feet",
        "tillage_depth",
        "100",
        "at most 60",
        home=FIELD.replace("[[pivot]]", "tillage_depth = 100\n[[pivot]]"),
    ),
]


@pytest.mark.parametrize("bad", BAD, ids=lambda bad: bad.name)
def test_bad_farm(bad: Bad, tmp_path: Path) -> None:
    check_bad(bad, tmp_path)


def test_rows_have_names_of_their_own() -> None:
    assert len({bad.name for bad in BAD}) == len(BAD) >= 60


def test_faults_of_every_kind_of_machine_come_in_one_run(tmp_path: Path) -> None:
    bend = 'tower = 4\nat = "stop"\nsweep = 7'
    others = (bent(bend), towed(PLACE, PLACE), move(left=""))
    home = arm(overhang="46") + "".join(other.removeprefix(HEAD) for other in others)
    with pytest.raises(FarmFileError) as caught:
        load_farm(write_farm(tmp_path, fields={"home": home}))
    assert [fault.key for fault in caught.value.faults] == [
        "pivot[1].overhang",
        "pivot[2].bend[1].tower",
        "pivot[3].points[2]",
        "lateral_move[1].left",
    ]


def warned(home: str, folder: Path, shapes: dict[str, str | bytes] | None = None) -> list[tuple[str, str]]:
    """Return what is found odd in a field that is legal, with its key."""
    farm = load_farm(write_farm(folder, fields={"home": home}, shapes=shapes))
    return [(warning.key, str(warning)) for warning in farm.warnings]


@pytest.mark.parametrize(
    ("lon", "odd"),
    [
        # 1,230 ft out on this machine is its last tower; 5 % of it are 61.5 ft, so 60 ft is the limit.
        (-101.4955 - 0.0042, False),
        (-101.4955 - 0.0044, False),
        (-101.4955 - 0.0045, True),
        (-101.4955 - 0.0039, True),
    ],
)
def test_reading_off_the_last_tower_is_odd(lon: float, odd: bool, tmp_path: Path) -> None:
    spans = "[180, 180, 180, 180, 180, 180, 150]"
    # At this latitude 0.0001 degrees of longitude are 29.3 ft.
    reading = f"{{ shows = 214, last_tower = {{ lat = {CENTRE[0]}, lon = {lon} }} }}"
    found = warned(pivot(spans=spans, panel_reading=reading), tmp_path)
    assert [key for key, _ in found] == (["pivot[1].panel_reading.last_tower"] if odd else [])
    assert all("about 1230 ft, where the last tower is" in words for _, words in found)


ODD = [
    (
        "throw beside an arm",
        arm(throw="18"),
        "pivot[1].throw",
        "throw 18 beside a corner arm; allowed: no throw of the main pipe: it is not used",
    ),
    (
        "weak gun on the arm",
        arm(ARM.replace("open = 165", "open = 165, throw = 30, end_gun = { reach = 20 }")),
        "pivot[1].corner_arm.end_gun",
        "reach 20 ft, no more than throw 30 ft",
    ),
    (
        "parked outside the sector",
        pivot(sector=TURN, parked="340"),
        "pivot[1].parked",
        "true azimuth 340, outside its sector; allowed: 20 to 310, clockwise; is it a panel angle",
    ),
    (
        "road that begins in the crop",
        pivot(pivot_road=f"[{{ lat = {CENTRE[0]}, lon = {CENTRE[1] + 0.002} }}]"),
        "pivot[1].pivot_road",
        r"a road that begins \d+ ft inside the field; allowed: a road from the field's edge",
    ),
    (
        "path past the fence",
        move(path="[{ lat = 36.7505, lon = -101.4955 }, { lat = 36.7592, lon = -101.4955 }]"),
        "lateral_move[1].path",
        "728 of 3168 ft of the path outside the boundary",
    ),
    (
        "tillage near the tape",
        drip(depth="12").replace("[[drip]]", "tillage_depth = 9\n[[drip]]"),
        "tillage_depth",
        "9 in, where the tape of Home field drip 1 lies 12 in deep; allowed: 4 in of ground left over "
        r"the tape \(common practice, no source\)",
    ),
]


@pytest.mark.parametrize(("home", "key", "words"), [row[1:] for row in ODD], ids=[row[0] for row in ODD])
def test_legal_but_odd(home: str, key: str, words: str, tmp_path: Path) -> None:
    ((where, text),) = warned(home, tmp_path)
    assert where == key
    assert re.search(words, text), text


@pytest.mark.parametrize(
    "home",
    [
        arm(overhang="0"),
        pivot(sector=TURN, parked="312"),
        pivot(pivot_road=f"[{{ lat = {CENTRE[0]}, lon = {EAST} }}]"),
        pivot(sector=TURN, parked="18.5"),
        drip(depth="12").replace("[[drip]]", "tillage_depth = 8\n[[drip]]"),
        keep_off("{ point = { lat = 36.77, lon = -101.4955 } }"),
    ],
)
def test_nothing_odd_about_these(home: str, tmp_path: Path) -> None:
    assert warned(home, tmp_path) == []
