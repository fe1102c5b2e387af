"""What must hold for a season log whatever happens to its file, its writers and its copies.

Environment variables: ``RINGROW_KILLS`` (default 20) writers are killed; ``RINGROW_FLIPS``
(default 300) places in the file are broken, ``all`` for every byte.
"""

from __future__ import annotations

import os
import random
import signal
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ringrow.coverage.accuracy import Accuracy
from ringrow.equipment.kinds import FLAG_KINDS
from ringrow.errors import SeasonError
from ringrow.farm.flag_import import import_files, settle_kinds
from ringrow.farm.flag_model import WellSpot
from ringrow.farm.flags import NewFlag, Stamp, add_flag
from ringrow.farm.folding import fold
from ringrow.farm.readers.open import read_points
from ringrow.farm.season import open_season
from ringrow.farm.season_check import check_log, salvaged
from ringrow.farm.season_files import back_up, dump_lines, load_lines, merge_log, restore
from season_logs import make_event, some_events, write_log

if TYPE_CHECKING:
    from ringrow.farm.events import Event

NOW = make_event(10_000).when
NOTICED = "the season log is damaged|the season log is an empty file|newer ringrow"


def read(path: Path) -> tuple[list[Event], dict[str, int]]:
    with open_season(path) as season:
        return season.events(), season.numbers()


def why_not_read(path: Path, want: tuple[list[Event], dict[str, int]]) -> str:
    """Return the message of the error; empty when all is read as it was."""
    try:
        return "" if read(path) == want else "other things are read and nothing was noticed"
    except SeasonError as error:
        return str(error)


def broken_bytes(size: int) -> list[int]:
    asked = os.environ.get("RINGROW_FLIPS", "300")
    if asked == "all":
        return list(range(size))
    # All of the header and the schema's page head, and places anywhere else.
    return [*range(120), *random.Random(3).sample(range(120, size), int(asked))]


def test_a_flipped_byte_anywhere_is_noticed_or_harmless_and_costs_one_event(tmp_path: Path) -> None:
    events = some_events(40)
    path = write_log(tmp_path / "season.db", events)
    whole, want = path.read_bytes(), read(path)
    noticed = 0
    for place, at in enumerate(broken_bytes(len(whole))):
        data = bytearray(whole)
        data[at] ^= 0xFF if place % 2 else 1 << at % 8
        path.write_bytes(data)
        fault = why_not_read(path, want)
        assert any(words in fault for words in NOTICED.split("|")) or not fault, f"byte {at}: {fault}"
        noticed += bool(fault)
        if place % 10 == 0:
            saved = {event.id: event for event in salvaged(path).events}
            assert all(event == saved[event.id] for event in events if event.id in saved)
            assert len(saved) >= len(events) - 1, f"byte {at}"
    assert noticed > 100


def test_a_file_cut_off_anywhere_is_noticed_and_read_as_far_as_it_goes(tmp_path: Path) -> None:
    path = write_log(tmp_path / "season.db", some_events(40))
    whole = path.read_bytes()
    cuts = [0, 1, 15, 16, 99, 100, 511, 512, *random.Random(5).sample(range(513, len(whole)), 60)]
    cuts += range(4096, len(whole), 4096)
    for cut in cuts:
        path.write_bytes(whole[:cut])
        with pytest.raises(SeasonError, match=NOTICED):
            read(path)
        report = check_log(path, now=NOW)
        assert report.damage
        assert report.events == len(salvaged(path).events)


@st.composite
def two_logs(draw: st.DrawFn) -> tuple[list[Event], list[Event]]:
    """Two farms' logs that share a past; clocks wrong, answers to events that only the other has."""
    events = [
        make_event(
            number,
            flag=make_event(4 * draw(st.integers(0, 2))).flag,
            field=draw(st.sampled_from(["note", "name", "photo"])),
            value=draw(st.sampled_from(["", "wet", "ñ\u2028\x1b[2J=1+1", "\ud800" * 0 + "\U0001f4a7"])),
            when=make_event(draw(st.integers(0, 5))).when,
            parents=tuple(sorted({make_event(draw(st.integers(0, 12))).id for _ in range(number % 3)})),
        )
        for number in range(draw(st.integers(1, 10)))
    ]
    sides = [draw(st.sampled_from(["one", "two", "both"])) for _ in events]
    one = [event for event, side in zip(events, sides, strict=True) if side != "two"]
    two = [event for event, side in zip(events, sides, strict=True) if side != "one"]
    return draw(st.permutations(one)), draw(st.permutations(two))


def plain(events: list[Event]) -> list[object]:
    """Flags as events leave them, without local numbers."""
    return sorted((replace(state, number=0) for state in fold(events, {})), key=lambda state: state.id)


