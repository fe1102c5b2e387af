"""What to bring, and which cautions stand beside which work."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from farms import DRIP, OUTLINE, PIVOT, write_farm
from ringrow.cli.main import cli
from ringrow.coverage.layout import lay_out
from ringrow.equipment.kinds import FLAG_KINDS, FlagKind
from ringrow.errors import FarmFileError
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.load import load_farm
from ringrow.farm.season import SEASON_FILE, read_states
from ringrow.handoff.cautions import GENERAL
from ringrow.handoff.cautions_by_kind import ALWAYS, WORK, cautions_for
from ringrow.handoff.parts import PARTS, TOOLS, BringItem, bring_list, flag_parts, tool_list
from ringrow.handoff.sheets.stops import wells_for

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm

TAPE = "tape = { inside_diameter = 0.875, emitter_spacing = 24 }\n"
CORNER = OUTLINE.replace("36.75 ", "36.76 ").replace("36.7572", "36.767").replace("36.75,", "36.76,")


def put(folder: Path, *arguments: str) -> None:
    result = CliRunner().invoke(cli, ["flag", "add", str(folder), *arguments])
    assert result.exit_code == 0, result.output


def read(folder: Path) -> tuple[Farm, list[FieldLayout], list[LocatedFlag]]:
    farm = load_farm(folder)
    layouts = [lay_out(field) for field in farm.fields]
    return farm, layouts, locate_flags(farm, layouts, read_states(folder / SEASON_FILE))


def two_fields(folder: Path, farm_toml: str = "", tape: str = TAPE) -> Path:
    pivot = PIVOT.replace("[[pivot]]", '[[pivot]]\nname = "P1"')
    drip = DRIP.replace("[[drip]]", '[[drip]]\nname = "D1"')
    fields = {
        "a": f'name = "A"\n{OUTLINE}\n{pivot}',
        "b": f'name = "B"\n{CORNER}\n{drip}{tape}',
    }
    return write_farm(folder, f'name = "Test farm"\n{farm_toml}', fields)


def test_equal_parts_are_added_up(tmp_path: Path) -> None:
    folder = two_fields(tmp_path / "farm")
    for lateral in ("5", "9"):
        put(folder, "--drip", "D1", "--lateral", lateral, "--station", "300", "--kind", "leak")
    put(folder, "--pivot", "P1", "--tower", "2", "--kind", "tire")
    farm, layouts, flags = read(folder)
    assert bring_list(farm, layouts, flags) == (
        BringItem(part="coupling, for tape of 0.875 in bore", quantity=4, numbers=(1, 2), known=True),
        BringItem(
            part="piece of tape, arm's length, for tape of 0.875 in bore",
            quantity=2,
            numbers=(1, 2),
            known=True,
        ),
        BringItem(part="tire with tube, tire size not stated", quantity=1, numbers=(3,), known=False),
    )
    assert tool_list(flags) == ("air", "blocks", "jack", "knife", "lug wrench", "rags", "shovel")


def test_a_size_nobody_stated_stays_unknown(tmp_path: Path) -> None:
    folder = two_fields(tmp_path / "farm", tape="")
    put(folder, "--drip", "D1", "--lateral", "5", "--station", "300", "--kind", "leak")
    put(folder, "--pivot", "P1", "--tower", "2", "--kind", "sprinkler")
    farm, layouts, (leak, sprinkler) = read(folder)
    assert [item.part for item in flag_parts(farm, layouts, leak)] == [
        "coupling, tape size not stated (D1)",
        "piece of tape, arm's length, tape size not stated (D1)",
    ]
    (part,) = flag_parts(farm, layouts, sprinkler)
    assert part.part == "sprinkler, outlet not known: match the mark on the neighbours"
    assert not part.known


def test_the_farms_own_parts_take_the_place_of_ours(tmp_path: Path) -> None:
    rows = ('part = "tire 11.2-38"', 'part = "tube"\nquantity = 2')
    own = "".join(f'[[part]]\nkind = "tire"\n{row}\n' for row in rows)
    folder = two_fields(tmp_path / "farm", own)
    put(folder, "--pivot", "P1", "--tower", "2", "--kind", "tire")
    farm, layouts, flags = read(folder)
    assert [(item.part, item.quantity, item.known) for item in bring_list(farm, layouts, flags)] == [
        ("tire 11.2-38", 1, True),
        ("tube", 2, True),
    ]


def test_a_quantity_of_none_is_refused(tmp_path: Path) -> None:
    folder = two_fields(tmp_path / "farm", '[[part]]\nkind = "tire"\npart = "tube"\nquantity = 0\n')
    with pytest.raises(FarmFileError, match=r"part\[1\]\.quantity"):
        load_farm(folder)


def test_wells_that_serve_a_flags_system(tmp_path: Path) -> None:
    wells = "".join(
        f'[[well]]\nname = "{name}"\nat = {{ lat = 36.751, lon = -101.495 }}\nserves = ["{serves}"]\n'
        for name, serves in (("W1", "P1"), ("W2", "D1"))
    )
    folder = two_fields(tmp_path / "farm", wells)
    put(folder, "--pivot", "P1", "--tower", "2", "--kind", "tire")
    put(folder, "--well", "W2", "--kind", "pump")
    farm, layouts, flags = read(folder)
    assert [[well.name for well in wells_for(farm, layouts, flag)] for flag in flags] == [["W1"], ["W2"]]


def test_parts_and_tools_are_of_kinds_that_exist() -> None:
    assert set(PARTS) | set(TOOLS) <= set(FLAG_KINDS)


def test_every_kind_has_cautions_beside_those_of_every_page() -> None:
    for kind in FLAG_KINDS.values():
        keys = {caution.key for caution in cautions_for([kind])}
        assert keys > set(ALWAYS), kind.name


@pytest.mark.parametrize(
    ("kind", "keys"),
    [
        ("leak", {"dig", "pressure", "chemicals"}),
        ("tower-box", {"power", "shock", "start", "bites"}),
        ("gearbox", {"shafts", "power", "start"}),
        ("tire", {"jack", "power", "start"}),
        ("fuel-supply", {"gas"}),
        ("battery", {"battery"}),
        ("nest", {"droppings", "exhaust", "bites"}),
        ("sprinkler", {"climb", "chemicals", "pressure"}),
        ("burrow", {"baits", "burrows"}),
        ("pump", {"hearing", "shafts", "power"}),
        ("power-unit", {"power", "shock", "gas", "shafts"}),  # an engine, or a motor on 480 V
        ("drive-shaft", {"power", "shafts"}),
        ("rut", {"start", "burrows"}),  # it lies where wheels come by
    ],
)
def test_cautions_of_a_kind(kind: str, keys: set[str]) -> None:
    assert keys <= {caution.key for caution in cautions_for([FLAG_KINDS[kind]])}


def test_a_kind_of_the_farms_own_gets_the_cautions_of_what_it_sits_on() -> None:
    own = FlagKind(name="winch", on="machine", flag_class="later", words="winch")
    assert {"power", "start", "shock"} <= {caution.key for caution in cautions_for([own])}
    assert "dig" in {caution.key for caution in cautions_for([replace(own, on="ground")])}


def test_no_caution_key_twice() -> None:
    keys = [caution.key for caution in (*GENERAL, *WORK)]
    assert len(keys) == len(set(keys))
