"""A surveyed piece put into a field file: what changes, what stays, what is refused."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

import pytest

from farms import DRIP, FIELD, OUTLINE, PIVOT, write_farm
from ringrow.errors import FileError
from ringrow.farm.toml_pieces import Piece, piece_text, same_value, value_words
from ringrow.farm.write_toml import open_field, put_piece, table_of

if TYPE_CHECKING:
    from pathlib import Path

POINT = {"lat": 36.7537, "lon": -101.4956}


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """Field file of a small farm that is right."""
    return write_farm(tmp_path / "farm") / "fields" / "home.toml"


def with_text(home: Path, text: str | bytes) -> Path:
    home.write_bytes(text.encode() if isinstance(text, str) else text)
    return home


def test_only_the_changed_lines_differ(home: Path) -> None:
    edit = put_piece(open_field(home), Piece(table="pivot", values={"point": POINT}), overwrite=True)
    before, after = home.read_text().splitlines(), edit.text.splitlines()
    assert [line for line in after if line not in before] == ["point = { lat = 36.7537, lon = -101.4956 }"]
    assert len(before) == len(after)
    assert edit.changes == (
        "pivot[1]: point: was { lat = 36.7536, lon = -101.4955 }, now { lat = 36.7537, lon = -101.4956 }",
    )


def test_a_comment_behind_a_value_stays(home: Path) -> None:
    with_text(home, FIELD.replace("throw = 20", "throw = 20   # guessed"))
    edit = put_piece(open_field(home), Piece(table="pivot", values={"throw": 25.0}), overwrite=True)
    assert "throw = 25.0   # guessed" in edit.text


def test_new_keys_of_the_field_go_above_its_machines(home: Path) -> None:
    """A key behind [[pivot]] would belong to the machine: TOML's own trap."""
    with_text(home, FIELD + "\n" + DRIP)
    edit = put_piece(open_field(home), Piece(table="", values={"boundary_se": 6.5}), overwrite=False)
    assert tomllib.loads(edit.text)["boundary_se"] == 6.5
    assert edit.text.startswith('name = "Home field"\nboundary_se = 6.5\n')


def test_new_keys_of_a_machine_go_above_its_own_tables(home: Path) -> None:
    with_text(home, FIELD + "\n[pivot.end_gun]\nreach = 90\n\n" + DRIP)
    edit = put_piece(open_field(home), Piece(table="pivot", values={"panel_zero": 90.0}), overwrite=False)
    plain = tomllib.loads(edit.text)
    assert plain["pivot"][0]["panel_zero"] == 90
    assert plain["pivot"][0]["end_gun"] == {"reach": 90}
    assert plain["drip"][0]["heading"] == 90


def test_keys_that_stand_in_for_each_other_are_taken_out(home: Path) -> None:
    piece = Piece(table="pivot", values={"towers": 7, "last_tower": 1240.0})
    with pytest.raises(FileError, match=r"spans: was \[180, 180, 180, 180, 180, 180, 150\], now left out"):
        put_piece(open_field(home), piece, overwrite=False)
    plain = tomllib.loads(put_piece(open_field(home), piece, overwrite=True).text)["pivot"][0]
    assert "spans" not in plain
    assert plain["last_tower"] == 1240


def test_outline_takes_the_place_of_boundary(home: Path, tmp_path: Path) -> None:
    corners = [{"lat": 36.75, "lon": -101.5}, {"lat": 36.75, "lon": -101.49}, {"lat": 36.757, "lon": -101.49}]
    with_text(home, 'name = "Home"\nboundary = { file = "shapes/missing.geojson" }\n' + PIVOT)
    edit = put_piece(open_field(home), Piece(table="", values={"outline": corners}), overwrite=True)
    plain = tomllib.loads(edit.text)
    assert plain["outline"] == corners
    assert "boundary" not in plain
    assert edit.text.count("\n    { lat = ") == 3


def test_line_ends_and_byte_order_mark_stay(home: Path) -> None:
    with_text(home, ("\ufeff" + FIELD).replace("\n", "\r\n"))
    edit = put_piece(open_field(home), Piece(table="pivot", values={"point": POINT}), overwrite=True)
    assert edit.text.startswith("\ufeffname")
    assert edit.text.count("\r\n") == edit.text.count("\n") == home.read_bytes().count(b"\r\n")


