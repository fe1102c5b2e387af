"""Files that come back from the map on a phone: photos inside, records, any order, twice, changed by hand."""

from __future__ import annotations

import base64
import copy
import hashlib
import io
import itertools
import json
import uuid
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner
from PIL import Image

from ringrow.cli.main import cli
from ringrow.coverage.accuracy import DEFAULT_ACCURACY
from ringrow.farm.flag_import import import_files, settle_kinds
from ringrow.farm.flags import Stamp
from ringrow.farm.readers import read_points
from ringrow.farm.records import fold_records
from ringrow.farm.season import open_season
from ringrow.handoff.import_words import import_lines, import_record
from ringrow.units import US

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.farm.flag_model import FlagState
    from ringrow.farm.import_model import ImportPlan

NOW = datetime(2026, 4, 3, 18, 0, tzinfo=UTC)
FLAG, OTHER, RECORD = (str(uuid.UUID(int=number)) for number in (1, 2, 3))
SPOT = {
    "on": "ground",
    "lon": -101.4985,
    "lat": 36.7537,
    "accuracy_m": 4.9,
    "accuracy_kind": "r95",
    "accuracy_assumed": False,
    "timed": True,
}


def said(number: int, field: str, value: Any, *, minute: int, flag: str = FLAG, parents: Any = ()) -> Any:
    return {
        "id": str(uuid.UUID(int=1000 + number)),
        "flag": flag,
        "field": field,
        "value": value,
        "when": f"2026-04-02T13:{minute:02d}:00.000Z",
        "who": "walker",
        "source": "map file",
        "parents": [str(uuid.UUID(int=1000 + parent)) for parent in parents],
    }


def feature(events: list[Any], *, flag: str = FLAG, point: Any = (-101.4985, 36.7537), **more: Any) -> Any:
    return {
        "type": "Feature",
        "id": flag,
        "geometry": None if point is None else {"type": "Point", "coordinates": list(point)},
        "properties": {
            "ringrow": {"schema": 1, "map_id": str(uuid.UUID(int=9)), "device": "abcde"},
            "events": events,
            **more,
        },
    }


def written(path: Path, *features: Any) -> Path:
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}), encoding="utf-8")
    return path


SET = [said(1, "spot", SPOT, minute=1), said(2, "kind", "leak", minute=1), said(3, "note", "wet", minute=1)]
FIRST_PHONE = [
    *SET,
    said(4, "status", "fixed", minute=20),
    said(5, "parts", [{"part": "coupling 1 3/8 in", "quantity": 2}], minute=20),
]
SECOND_PHONE = [
    *SET,
    said(6, "status", "not-a-fault", minute=10),
    said(7, "parts", [{"part": "Coupling 1 3/8 in", "quantity": 1}], minute=25),
    said(8, "ground_flag", "set", minute=25),
]


def bring(log: Path, *files: Path) -> list[ImportPlan]:
    """Import files the way the command does; kinds play no part where every point has its history."""
    ready = [
        (file, settle_kinds(file, kinds={}, around=(), all_kind="rock")) for file in map(read_points, files)
    ]
    stamp = Stamp(when=NOW, who="farm", source="flag import")
    return import_files(log, ready, accuracy=DEFAULT_ACCURACY, stamp=stamp)[0]


def states(log: Path) -> list[FlagState]:
    with open_season(log) as season:
        return [replace(state, number=0) for state in sorted(season.states(), key=lambda state: state.id)]


def test_two_phones_in_any_order_and_twice_leave_one_state(tmp_path: Path) -> None:
    """Every order of two files and an extra copy of either: same flags, same clash, same sum of parts."""
    one = written(tmp_path / "one.geojson", feature(FIRST_PHONE))
    two = written(
        tmp_path / "two.geojson.txt",
        feature(SECOND_PHONE),
        feature([said(9, "spot", None, minute=3, flag=OTHER)], flag=OTHER, point=None),
    )
    ends = []
    for number, files in enumerate(itertools.permutations([one, two, one, two])):
        log = tmp_path / f"{number}.db"
        for file in files:
            bring(log, file)
        ends.append(states(log))
    assert all(end == ends[0] for end in ends)
    flag, bare = ends[0]
    assert (flag.status, flag.kind, flag.note, flag.ground_flag) == ("fixed", "leak", "wet", "set")
    assert [(clash.field, clash.values) for clash in flag.clashes] == [("status", ("fixed", "not-a-fault"))]
    assert [(used.part, used.quantity) for used in flag.parts] == [("coupling 1 3/8 in", 3)]
    assert bare.spot is None


