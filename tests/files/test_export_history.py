"""GeoJSON carries flags with their whole history: into an empty log they come back as the flags they were.

Nothing outside the project knows these events; what is checked is that nothing is lost or changed.
The file itself is read with the standard library's JSON.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner
from PIL import Image

from exported import WHEN, Book, hostile_book, plan_of
from ringrow.cli.main import cli
from ringrow.farm.events import Event, event_to_json
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.flags import Stamp
from ringrow.farm.folding import fold
from ringrow.farm.records import record_event
from ringrow.farm.season import read_events, read_states
from ringrow.handoff.export import export_farm

if TYPE_CHECKING:
    from collections.abc import Sequence

SAMPLE = Path(__file__).resolve().parents[2] / "sample_fields" / "two_windmill_farm"


def later(book: Book, number: int, field: str, value: Any, *parents: str) -> Event:
    return Event(
        id=f"00000000-0000-4000-8000-{number:012d}",
        flag=book.flags[0].state.id,
        field=field,
        value=value,
        when=WHEN,
        who="Ana",
        source="test",
        parents=parents,
    )


@pytest.fixture(scope="module")
def lived() -> Book:
    """Flags on every kind of place, one with a clash, parts, a hole and a field of a later version."""
    book = hostile_book(SAMPLE)
    more = [
        later(book, 1, "status", "fixed"),
        later(book, 2, "status", "not-a-fault"),
        later(book, 3, "parts", [{"part": "cople ñ", "quantity": 2}]),
        later(book, 4, "ground_flag", "set"),
        later(book, 5, "class", "stops"),
        later(book, 6, "work", {"half a character": "\ud83d", "hours": 1.5}),
        later(book, 7, "parts", [{"part": "clamp", "quantity": 1}]),
        later(book, 8, "parts", None, f"00000000-0000-4000-8000-{7:012d}"),
    ]
    stamp = Stamp(when=WHEN, who="Eva", source="test")
    more.append(record_event("reading", {"system": "Home well", "flow_lps": 49.2}, stamp=stamp))
    events = [*book.events, *more]
    numbers = {flag.state.id: flag.state.number for flag in book.flags}
    flags = locate_flags(book.farm, book.layouts, fold(events, numbers))
    return replace(book, events=events, flags=flags)


def features(path: Path) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))["features"]
    return found


def export(book: Book, path: Path) -> Path:
    export_farm(book.farm, book.layouts[:1], book.flags, path, events=book.events)
    return path


def plain(events: Sequence[Event]) -> list[dict[str, Any]]:
    return sorted((event_to_json(event) for event in events), key=lambda event: str(event["id"]))


def test_every_event_comes_back_into_an_empty_log(lived: Book, tmp_path: Path) -> None:
    plan = plan_of(export(lived, tmp_path / "all.geojson"), lived, known=[])
    assert plain(plan.events) == plain(lived.events)
    assert {outcome.result for outcome in plan.outcomes} == {"new"}
    assert fold(plan.events, {}) == fold(lived.events, {})


def test_into_its_own_log_it_changes_nothing(lived: Book, tmp_path: Path) -> None:
    plan = plan_of(export(lived, tmp_path / "all.geojson"), lived)
    assert plan.events == ()
    assert {outcome.result for outcome in plan.outcomes} == {"already there"}


def test_what_another_tool_changed_beside_the_history_is_an_edit(lived: Book, tmp_path: Path) -> None:
    path = export(lived, tmp_path / "all.geojson")
    whole = json.loads(path.read_text(encoding="utf-8"))
    rut = next(one for one in whole["features"] if one["properties"].get("kind") == "wet-spot")
    rut["properties"]["note"] = "drained since"
    rut["geometry"]["coordinates"][0] += 0.0001
    path.write_text(json.dumps(whole), encoding="utf-8")
    for known in ([], lived.events):
        plan = plan_of(path, lived, known=known)
        (state,) = [flag for flag in fold([*known, *plan.events], {}) if flag.id == rut["id"]]
        assert state.note == "drained since"
        assert state.spot is not None
        assert state.spot.lon == pytest.approx(rut["geometry"]["coordinates"][0], abs=1e-7)  # type: ignore[union-attr]
        assert state.clashes == ()


def test_flags_and_records_are_features_of_their_own_ids(lived: Book, tmp_path: Path) -> None:
    found = features(export(lived, tmp_path / "all.geojson"))
    flags = [each for each in found if each["properties"]["feature"] == "flag"]
    (record,) = [each for each in found if each["properties"]["feature"] == "record"]
    assert {each["id"] for each in flags} == {flag.state.id for flag in lived.flags}
    assert record["geometry"] is None
    assert record["properties"]["events"][0]["value"]["flow_lps"] == 49.2
    worked = next(each["properties"] for each in flags if each["properties"]["parts"])
    assert worked["parts"] == [{"part": "cople ñ", "quantity": 2}]
    assert worked["ground_flag"] == "set"


def run(*words: Any) -> str:
    result = CliRunner().invoke(cli, [str(word) for word in words])
    assert result.exit_code == 0, result.output
    return result.output


def small(farm: Path) -> Path:
    for path in (farm / "fields").glob("*.toml"):
        if not path.name.startswith(("10_", "20_")):
            path.unlink()
    (farm / "farm.toml").write_text('name = "Two Windmill Farm"\n', encoding="utf-8")
    return farm


def test_a_flag_said_as_tower_five_survives_into_another_log(sample_farm: Path, tmp_path: Path) -> None:
    home, photo = small(sample_farm), tmp_path / "tire.png"
    Image.new("RGB", (40, 30), (90, 120, 60)).save(photo)
    tower = ("--kind", "tire", "--pivot", "Windmill pivot", "--tower", "5", "--wheel", "outer-trailing")
    run("flag", "add", home, *tower, "--photo", photo, "--ground-flag")
    run("flag", "set", home, "1", "--status", "fixed", "--parts", "tire", "--pulled", "--who", "Ana")
    run("export", home, "-o", tmp_path / "out.geojson")
    other = tmp_path / "other"
    (other / "fields").mkdir(parents=True)
    for path in (home / "farm.toml", *(home / "fields").iterdir()):
        (other / path.relative_to(home)).write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
    for path in (home / "shapes").iterdir():
        (other / "shapes").mkdir(exist_ok=True)
        (other / "shapes" / path.name).write_bytes(path.read_bytes())
    run("flag", "import", other, tmp_path / "out.geojson")
    assert plain(read_events(other / "season.db")) == plain(read_events(home / "season.db"))
    assert read_states(other / "season.db") == read_states(home / "season.db")
    text = run("flag", "show", other, "1")
    assert "Windmill pivot: tower 5, outer-trailing wheel" in text
    assert "NOT in this farm's folder" in text


def test_an_export_of_one_field_carries_the_history_of_its_flags_alone(
    sample_farm: Path, tmp_path: Path
) -> None:
    home = small(sample_farm)
    run("flag", "add", home, "--kind", "tire", "--pivot", "Windmill pivot", "--tower", "5")
    run("flag", "add", home, "--kind", "rut", "--at", "36.7537, -101.4985")
    one = json.loads(run("flag", "show", home, "1", "--json"))["flags"][0]
    run("export", home, "--field", one["field"], "-o", tmp_path / "one.geojson")
    ids = {
        event["flag"]
        for each in features(tmp_path / "one.geojson")
        for event in each["properties"].get("events", [])
    }
    listed = json.loads(run("flag", "list", home, "--field", one["field"], "--json"))["flags"]
    assert ids == {flag["id"] for flag in listed}
