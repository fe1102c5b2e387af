"""Bad pivots and drip blocks: what cannot stand in a field, and what does not go together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from bad_farm import ZONES, Bad, check_bad, drip, pivot
from farms import (
    DRIP,
    EAST,
    FIELD,
    SOUTH,
    WEST,
    collection,
    rectangle,
)

if TYPE_CHECKING:
    from pathlib import Path

BAD = [
    # Pivots
    Bad(
        "no pivot point",
        "pivot[1].point",
        "nothing",
        "point or points",
        "stand at the pivot point with a phone",
        home=pivot(point=""),
    ),
    Bad("negative span", "pivot[1].spans[1]", "-180", "above 0 and at most 400", home=pivot(spans="[-180]")),
    Bad("zero span", "pivot[1].spans[2]", "0", "above 0", home=pivot(spans="[180, 0]")),
    Bad("span of 100 km", "pivot[1].spans[1]", "328084", "at most 400", home=pivot(spans="[328084]")),
    Bad(
        "no spans",
        "pivot[1].spans",
        "nothing",
        "spans, or towers and last_tower",
        "or towers = 7",
        home=pivot(spans=""),
    ),
    Bad(
        "an empty list of spans",
        "pivot[1].spans",
        "a list of 0",
        "a list of 1 or more",
        home=pivot(spans="[]"),
    ),
    Bad(
        "spans and towers",
        "pivot[1].towers",
        "spans and towers",
        "spans, or towers",
        "take one out",
        home=pivot(towers="7", last_tower="1200"),
    ),
    Bad(
        "towers without last_tower",
        "pivot[1].last_tower",
        "nothing",
        "last_tower beside towers",
        "or give spans",
        home=pivot(spans="", towers="7"),
    ),
    Bad(
        "too few towers for the length",
        "pivot[1].towers",
        "650 from tower to tower",
        "at most 400",
        "count",
        home=pivot(spans="", towers="2", last_tower="1300"),
    ),
    Bad(
        "machine too long",
        "pivot[1].spans",
        "4750 ft to the pipe end",
        "at most 4000 ft",
        "in feet",
        home=pivot(spans=str([190] * 25)),
    ),
    Bad(
        "sector start = stop",
        "pivot[1].sector",
        "start and stop both 20",
        "two different azimuths",
        "leave sector out for a full circle",
        home=pivot(sector="{ start = 20, stop = 20 }"),
    ),
    Bad(
        "sector to 360",
        "pivot[1].sector.stop",
        "360",
        "at least 0 and below 360",
        "leave sector out for a full circle",
        home=pivot(sector="{ start = 0, stop = 360 }"),
    ),
    Bad(
        "panel zero of 360",
        "pivot[1].panel_zero",
        "360",
        "below 360",
        "360 is written 0",
        home=pivot(panel_zero="360"),
    ),
    Bad(
        "gun without reach",
        "pivot[1].end_gun.reach",
        "nothing",
        "reach or wetted_radius",
        "75 %",
        home=f'{FIELD}[pivot.end_gun]\narcs = "auto"\n',
    ),
    Bad(
        "gun reach past its wetted radius",
        "pivot[1].end_gun.reach",
        "reach 130 and wetted_radius 120",
        "no longer than the wetted radius",
        "leave one",
        home=f"{FIELD}end_gun = {{ reach = 130, wetted_radius = 120 }}\n",
    ),
    Bad(
        "gun arcs misspelled",
        "pivot[1].end_gun.arcs",
        '"allways"',
        '"auto" or "always"',
        'did you mean "always"',
        home=f'{FIELD}end_gun = {{ reach = 90, arcs = "allways" }}\n',
    ),
    Bad(
        "gun arcs that overlap",
        "pivot[1].end_gun.arcs[2]",
        r"350 to 30, which overlaps arcs\[1\]",
        "do not overlap",
        "one arc",
        home=f"{FIELD}end_gun = {{ reach = 90, arcs = "
        "[{ start = 20, stop = 80 }, { start = 350, stop = 30 }] }\n",
    ),
    Bad(
        "outlets that do not rise",
        "pivot[1].outlets[3]",
        "20 after 30",
        "rising distances",
        "count from the pivot",
        home=pivot(outlets="[10, 30, 20]"),
    ),
    Bad(
        "outlet past the pipe end",
        "pivot[1].outlets[2]",
        "500, past the pipe end at 360",
        "a distance on the pipe",
        "spans and overhang",
        home=pivot(outlets="[10, 500]"),
    ),
    Bad(
        "pivot 10 km off",
        "pivot[1].point",
        r"\d+ km from the boundary",
        "at most 10 km from it",
        "west longitudes",
        home=pivot(point="{ lat = 36.9, lon = -101.4955 }"),
    ),
    Bad(
        "pivot in the other hemisphere",
        "pivot[1].point",
        r"\d{4,5} km from the boundary",
        "a point in the field",
        r"minus sign wrong\? lon = -101\.4955 lies",
        home=pivot(point="{ lat = 36.7536, lon = 101.4955 }"),
    ),
    Bad(
        "latitude and longitude swapped",
        "pivot[1].point.lat",
        "-101.4955",
        "at least -89 and at most 89",
        "look swapped",
        home=pivot(point="{ lat = -101.4955, lon = 36.7536 }"),
    ),
    # Drip
    Bad(
        "no rows per lateral",
        "drip[1].rows_per_lateral",
        "nothing",
        "a number",
        "every other row",
        home=drip(rows_per_lateral=""),
    ),
    Bad("no heading", "drip[1].heading", "nothing", "heading or line", "heading = 90", home=drip(heading="")),
    Bad(
        "heading and line",
        "drip[1].line",
        "heading and line",
        "one of them",
        "take one out",
        home=drip(line="{ from = { lat = 36.751, lon = -101.5 }, to = { lat = 36.752, lon = -101.5 } }"),
    ),
    Bad(
        "guidance line of one point",
        "drip[1].line",
        "at the same place",
        "two places",
        home=drip(
            heading="", line="{ from = { lat = 36.7, lon = -101.5 }, to = { lat = 36.7, lon = -101.5 } }"
        ),
    ),
    Bad(
        "guidance line far away",
        "drip[1].line",
        r"\d+ km from the field",
        "in or near the field",
        "negative",
        home=drip(
            heading="", line="{ from = { lat = 35.7, lon = -101.5 }, to = { lat = 35.8, lon = -101.5 } }"
        ),
    ),
    Bad(
        "numbered from where laterals point",
        "drip[1].number_from",
        '"east", where the laterals point',
        "degrees off",
        "on which side lateral 1 lies",
        home=drip(number_from='"east"'),
    ),
    Bad(
        "header square to the laterals",
        "drip[1].header",
        '"north", square to the laterals',
        "an end of the laterals",
        "at which end",
        home=drip(header='"north"'),
    ),
    Bad(
        "a side that is no side",
        "drip[1].number_from",
        '"nrth"',
        "north, northeast",
        'did you mean "north"',
        home=drip(number_from='"nrth"'),
    ),
    Bad(
        "row spacing in feet",
        "drip[1].row_spacing",
        r"0\.5",
        "a number of in, at least 1.969",
        home=drip(row_spacing="0.5"),
    ),
    Bad(
        "tape flow without pressure",
        "drip[1].tape.at_pressure",
        "nothing",
        "pressure at which emitter_flow holds",
        "label",
        home=drip(tape="{ emitter_flow = 0.16 }"),
    ),
    Bad(
        "tape flow said twice",
        "drip[1].tape.flow_per_100ft",
        "emitter_flow and flow_per_100ft",
        "one way",
        "take one out",
        home=drip(tape="{ emitter_flow = 0.16, flow_per_100ft = 0.13, at_pressure = 8 }"),
    ),
    Bad(
        "cv in percent",
        "drip[1].tape.cv",
        "3",
        "at most 0.5",
        r"3 % is written 0\.03",
        home=drip(tape="{ cv = 3 }"),
    ),
    Bad(
        "zones that overlap",
        "drip[1].zone[2].laterals",
        r"264 to 520, which overlaps 1 to 264 of zone\[1\]",
        "share no lateral",
        "both ends count",
        home=drip(ZONES.format("[1, 264]", "[264, 520]")),
    ),
    Bad(
        "laterals outside the block",
        "drip[1].zone[2].laterals",
        "265 to 900, but the block has 524",
        "from 1 to 524",
        "count them",
        home=drip(ZONES.format("[1, 264]", "[265, 900]")),
    ),
    Bad(
        "zone backwards",
        "drip[1].zone[1].laterals",
        "264 to 1",
        "rising",
        "lower number",
        home=drip(ZONES.format("[264, 1]", "[265, 524]")),
    ),
    Bad(
        "zone of one number",
        "drip[1].zone[1].laterals",
        "a list of 1",
        "a list of 2",
        home=drip(ZONES.format("[1]", "[2, 524]")),
    ),
    Bad(
        "zones of one name",
        "drip[1].zone[2].name",
        '"North" a second time',
        "unique in the block",
        home=drip(ZONES.format("[1, 9]", "[10, 524]").replace("South", "North")),
    ),
    Bad(
        "not a pivot of this field",
        "drip[1].not[1]",
        '"Home fields pivot 1"',
        'one of "Home field pivot 1"',
        'did you mean "Home field pivot 1"',
        home=f'{FIELD}{DRIP}not = ["Home fields pivot 1"]\n',
    ),
    Bad(
        "block too narrow for a lateral",
        "drip[1]",
        "too narrow",
        "holds a lateral",
        "row_spacing",
        home=drip(
            area=f"{{ outline = [{{ lat = {SOUTH}, lon = {WEST} }}, {{ lat = {SOUTH}, lon = {EAST} }}, "
            f"{{ lat = {SOUTH + 0.000_004}, lon = {EAST} }}] }}"
        ),
    ),
    Bad(
        "drip area outside the field",
        "drip[1].area",
        "outside the field",
        "inside the boundary",
        "right feature",
        home=drip(area="{ file = 'shapes/a.geojson' }"),
        shapes={"a.geojson": collection((rectangle(-101.4, 36.7, -101.39, 36.71), {}))},
    ),
]


@pytest.mark.parametrize("bad", BAD, ids=lambda bad: bad.name)
def test_bad_farm(bad: Bad, tmp_path: Path) -> None:
    check_bad(bad, tmp_path)


def test_rows_have_names_of_their_own() -> None:
    assert len({bad.name for bad in BAD}) == len(BAD) >= 30
