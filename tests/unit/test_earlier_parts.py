"""What the same machines and zones used in earlier years, added up by hand from what crews said."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from exported import Book, book
from ringrow.farm.events import Event
from ringrow.farm.flag_model import DripSpot, MachineSpot, WellSpot
from ringrow.handoff.earlier_parts import EarlierPart, earlier_lines, earlier_parts, place_of_use
from ringrow.handoff.languages import speaking

SAMPLE = Path(__file__).resolve().parents[2] / "sample_fields" / "two_windmill_farm"


@pytest.fixture(scope="module")
def season() -> Book:
    """Two leaks in one zone, one in the other, two tires on one pivot, a well."""
    places: list[tuple[Any, str]] = [
        (DripSpot(drip="Elevator drip", lateral=43, station_m=180.0), "leak"),
        (DripSpot(drip="Elevator drip", lateral=60, station_m=20.0), "leak"),
        (DripSpot(drip="Elevator drip", lateral=400, station_m=20.0), "leak"),
        (MachineSpot(pivot="Windmill pivot", said="tower 5", tower=5), "tire"),
        (MachineSpot(pivot="Windmill pivot", said="tower 2", tower=2, azimuth_deg=33.0), "tire"),
        (WellSpot(well="Home well"), "panel"),
    ]
    return book(SAMPLE, [(spot, kind, "", "") for spot, kind in places])


def visit(season: Book, flag: int, year: int, parts: list[tuple[str, int]] | None, *seen: Event) -> Event:
    number = 1000 * flag + year
    return Event(
        id=f"00000000-0000-4000-8000-{number:012d}",
        flag=season.flags[flag].state.id,
        field="parts",
        value=None if parts is None else [{"part": part, "quantity": count} for part, count in parts],
        when=datetime(year, 5, 1, tzinfo=UTC),
        who="Ana",
        source="test",
        parents=tuple(event.id for event in seen),
    )


def test_parts_are_added_up_by_zone_and_machine(season: Book) -> None:
    events = [
        visit(season, 0, 2026, [("coupling", 2), ("Tape", 1)]),
        visit(season, 1, 2027, [("Coupling ", 1)]),
        visit(season, 2, 2027, [("coupling", 9)]),
        visit(season, 3, 2026, [("tire", 1)]),
        visit(season, 1, 2028, [("coupling", 50)]),
    ]
    wanted = [season.flags[1], season.flags[4], season.flags[5]]
    assert earlier_parts(season.flags, events, wanted, year=2028) == (
        EarlierPart(where="Elevator drip, North zone", part="coupling", quantity=3, years=(2026, 2027)),
        EarlierPart(where="Elevator drip, North zone", part="Tape", quantity=1, years=(2026,)),
        EarlierPart(where="Windmill pivot", part="tire", quantity=1, years=(2026,)),
    )


def test_nothing_known_is_nothing_said_and_a_visit_taken_back_does_not_count(season: Book) -> None:
    said = visit(season, 3, 2026, [("tire", 1)])
    back = visit(season, 3, 2027, None, said)
    assert earlier_parts(season.flags, [said, back], season.flags, year=2028) == ()
    assert earlier_parts(season.flags, [said], [season.flags[5]], year=2028) == ()
    assert earlier_parts(season.flags, [said], season.flags, year=2026) == ()
    assert earlier_lines(()) == []


def test_places_are_named_with_their_zone(season: Book) -> None:
    assert [place_of_use(flag) for flag in season.flags] == [
        *("Elevator drip, North zone", "Elevator drip, North zone", "Elevator drip, South zone"),
        *("Windmill pivot", "Windmill pivot", "Home well"),
    ]


def test_one_line_a_place_in_the_language_of_the_crew() -> None:
    parts = [
        EarlierPart(where="Creek pivot", part="tire", quantity=2, years=(2026, 2027)),
        EarlierPart(where="Creek pivot", part="clamp", quantity=1, years=(2027,)),
    ]
    (line,) = earlier_lines(parts)
    assert line == "Creek pivot, used here in earlier years: 2 x tire (2026, 2027); 1 x clamp (2027)"
    with speaking("es"):
        spanish = "Creek pivot, lo que se usó aquí en años anteriores: 2 x tire"
        assert earlier_lines(parts)[0].startswith(spanish)
