"""What the map page carries so that what is written on it fits the log."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING
from uuid import UUID, uuid5

from ringrow.coverage.layout import lay_out
from ringrow.farm.events import Event
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.folding import fold
from ringrow.farm.load import load_farm
from ringrow.farm.spot_values import spot_from_json
from ringrow.handoff.languages import speaking
from ringrow.handoff.map.set_data import map_id, set_data
from ringrow.handoff.map.set_words import photo_way_lines, setting_words

if TYPE_CHECKING:
    from pathlib import Path
    from typing import Any

NOON = datetime(2026, 4, 2, 17, 0, tzinfo=UTC)
FLAG, RECORD = str(UUID(int=1)), str(UUID(int=2))


def event_id(number: int) -> str:
    return str(uuid5(UUID(FLAG), str(number)))


def event(number: int, field: str, value: Any, *, parents: tuple[int, ...] = (), flag: str = FLAG) -> Event:
    return Event(
        id=event_id(number),
        flag=flag,
        field=field,
        value=value,
        when=NOON + timedelta(minutes=number),
        who="walker",
        source="map file" if number % 2 else "flag add",
        parents=tuple(map(event_id, parents)),
    )


def test_heads_of_each_flag_go_along_and_what_came_home_is_named(project: Path) -> None:
    """One head by id and time; two with their values, the later first; by id what was written over."""
    farm = load_farm(project / "sample_fields" / "two_windmill_farm")
    layouts = [lay_out(farm.fields[0])]
    told = [
        event(0, "spot", {"on": "well", "well": "Home well"}),
        event(1, "note", "first"),
        event(2, "note", "second", parents=(1,)),
        event(3, "status", "fixed"),
        event(4, "status", "checked"),
        event(5, "record", {"type": "look"}, flag=RECORD),
    ]
    assert spot_from_json(told[0].value) is not None
    flags = locate_flags(farm, layouts, fold(told, {FLAG: 1}))
    data = set_data(farm, layouts, flags, told)
    assert list(data["flags"]) == [FLAG]
    found = data["flags"][FLAG]
    ms = int(NOON.timestamp() * 1000)
    assert found["heads"] == {
        "note": [[told[2].id, ms + 120_000]],
        "spot": [[told[0].id, ms]],
        "status": [[told[4].id, ms + 240_000, "checked"], [told[3].id, ms + 180_000, "fixed"]],
    }
    assert (found["note"], found["status"], found["on"], found["clashes"]) == (
        "second",
        "checked",
        "well",
        ["status"],
    )
    assert data["home"] == sorted(event_id(number)[:13] for number in (1, 5))


def test_a_map_made_anew_keeps_its_id(project: Path) -> None:
    """The farm's name and the box about its boundaries count; machines and flags do not."""
    farm = load_farm(project / "sample_fields" / "two_windmill_farm")
    layouts = [lay_out(field) for field in farm.fields[:2]]
    first = map_id(farm, layouts)
    assert UUID(first).version == 5
    bare = [lay_out(replace(field, pivots=(), drip=(), lateral_moves=())) for field in farm.fields[:2]]
    assert map_id(farm, bare) == first
    assert map_id(replace(farm, name="Another farm"), layouts) != first
    assert map_id(farm, layouts[:1]) != first
    assert UUID(map_id(farm, [])).version == 5


def test_every_word_is_said_and_every_word_said_is_there(project: Path) -> None:
    """Keys that the scripts name outright are all there; no key is there that no script names."""
    assets = project / "src" / "ringrow" / "handoff" / "map" / "assets"
    scripts = "\n".join(
        (assets / name).read_text(encoding="utf-8") for name in ("store.js", "set.js", "send.js")
    )
    words = setting_words()
    named = set(re.findall(r"words\.(\w+)", scripts)) - {"machine"}
    assert named <= words.keys() | {"here"}
    put_together = re.compile(
        r"(kinds|field|stake|did_ground)_\w+|(unsaved|kept)_[1n]|\w+_hint|(inner|outer)-\w+(-move)?|left|right"
        r"|ground|machine|well|open|fixed|checked|not-a-fault"
    )
    assert {key for key in words if key not in named and not put_together.fullmatch(key)} == set()
    with speaking("es"):
        assert setting_words()["send"] == "Enviar"
        assert "P3 T5 caja de engranes" in " ".join(photo_way_lines())
