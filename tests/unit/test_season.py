"""The season log: on disk or not at all, one clear message when it cannot be used."""

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
import time
import uuid
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest

from ringrow.errors import SeasonError
from ringrow.farm.events import Event
from ringrow.farm.flag_model import WellSpot
from ringrow.farm.flags import NewFlag, Stamp, add_flag, find_flag, set_flags
from ringrow.farm.season import SCHEMA, open_season, read_states

if TYPE_CHECKING:
    from pathlib import Path

WHEN = datetime(2026, 4, 2, 13, 5, tzinfo=UTC)
STAMP = Stamp(when=WHEN, who="Walker", source="flag add")
FLAG = "00000000-0000-4000-8000-000000000001"
LEAK = NewFlag(kind="leak", spot=WellSpot(well="Home well"), note="at the riser")


def event(**changes: Any) -> Event:
    plain: dict[str, Any] = {
        "id": str(uuid.uuid4()),
        "flag": FLAG,
        "field": "note",
        "value": "wet",
        "when": WHEN,
        "who": "",
        "source": "test",
        "parents": (),
    }
    return Event(**{**plain, **changes})


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "season.db"


def add(path: Path, new: NewFlag = LEAK, stamp: Stamp = STAMP) -> int:
    with open_season(path, create=True) as season:
        return add_flag(season, new, stamp=stamp).number


def test_a_flag_is_there_after_closing(path: Path) -> None:
    add(path)
    (state,) = read_states(path)
    assert (state.number, state.kind, state.note, state.status) == (1, "leak", "at the riser", "open")
    assert (state.spot, state.set_at, state.set_by) == (WellSpot(well="Home well"), WHEN, "Walker")


def test_no_log_has_no_flags_and_reading_makes_none(path: Path) -> None:
    assert read_states(path) == []
    assert not path.exists()
    with (
        pytest.raises(SeasonError, match=r"season\.db: no season log there; it begins with"),
        open_season(path),
    ):
        pass


def test_every_commit_reaches_the_disk_and_no_write_ahead_file_is_left(path: Path) -> None:
    add(path)
    with open_season(path) as season:
        assert season.connection.execute("PRAGMA synchronous").fetchone() == (3,)
        assert season.connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        assert season.connection.execute("PRAGMA user_version").fetchone() == (SCHEMA,)
    assert [file.name for file in path.parent.iterdir()] == ["season.db"]


def test_a_log_that_a_tool_put_into_write_ahead_mode_is_put_back(path: Path) -> None:
    add(path)
    other = sqlite3.connect(path)
    assert other.execute("PRAGMA journal_mode = WAL").fetchone() == ("wal",)
    other.close()
    with open_season(path) as season:
        assert season.connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)


def test_numbers_are_given_once_and_never_again(path: Path) -> None:
    assert [add(path), add(path)] == [1, 2]
    rolled_back = [event(flag=str(uuid.uuid4())), event(field="status", value="broken")]
    with open_season(path) as season, pytest.raises(SeasonError, match="broken"), season.writing():
        season.append(rolled_back)
    assert add(path) == 3
    assert [state.number for state in read_states(path)] == [1, 2, 3]


def test_events_can_be_added_again_and_again(path: Path) -> None:
    events = [event(), event(field="kind", value="leak")]
    with open_season(path, create=True) as season:
        with season.writing():
            first = season.append([*events, *events])
        with season.writing():
            second = season.append(events)
        assert (first.added, first.already, first.new_flags) == (2, 2, (FLAG,))
        assert (second.added, second.already, second.new_flags) == (0, 2, ())
        assert season.events() == events


def test_one_id_with_two_contents_is_refused_by_name(path: Path) -> None:
    one = event()
    other = event(id=one.id, value="dry")
    with open_season(path, create=True) as season:
        with season.writing():
            season.append([one])
        with (
            pytest.raises(
                SeasonError, match=rf'{one.id} \("note" of flag {FLAG}\): found two different contents'
            ),
            season.writing(),
        ):
            season.append([event(), other])
        assert season.events() == [one]


def test_an_impossible_value_never_lands(path: Path) -> None:
    with (
        open_season(path, create=True) as season,
        pytest.raises(
            SeasonError, match=r"status: found 'broken'; allowed: open, fixed, checked, not-a-fault"
        ),
        season.writing(),
    ):
        season.append([event(field="status", value="broken")])
    assert read_states(path) == []