# Each example opens some twenty logs, every change of which waits for the disk.
@settings(max_examples=settings.default.max_examples // 5)
@given(two_logs(), st.lists(st.sampled_from(["merge", "dump"]), min_size=1, max_size=3))
def test_two_logs_become_one_by_merge_and_by_dump_in_any_order(
    logs: tuple[list[Event], list[Event]], ways: list[str]
) -> None:
    one, two = logs
    union = list(dump_lines({event.id: event for event in [*one, *two]}.values()))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        a, b = write_log(folder / "a.db", one), write_log(folder / "b.db", two)
        before = read(a)[1]
        for target, other in ((a, b), (b, a), (a, b)):
            for way in ways:
                if way == "merge":
                    merge_log(target, other)
                    continue
                dump = folder / "dump.jsonl"
                dump.write_text("\n".join(dump_lines(read(other)[0])), encoding="utf-8")
                load_lines(target, dump)
        for path in (a, b):
            events, numbers = read(path)
            assert list(dump_lines(events)) == union
            assert plain(events) == plain([*one, *two])
            assert sorted(numbers.values()) == list(range(1, len(numbers) + 1))
        # A flag keeps the number it had on this farm's paper.
        assert before.items() <= read(a)[1].items()
        back_up(a, folder / "copy.db")
        assert restore(b, folder / "copy.db").events == len(union)
        assert read(b) == read(a)


ACCURACY = Accuracy(radius_m=5.0, kind="r95")


def write_on(log: Path, name: str, say: int) -> None:
    """Add a flag and import a file of 25 points, over and over, each said once it is done."""
    stamp = Stamp(when=make_event(0).when, who=name, source="test")
    for count in range(10_000):
        with open_season(log, create=True) as season:
            new = NewFlag(kind="leak", spot=WellSpot(well="w"), note=str(count))
            state = add_flag(season, new, stamp=stamp)
        os.write(say, f"flag {state.id}\n".encode())
        points = log.parent / f"{name}.csv"
        rows = [f"{36.7 + count / 1e4 + row / 1e6:.6f},-101.5,{name} {count} {row}" for row in range(25)]
        points.write_text("lat,lon,name\n" + "\n".join(rows) + "\n")
        file = read_points(points)
        ready = settle_kinds(file, kinds=FLAG_KINDS, around=[()] * 25, all_kind="leak")
        import_files(log, [(file, ready)], accuracy=ACCURACY, stamp=stamp)
        os.write(say, f"import {count}\n".encode())


def start_writer(log: Path, name: str) -> tuple[int, BinaryIO]:
    """Start a process of its own; returns its id and what it says."""
    listen, say = os.pipe()
    process = os.fork()
    if process == 0:
        try:
            os.close(listen)
            write_on(log, name, say)
        finally:
            os._exit(1)
    os.close(say)
    return process, os.fdopen(listen, "rb")


def stop(process: int) -> None:
    os.kill(process, signal.SIGKILL)
    os.waitpid(process, 0)


def test_no_acknowledged_flag_or_import_is_lost_when_writers_are_killed(tmp_path: Path) -> None:
    kills = int(os.environ.get("RINGROW_KILLS", "20"))
    moments = random.Random(11)
    checked = 0
    # A young log every ten kills, so that births are hit too.
    for start in range(0, kills, 10):
        log = tmp_path / str(start) / "season.db"
        log.parent.mkdir()
        said: list[tuple[str, str]] = []
        for kill in range(start, min(start + 10, kills)):
            process, heard = start_writer(log, f"run{kill}")
            time.sleep(moments.uniform(0, 0.15))
            stop(process)
            # A line cut in half was not yet said: only whole lines count.
            said += [(f"run{kill}", line.decode().strip()) for line in heard if line.endswith(b"\n")]
            heard.close()
            if log.exists():
                checked += check_after_kill(log, said)
            assert log.exists() or not said
    assert checked > kills


def check_after_kill(log: Path, said: list[tuple[str, str]]) -> int:
    with open_season(log) as season:
        states = season.states()
    assert check_log(log, now=NOW).damage == ()
    flags = {state.id for state in states}
    names = {state.name for state in states}
    batches: dict[str, int] = {}
    for name in names - {""}:
        run, count, _ = name.split()
        batches[f"{run} {count}"] = batches.get(f"{run} {count}", 0) + 1
    # All of an import or nothing of it.
    assert set(batches.values()) <= {25}
    for run, line in said:
        what, which = line.split()
        assert which in flags if what == "flag" else f"{run} {which}" in batches
    return len(said)


def test_two_writers_of_flags_and_imports_at_once_both_succeed(tmp_path: Path) -> None:
    log = tmp_path / "season.db"
    names = ("one", "two")
    writers = [start_writer(log, name) for name in names]
    said = []
    for name, (_, heard) in zip(names, writers, strict=True):
        said += [(name, heard.readline().decode().strip()) for _ in range(12)]
    for process, heard in writers:
        stop(process)
        heard.close()
    assert all(line for _, line in said)
    assert check_after_kill(log, said) == 24


def test_a_read_only_folder_is_read_and_says_that_it_cannot_be_written() -> None:
    # Not under pytest's own folder, which another user may not enter.
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        log = write_log(folder / "season.db", some_events(3))
        other = write_log(folder / "other.db", some_events(5))
        folder.chmod(0o555)
        log.chmod(0o444)
        other.chmod(0o444)
        before = log.read_bytes()
        root = os.geteuid() == 0
        try:
            if root:
                # Rights do not bind the first user; 65534 is nobody.
                os.seteuid(65534)
            assert len(read(log)[0]) == 3
            assert check_log(log, now=NOW).damage == ()
            for use in (merge_log, restore):
                with pytest.raises(
                    (SeasonError, OSError), match=r"cannot be (written|opened).*|nothing was changed"
                ):
                    use(log, other)
            with pytest.raises((SeasonError, OSError), match="cannot be written"):
                back_up(log, folder / "copy.db")
            with (
                pytest.raises(SeasonError, match="a season log cannot be started: its folder"),
                open_season(folder / "new.db", create=True),
            ):
                pass
        finally:
            if root:
                os.seteuid(0)
        folder.chmod(0o755)
        assert log.read_bytes() == before
        assert sorted(file.name for file in folder.iterdir()) == ["other.db", "season.db"]
