"""Machines rebuilt: farm files that say so, and old flags that must not point at new hardware."""

from __future__ import annotations

from datetime import UTC, date, datetime
from io import BytesIO
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import pytest
from pypdf import PdfReader

from farms import FARM_TOML, OUTLINE, PIVOT, write_farm
from ringrow.coverage.accuracy import Accuracy
from ringrow.coverage.layout import lay_out
from ringrow.equipment.rebuild import Rebuild
from ringrow.errors import FarmFileError
from ringrow.farm.flag_model import FlagState, GroundSpot, LocatedFlag, MachineSpot
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.load import load_farm
from ringrow.farm.rebuilds import rebuilds_before, rebuilt_since
from ringrow.handoff.fault_words import flag_notes
from ringrow.handoff.languages import speaking
from ringrow.handoff.sheets.pages import make_sheets
from ringrow.units import FOOT_M, US

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.farm.flag_model import Spot

CHICAGO = ZoneInfo("America/Chicago")
OUTLETS = "outlets = { first = 10, spacing = 10 }\n"
REBUILT = '[[pivot.rebuilt]]\ndate = 2028-03-01\nwhat = "%s"\n'


def farm_folder(folder: Path, extra: str, *, top: str = "") -> Path:
    field = f'name = "Home field"\n{OUTLINE}\n{PIVOT}{OUTLETS}{extra}'
    return write_farm(folder, FARM_TOML + top, {"home": field})


def located(folder: Path, kind: str, spot: Spot, *, set_at: datetime) -> LocatedFlag:
    farm = load_farm(folder)
    state = FlagState(
        id="a", number=1, kind=kind, status="open", name="", note="", spot=spot, flag_class=None,
        set_at=set_at, set_by="",
    )  # fmt: skip
    return locate_flags(farm, [lay_out(field) for field in farm.fields], [state])[0]


# Said on spans of 170 ft, before they were of 180 ft: tower 5 stood at 850 ft, drop 3 past it at 880.
OLD_SPOT = MachineSpot(
    pivot="Home field pivot 1", said="tower 5, drop +3", distance_m=880 * FOOT_M, tower=5, drop=3
)
BEFORE, AFTER = datetime(2027, 5, 1, 15, tzinfo=UTC), datetime(2028, 5, 1, 15, tzinfo=UTC)


def test_an_old_flag_keeps_its_distance_and_loses_its_outlet(tmp_path: Path) -> None:
    farm = farm_folder(tmp_path, REBUILT % "spans")
    flag = located(farm, "sprinkler", OLD_SPOT, set_at=BEFORE)
    assert flag.pivot is not None
    assert flag.pivot.distance_m == pytest.approx(880 * FOOT_M)
    assert (flag.pivot.outlet, flag.pivot.outlet_range, flag.rebuilt) == (None, None, date(2028, 3, 1))
    words = "set before the rebuild of 2028-03-01: tower and outlet numbers may not be the same"
    assert words in flag_notes(flag, US)
    with speaking("es"):
        assert "antes de la reconstrucción del 2028-03-01" in flag_notes(flag, US)[0]


def test_a_new_flag_is_where_it_is_named(tmp_path: Path) -> None:
    farm = farm_folder(tmp_path, REBUILT % "spans")
    flag = located(farm, "sprinkler", OLD_SPOT, set_at=AFTER)
    assert flag.pivot is not None
    # Tower 5 now stands at 900 ft; outlets lie at 10, 20, ...: the third past it at 930 ft.
    assert flag.pivot.distance_m == pytest.approx(930 * FOOT_M)
    assert (flag.pivot.outlet, flag.rebuilt) == (93, None)
    assert "rebuild" not in " ".join(flag_notes(flag, US))


def test_new_sprinklers_leave_gearboxes_alone(tmp_path: Path) -> None:
    farm = farm_folder(tmp_path, REBUILT % "sprinklers")
    spot = MachineSpot(pivot="Home field pivot 1", said="tower 5", distance_m=850 * FOOT_M, tower=5)
    assert located(farm, "gearbox", spot, set_at=BEFORE).rebuilt is None
    assert located(farm, "sprinkler", OLD_SPOT, set_at=BEFORE).rebuilt == date(2028, 3, 1)


def test_a_flag_set_by_position_loses_its_outlet_too(tmp_path: Path) -> None:
    farm = farm_folder(tmp_path, REBUILT % "machine")
    spot = GroundSpot(lon=-101.4955, lat=36.7551, accuracy=Accuracy(radius_m=1.0, kind="r95"))
    old, new = (located(farm, "drop", spot, set_at=when) for when in (BEFORE, AFTER))
    assert old.pivot is not None
    assert new.pivot is not None
    assert (old.pivot.outlet, old.rebuilt) == (None, date(2028, 3, 1))
    assert new.pivot.outlet is not None
    assert old.pivot.distance_m == new.pivot.distance_m


def test_a_rebuild_counts_from_midnight_on_the_farm() -> None:
    rebuilt = [Rebuild(day=date(2028, 3, 1), what="spans")]
    late, early = datetime(2028, 3, 1, 5, 59, tzinfo=UTC), datetime(2028, 3, 1, 6, 0, tzinfo=UTC)
    assert rebuilt_since(rebuilt, late, kind="tire", zone=CHICAGO) == date(2028, 3, 1)
    assert rebuilt_since(rebuilt, early, kind="tire", zone=CHICAGO) is None
    assert [rebuilds_before(rebuilt, when, kind="tire", zone=CHICAGO) for when in (late, early)] == [0, 1]


def test_farm_files_with_a_wrong_day_or_zone_are_refused(tmp_path: Path) -> None:
    wrong = '[[pivot.rebuilt]]\ndate = "3/1/2028"\nwhat = "spans"\n'
    with pytest.raises(FarmFileError, match=r"a day, year first, such as 2028-03-01"):
        load_farm(farm_folder(tmp_path / "a", wrong))
    with pytest.raises(FarmFileError, match=r"without a time"):
        load_farm(farm_folder(tmp_path / "b", wrong.replace('"3/1/2028"', "2028-03-01T10:00:00")))
    with pytest.raises(FarmFileError, match=r"sprinklers"):
        load_farm(farm_folder(tmp_path / "c", REBUILT % "paint"))
    with pytest.raises(FarmFileError, match=r"IANA name.*did you mean America/Chicago\?"):
        load_farm(farm_folder(tmp_path / "d", "", top='time_zone = "America/Chicgo"\n'))


def test_text_and_toml_dates_are_one(tmp_path: Path) -> None:
    text = farm_folder(tmp_path / "a", (REBUILT % "spans").replace("2028-03-01", '"2028-03-01"'))
    plain = farm_folder(tmp_path / "b", REBUILT % "spans", top='time_zone = "America/Chicago"\n')
    one, other = load_farm(text), load_farm(plain)
    assert one.fields[0].pivots[0].rebuilt == other.fields[0].pivots[0].rebuilt
    assert (one.time_zone, other.time_zone) == (None, "America/Chicago")


def test_the_sheet_says_that_the_numbers_are_old(tmp_path: Path) -> None:
    folder = farm_folder(tmp_path, REBUILT % "spans")
    farm = load_farm(folder)
    flag = located(folder, "sprinkler", OLD_SPOT, set_at=BEFORE)
    made = make_sheets(farm, [lay_out(field) for field in farm.fields], [flag])
    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(made.pdf)).pages)
    assert "set before the rebuild of 2028-03-01" in " ".join(text.split())