def test_adding_outside_a_writing_block_is_refused(path: Path) -> None:
    with (
        open_season(path, create=True) as season,
        pytest.raises(SeasonError, match="only be added inside a writing block"),
    ):
        season.append([event()])


def test_the_file_itself_refuses_to_change_or_remove_an_event(path: Path) -> None:
    add(path)
    raw = sqlite3.connect(path)
    for statement in ("UPDATE event SET who = 'x'", "DELETE FROM event"):
        with pytest.raises(sqlite3.IntegrityError, match="events are never"):
            raw.execute(statement)
    raw.close()


def test_a_file_that_is_no_database_is_noticed(path: Path) -> None:
    path.write_bytes(b"flags, flags, flags" * 100)
    with pytest.raises(SeasonError, match=r"season\.db: the season log is damaged .*put back a backup"):
        read_states(path)


def test_a_cut_off_file_is_noticed(path: Path) -> None:
    for _ in range(20):
        add(path)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(SeasonError, match="the season log is damaged"):
        read_states(path)


def test_a_single_changed_letter_is_noticed(path: Path) -> None:
    add(path)
    whole = path.read_bytes()
    assert whole.count(b"at the riser") == 1
    path.write_bytes(whole.replace(b"at the riser", b"at the rider"))
    with pytest.raises(
        SeasonError, match=r'event [0-9a-f-]{36} \("note" of flag .*does not match its fingerprint'
    ):
        read_states(path)


def test_a_newer_log_is_left_alone(path: Path) -> None:
    add(path)
    raw = sqlite3.connect(path)
    raw.execute(f"PRAGMA user_version = {SCHEMA + 1}")
    raw.close()
    before = path.read_bytes()
    with pytest.raises(SeasonError, match=f"schema {SCHEMA + 1}; allowed: up to {SCHEMA}; .*update this one"):
        add(path)
    assert path.read_bytes() == before


def test_the_database_of_another_program_is_left_alone(path: Path) -> None:
    raw = sqlite3.connect(path)
    raw.execute("CREATE TABLE recipes (name TEXT)")
    raw.close()
    before = path.read_bytes()
    with pytest.raises(SeasonError, match="a database of some other program"):
        add(path)
    assert path.read_bytes() == before


def test_an_empty_file_is_no_new_log(path: Path) -> None:
    path.touch()
    for use in (add, read_states):
        with pytest.raises(SeasonError, match=r"an empty file: what it held is lost .*put back a backup"):
            use(path)
    assert path.read_bytes() == b""


def test_a_journal_without_its_log_is_left_alone(path: Path) -> None:
    path.with_name("season.db-journal").write_bytes(b"pages")
    for use in (add, read_states):
        with pytest.raises(SeasonError, match=r"its journal season\.db-journal is there without it"):
            use(path)
    assert not path.exists()


def test_a_locked_log_says_so(path: Path) -> None:
    add(path)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with (
        open_season(path, busy_s=0.05) as season,
        pytest.raises(SeasonError, match="another program is writing to the season log"),
        season.writing(),
    ):
        season.append([event()])
    other.close()
    assert len(read_states(path)) == 1


def test_a_full_disk_changes_nothing(path: Path) -> None:
    add(path)
    with open_season(path) as season:
        pages = season.connection.execute("PRAGMA page_count").fetchone()[0]
        season.connection.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(SeasonError, match="the disk is full; nothing was written"):
            add_flag(season, NewFlag(kind="leak", spot=LEAK.spot, note="x" * 9_999), stamp=STAMP)
    assert [state.note for state in read_states(path)] == ["at the riser"]
    assert add(path) == 2


def test_a_log_that_may_not_be_written_says_so(path: Path) -> None:
    add(path)
    with open_season(path) as season:
        season.connection.execute("PRAGMA query_only = ON")
        with pytest.raises(SeasonError, match=r"its folder cannot be written; nothing was changed"):
            add_flag(season, LEAK, stamp=STAMP)


def test_a_missing_folder_says_so(tmp_path: Path) -> None:
    with pytest.raises(SeasonError, match="its folder is missing or may not be written"):
        add(tmp_path / "nowhere" / "season.db")


def test_text_that_no_file_can_hold_is_replaced_and_all_else_kept(path: Path) -> None:
    note = "<script>alert(1)</script>\n=1+1\t'; DROP TABLE event; --\x1b[2J ñ \U0001f4a7"
    add(path, NewFlag(kind="leak", spot=LEAK.spot, name="\udcff\0", note=note))
    (state,) = read_states(path)
    assert state.note == note
    # A lone surrogate is three bytes that UTF-8 does not allow, each replaced; NUL is one sign.
    assert set(state.name) == {"\N{REPLACEMENT CHARACTER}"}