def test_an_event_taken_out_by_hand_comes_with_the_whole_file(tmp_path: Path) -> None:
    whole = written(tmp_path / "whole.geojson", feature(FIRST_PHONE))
    bring(tmp_path / "whole.db", whole)
    for left_out in range(len(FIRST_PHONE)):
        events = [event for number, event in enumerate(FIRST_PHONE) if number != left_out]
        cut = written(tmp_path / "cut.geojson", feature(events))
        log = tmp_path / f"{left_out}.db"
        bring(log, cut, whole)
        assert states(log) == states(tmp_path / "whole.db")


def test_a_note_changed_by_hand_is_refused_by_name_and_the_rest_comes_in(tmp_path: Path) -> None:
    """One id with two contents; the whole feature is left out, its good events too, and other flags come."""
    log = tmp_path / "season.db"
    bring(log, written(tmp_path / "true.geojson", feature(SET)))
    before = states(log)
    changed = copy.deepcopy(FIRST_PHONE)
    changed[2]["value"] = "dry"
    other = [said(20, "spot", SPOT, minute=3, flag=OTHER), said(21, "kind", "rut", minute=3, flag=OTHER)]
    (plan,) = bring(log, written(tmp_path / "false.geojson", feature(changed), feature(other, flag=OTHER)))
    assert [outcome.result for outcome in plan.outcomes] == ["refused", "new"]
    assert f"event {changed[2]['id']}: found two different contents under one id" in plan.outcomes[0].why
    assert states(log)[0] == before[0]
    assert [state.kind for state in states(log)] == ["leak", "rut"]


def test_records_come_in_as_records(tmp_path: Path) -> None:
    """Said about a system: no flag, no number, no place; corrected and taken back by the same rules."""
    log = tmp_path / "season.db"
    value = {"type": "reading", "system": "Home well", "pressure_kpa": 220.0}
    told = said(30, "record", value, minute=5, flag=RECORD)
    path = written(tmp_path / "back.geojson", feature([told], flag=RECORD, point=None))
    (plan,) = bring(log, path)
    (outcome,) = plan.outcomes
    assert (outcome.result, outcome.record, outcome.kind) == ("new", "reading", "")
    assert import_lines(read_points(path), plan, {}, US)[1] == "  feature 1: new record (reading)"
    assert import_record(read_points(path), plan, {}, US)["points"][0]["record"] == "reading"
    with open_season(log) as season:
        assert season.states() == []
        assert season.numbers() == {}
        assert [record.value for record in fold_records(season.events())] == [value]
    gone = said(31, "record", None, minute=6, flag=RECORD, parents=(30,))
    (plan,) = bring(log, written(path, feature([told, gone], flag=RECORD, point=None)))
    assert (plan.outcomes[0].result, plan.outcomes[0].record) == ("edited", "reading")
    with open_season(log) as season:
        assert fold_records(season.events()) == []


def test_a_history_without_its_flag_is_refused(tmp_path: Path) -> None:
    bare = feature(SET)
    del bare["id"]
    file = read_points(written(tmp_path / "back.geojson", bare))
    assert not file.rows
    assert "found a flag's history without the flag's id" in file.refused[0].why


# ---- photos ----


def picture(colour: str = "red", size: tuple[int, int] = (320, 240)) -> bytes:
    out = io.BytesIO()
    image = Image.new("RGB", size, colour)
    image.save(out, "JPEG", comment=b"who and where")
    return out.getvalue()


def named(data: bytes, *, number: int = 40, flag: str = FLAG, **changes: Any) -> Any:
    mark = hashlib.sha256(data).hexdigest()
    value = {"file": f"photos/{flag}-{mark[:12]}.jpg", "name": "leak.jpg", "sha256": mark, **changes}
    return said(number, "photo", value, minute=2, flag=flag)


def carried(of: Any, jpeg: bytes, **changes: Any) -> Any:
    url = "data:image/jpeg;base64," + base64.b64encode(jpeg).decode("ascii")
    return {"event": of["id"], "name": "leak.jpg", "type": "image/jpeg", "data": url, **changes}