def test_equal_values_change_nothing_and_keep_the_text(home: Path) -> None:
    piece = Piece(table="pivot", values={"spans": [180.0] * 6 + [150.0], "overhang": 40.0})
    edit = put_piece(open_field(home), piece, overwrite=False)
    assert edit.changes == ()
    assert edit.text == home.read_text()


def test_the_real_folder_is_never_touched(home: Path) -> None:
    before = {path: path.read_bytes() for path in home.parent.parent.rglob("*") if path.is_file()}
    put_piece(open_field(home), Piece(table="pivot", values={"point": POINT}), overwrite=True)
    with pytest.raises(FileError, match="with this piece the farm has faults"):
        put_piece(open_field(home), Piece(table="pivot", values={"overhang": -5.0}), overwrite=True)
    assert {path: path.read_bytes() for path in home.parent.parent.rglob("*") if path.is_file()} == before
    assert [path.name for path in home.parent.parent.parent.iterdir()] == ["farm"]


def test_faults_elsewhere_stop_it_too(home: Path) -> None:
    (home.parent / "other.toml").write_text('name = "Other"\n')
    with pytest.raises(FileError, match=r"faults:\n  fields/other\.toml.*\nallowed: a farm that passes"):
        put_piece(open_field(home), Piece(table="pivot", values={"point": POINT}), overwrite=True)


def test_warnings_of_the_file_come_along(home: Path) -> None:
    outside = Piece(table="pivot", values={"point": {"lat": 36.76, "lon": -101.4956}})
    (warning,) = put_piece(open_field(home), outside, overwrite=True).warnings
    assert "outside the boundary" in warning


def test_tables_in_square_brackets_can_be_changed_but_not_added_to(home: Path) -> None:
    machine = '{ name = "A", point = { lat = 36.7536, lon = -101.4955 }, spans = [180] }'
    with_text(home, f'name = "Home"\n{OUTLINE}pivot = [{machine}]\n')
    edit = put_piece(open_field(home), Piece(table="pivot", values={"spans": [170.0]}), overwrite=True)
    assert tomllib.loads(edit.text)["pivot"][0]["spans"] == [170.0]
    piece = Piece(table="pivot", name="B", values={"point": POINT, "spans": [100.0]})
    with pytest.raises(FileError, match=r"found a list in \[ \]; allowed here: \[\[pivot\]\]"):
        put_piece(open_field(home), piece, overwrite=False, new=True)


def test_a_table_that_is_no_list_is_refused(home: Path) -> None:
    with_text(home, f'name = "Home"\n{OUTLINE}[pivot]\nspans = [180]\n')
    with pytest.raises(FileError, match=r"pivot: found no list of tables; allowed: \[\[pivot\]\]"):
        table_of(open_field(home), "pivot", None)


def test_which_machine_is_meant(home: Path) -> None:
    field = open_field(home)
    assert table_of(field, "pivot", None) == tomllib.loads(PIVOT)["pivot"][0]
    assert table_of(field, "drip", None) is None
    assert table_of(field, "drip", "New block") is None
    assert table_of(field, "", None) == field.raw
    with pytest.raises(FileError, match='found no machine "B"; allowed: one of "", or --new'):
        table_of(field, "pivot", "B")


def test_names_are_escaped(home: Path) -> None:
    piece = Piece(
        table="drip", name='The "old" \\ block\u00f1', values={"heading": 90.0, "row_spacing": 30.0}
    )
    assert tomllib.loads(piece_text(piece))["drip"][0]["name"] == 'The "old" \\ block\u00f1'
    full = Piece(table="drip", name=piece.name, values={**piece.values, "rows_per_lateral": 2})
    edit = put_piece(open_field(home), full, overwrite=False)
    assert tomllib.loads(edit.text)["drip"][0]["name"] == piece.name


@pytest.mark.parametrize(
    ("one", "two", "same"),
    [
        (1, 1.0, True),
        (1.0, 1.0 + 1e-12, True),
        (1.0, 1.001, False),
        (True, 1, False),
        ("a", "a", True),
        ([1, {"a": 2}], [1.0, {"a": 2.0}], True),
        ([1, 2], [1], False),
        ({"a": 1}, {"b": 1}, False),
    ],
)
def test_same_value(one: object, two: object, same: bool) -> None:
    assert same_value(one, two) is same


def test_value_words() -> None:
    assert value_words("a\nb") == "a\\nb"
    assert value_words([{"lat": 1}]) == "a list of 1"
    assert value_words(True) == "True"
    assert value_words(1249.97) == "1249.97"