def test_too_long_a_note_is_refused(path: Path) -> None:
    with pytest.raises(SeasonError, match=r"note: found 10,001 characters; allowed: up to 10,000"):
        add(path, NewFlag(kind="leak", spot=LEAK.spot, note="x" * 10_001))


def test_setting_keeps_the_old_value_in_the_history(path: Path) -> None:
    add(path)
    with open_season(path) as season:
        (change,) = set_flags(season, ["1"], {"status": "fixed"}, stamp=STAMP)
        assert (change.before, change.after, change.changed) == ("open", "fixed", True)
        (again,) = set_flags(season, ["1"], {"status": "fixed"}, stamp=STAMP)
        assert not again.changed
        (_, noted) = set_flags(season, ["1"], {"status": "open", "note": "again"}, stamp=STAMP)
        assert (noted.before, noted.after) == ("at the riser", "again")
        assert sum(event.field == "status" for event in season.events()) == 2
    assert read_states(path)[0].status == "open"


def test_several_flags_change_together_or_not_at_all(path: Path) -> None:
    add(path)
    with open_season(path) as season:
        with pytest.raises(SeasonError, match=r'flag "2": not in this season; allowed: a number from 1 to 1'):
            set_flags(season, ["1", "2"], {"status": "fixed"}, stamp=STAMP)
        with pytest.raises(
            SeasonError, match=r"flag field: found 'number'; allowed: status, note, kind, class"
        ):
            set_flags(season, ["1"], {"number": 3}, stamp=STAMP)
    assert read_states(path)[0].status == "open"


def test_flags_are_found_by_number_or_the_start_of_their_id(path: Path) -> None:
    ids = ("11111111-0000-4000-8000-000000000000", "1111aaaa-0000-4000-8000-000000000000")
    new_ids = iter(ids)
    for _ in ids:
        add(path, stamp=Stamp(when=WHEN, who="", source="t", new_id=lambda: next(new_ids)))
    states = read_states(path)
    assert find_flag(states, "#2").id == ids[1]
    assert find_flag(states, "1111A").id == ids[1]
    with pytest.raises(SeasonError, match=r"the ids of 2 flags begin so \(numbers 1, 2\)"):
        find_flag(states, "1111")
    with pytest.raises(SeasonError, match="first 4 or more characters of an id"):
        find_flag(states, "aaa")
    with pytest.raises(SeasonError, match="this season has no flags yet"):
        find_flag([], "1")


WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from ringrow.farm.flag_model import WellSpot
from ringrow.farm.flags import NewFlag, Stamp, add_flag
from ringrow.farm.season import open_season

stamp = Stamp(when=datetime.now(UTC), who=sys.argv[2], source="test")
for count in range(int(sys.argv[3])):
    with open_season(Path(sys.argv[1]), create=True) as season:
        state = add_flag(season, NewFlag(kind="leak", spot=WellSpot(well="w"), note=str(count)), stamp=stamp)
    print(state.id, flush=True)
"""


def start_writer(path: Path, who: str, count: int) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", WRITER, str(path), who, str(count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def test_two_processes_that_write_at_once_both_succeed(path: Path) -> None:
    writers = [start_writer(path, who, 40) for who in ("one", "two")]
    said = [writer.communicate(timeout=60)[0].split() for writer in writers]
    assert [writer.returncode for writer in writers] == [0, 0]
    states = read_states(path)
    assert {state.id for state in states} == {*said[0], *said[1]}
    assert [state.number for state in states] == list(range(1, 81))


def test_no_acknowledged_flag_is_lost_when_the_writer_is_killed(path: Path) -> None:
    moments = random.Random(7)
    acknowledged: list[str] = []
    for kill in range(20):
        writer = start_writer(path, f"run {kill}", 10_000)
        assert writer.stdout is not None
        acknowledged.append(writer.stdout.readline().strip())
        time.sleep(moments.uniform(0, 0.05))
        writer.send_signal(signal.SIGKILL)
        # A line cut in half was not yet said: only whole lines count.
        acknowledged += [line.strip() for line in writer.stdout if line.endswith("\n")]
        writer.wait()
        writer.stdout.close()
    there = {state.id for state in read_states(path)}
    assert set(acknowledged) <= there
    # At most one flag a kill was on disk and not yet said.
    assert len(there) - len(acknowledged) <= 20