def test_photos_inside_the_file_are_kept_in_the_farms_folder(tmp_path: Path) -> None:
    data, log = picture(), tmp_path / "season.db"
    event = named(data)
    path = written(tmp_path / "back.geojson", feature([*SET, event], photos=[carried(event, data)]))
    bring(log, path)
    kept = tmp_path / event["value"]["file"]
    with Image.open(kept) as image:
        assert image.size == (320, 240)
        assert image.getpixel((10, 10))[0] > 250
    # The copy is made anew: nothing rides along with the picture.
    assert b"who and where" not in kept.read_bytes()
    assert states(log)[0].photos == (event["value"]["file"],)
    kept.unlink()
    (plan,) = bring(log, path)
    assert plan.outcomes[0].result == "already there"
    assert kept.is_file()


def test_a_photo_may_come_in_a_later_file(tmp_path: Path) -> None:
    data, log = picture(), tmp_path / "season.db"
    event = named(data)
    bring(log, written(tmp_path / "one.geojson", feature([*SET, event])))
    assert not (tmp_path / "photos").exists()
    bring(log, written(tmp_path / "two.geojson", feature([event], photos=[carried(event, data)])))
    assert (tmp_path / event["value"]["file"]).is_file()


def _cases() -> dict[str, tuple[Any, Any, str]]:
    data, other = picture(), picture("blue")
    event, hostile = named(data), named(data, file=f"photos/{OTHER}.jpg")
    return {
        "another picture": (event, [carried(event, other)], "not the one that its event speaks of"),
        "another flag's photo": (hostile, [carried(hostile, data)], "not the one that its event speaks of"),
        "no event": (event, [carried(event, data, event=OTHER)], "found no event of this flag that names it"),
        "no data": (
            event,
            [carried(event, data, data="http://a.example/x")],
            "allowed: data that begins",
        ),
        "broken base64": (event, [carried(event, data, data="data:image/jpeg;base64,@@")], "broken base64"),
        "no object": (event, ["photo"], "allowed: an object with event, name, type and data"),
        "no list": (event, {"data": "x"}, "allowed: a list of up to 100"),
    }


@pytest.mark.parametrize(("event", "photos", "why"), _cases().values(), ids=_cases().keys())
def test_a_photo_that_cannot_be_is_left_out_and_named(
    tmp_path: Path, event: Any, photos: Any, why: str
) -> None:
    """The flag itself comes in; nothing is written over another flag's photo."""
    log = tmp_path / "season.db"
    (tmp_path / "photos").mkdir()
    victim = tmp_path / "photos" / f"{OTHER}.jpg"
    victim.write_bytes(b"mine")
    (plan,) = bring(log, written(tmp_path / "back.geojson", feature([*SET, event], photos=photos)))
    assert plan.outcomes[0].result == "new"
    assert any(why in remark for remark in plan.outcomes[0].remarks), plan.outcomes[0].remarks
    assert victim.read_bytes() == b"mine"
    assert list((tmp_path / "photos").iterdir()) == [victim]


def test_a_picture_that_is_cut_off_is_left_out(tmp_path: Path) -> None:
    data = picture(size=(900, 700))[:2000]
    event = named(data)
    path = written(tmp_path / "back.geojson", feature([*SET, event], photos=[carried(event, data)] * 8))
    (plan,) = bring(tmp_path / "season.db", path)
    assert "found a broken picture" in plan.outcomes[0].remarks[0]
    assert plan.outcomes[0].remarks[-1] == "and 3 photos more were left out"


def test_the_command_takes_it(tmp_path: Path, sample_farm: Path) -> None:
    """`flag import` on a file whose name ends as phones will share it; the flag then shows everything."""
    data = picture()
    event = named(data)
    hole = said(41, "dig", SPOT | {"lon": -101.4984}, minute=30)
    path = written(
        tmp_path / "back.geojson.txt", feature([*FIRST_PHONE, event, hole], photos=[carried(event, data)])
    )

    def run(*words: str) -> str:
        result = CliRunner().invoke(cli, list(words))
        assert result.exit_code == 0, result.output
        return result.stdout

    assert "1 new" in run("flag", "import", str(sample_farm), str(path))
    assert "1 already there" in run("flag", "import", str(sample_farm), str(path))
    flag = json.loads(run("flag", "show", str(sample_farm), "1", "--json"))["flags"][0]
    assert (flag["id"], flag["status"], flag["kind"]) == (FLAG, "fixed", "leak")
    sheet = run("flag", "show", str(sample_farm), "1")
    assert event["value"]["file"] in sheet
    assert "coupling 1 3/8 in" in sheet
