"""Backup, restore, dump, load, check and salvage of season logs; older and newer schemas; undo."""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import time
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from ringrow.errors import FileError, RingrowError, SeasonError
from ringrow.farm import season_disk
from ringrow.farm.folding import heads
from ringrow.farm.season import open_season, read_states
from ringrow.farm.season_check import check_log, salvage_log, salvaged
from ringrow.farm.season_files import back_up, dump_lines, load_lines, merge_log, restore
from ringrow.farm.season_pages import read_pages
from ringrow.farm.undo import undo_event, value_before
from season_logs import FLAG_1, ROWS_1, WHEN, make_event, some_events, write_log, write_schema_1

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from ringrow.farm.events import Event

NOW = WHEN + timedelta(days=30)


def events_of(path: Path) -> list[Event]:
    with open_season(path) as season:
        return season.events()


def numbers_of(path: Path) -> dict[str, int]:
    with open_season(path) as season:
        return season.numbers()


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return write_log(tmp_path / "season.db", some_events(40))


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 64 kB: room for a young log, not for a hundred events."""
    folder = tmp_path / "small"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(folder)]
    if os.geteuid() or subprocess.run(command, capture_output=True, check=False).returncode:
        pytest.skip("mounting a small disk takes rights that this user lacks")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def damage(path: Path) -> None:
    """Break the head of the first page, so that no table can be found."""
    data = bytearray(path.read_bytes())
    data[100:110] = bytes(10)
    path.write_bytes(data)


def test_a_backup_holds_the_log_and_its_numbers(log: Path, tmp_path: Path) -> None:
    assert back_up(log, tmp_path / "copy.db") == 40
    assert events_of(tmp_path / "copy.db") == events_of(log)
    assert numbers_of(tmp_path / "copy.db") == numbers_of(log)
    assert sorted(file.name for file in tmp_path.iterdir()) == ["copy.db", "season.db"]


def test_a_backup_never_replaces_a_file_unasked_nor_the_log_itself(log: Path, tmp_path: Path) -> None:
    there = tmp_path / "copy.db"
    there.write_text("mine")
    with pytest.raises(FileError, match=r'copy\.db" is already there; say --overwrite'):
        back_up(log, there)
    assert there.read_text() == "mine"
    before = log.read_bytes()
    with pytest.raises(FileError, match="is the season log itself"):
        back_up(log, log, overwrite=True)
    assert log.read_bytes() == before
    back_up(log, there, overwrite=True)
    assert len(events_of(there)) == 40


def test_a_damaged_log_is_not_backed_up(log: Path, tmp_path: Path) -> None:
    damage(log)
    with pytest.raises(SeasonError, match="the season log is damaged"):
        back_up(log, tmp_path / "copy.db")
    assert not (tmp_path / "copy.db").exists()


def test_a_full_disk_takes_no_half_backup(log: Path, small_disk: Path) -> None:
    write_log(log, some_events(100))
    with pytest.raises(RingrowError, match=r"disk is full|No space left"):
        back_up(log, small_disk / "copy.db")
    assert list(small_disk.iterdir()) == []
    assert len(events_of(log)) == 100


def test_a_full_disk_changes_nothing_in_the_log_or_by_a_restore(log: Path, small_disk: Path) -> None:
    write_log(log, some_events(100))
    here = write_log(small_disk / "season.db", some_events(2))
    before = events_of(here)
    with pytest.raises(RingrowError, match=r"disk is full|No space left"):
        merge_log(here, log)
    with pytest.raises(RingrowError, match=r"disk is full|No space left"):
        restore(here, log)
    assert events_of(here) == before
    assert [file.name for file in small_disk.iterdir() if not file.name.startswith("season.before")] == [
        "season.db"
    ]


def test_a_restore_keeps_the_log_that_was_there_and_gives_no_number_twice(log: Path, tmp_path: Path) -> None:
    back_up(log, tmp_path / "copy.db")
    later = make_event(100)
    write_log(log, [later])
    done = restore(log, tmp_path / "copy.db")
    assert (done.events, done.added, done.aside) == (40, 0, tmp_path / "season.before-restore-1.db")
    assert events_of(log) == some_events(40)
    assert done.aside is not None
    assert events_of(done.aside)[-1] == later
    assert numbers_of(done.aside)[later.flag] == 11
    # Number 11 stands on paper somewhere: the next flag is 12.
    new = make_event(200)
    write_log(log, [new])
    assert numbers_of(log)[new.flag] == 12
    assert b"note 100" not in log.read_bytes()
    assert restore(log, tmp_path / "copy.db").aside == tmp_path / "season.before-restore-2.db"


def test_a_damaged_log_is_replaced_and_no_journal_of_it_is_left(log: Path, tmp_path: Path) -> None:
    back_up(log, tmp_path / "copy.db")
    damage(log)
    broken = log.read_bytes()
    (tmp_path / "season.db-journal").write_bytes(b"not a journal")
    done = restore(log, tmp_path / "copy.db")
    assert done.aside is not None
    assert done.aside.read_bytes() == broken
    assert events_of(log) == some_events(40)
    assert sorted(file.name for file in tmp_path.iterdir()) == [
        "copy.db",
        "season.before-restore-1.db",
        "season.db",
    ]


def test_an_empty_file_is_replaced_and_a_missing_log_made(log: Path, tmp_path: Path) -> None:
    back_up(log, tmp_path / "copy.db")
    log.write_bytes(b"")
    assert restore(log, tmp_path / "copy.db").events == 40
    log.unlink()
    assert restore(log, tmp_path / "copy.db").aside is None
    assert events_of(log) == some_events(40)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", r'backup ".*bad\.db": the season log is an empty file'),
        (b"flags, flags" * 100, r'backup ".*bad\.db": found no copy of a season log, or one whose beginning'),
        (b"SQLite format 3\0" + b"flags" * 100, r'backup ".*bad\.db": the season log is damaged'),
        (b'{"id": 1}', "that is a dump; bring it in with: ringrow season load"),
    ],
)
@pytest.mark.parametrize("use", [restore, merge_log])
def test_a_bad_backup_changes_nothing(
    log: Path, tmp_path: Path, content: bytes, message: str, use: type[None]
) -> None:
    bad = tmp_path / "bad.db"
    bad.write_bytes(content)
    before = log.read_bytes()
    with pytest.raises(SeasonError, match=message):
        use(log, bad)  # type: ignore[call-arg]
    assert log.read_bytes() == before
    assert sorted(file.name for file in tmp_path.iterdir()) == ["bad.db", "season.db"]


def test_a_backup_of_another_program_or_a_newer_version_or_none_is_refused(log: Path, tmp_path: Path) -> None:
    other = tmp_path / "recipes.db"
    raw = sqlite3.connect(other)
    raw.execute("CREATE TABLE recipes (name TEXT)")
    raw.close()
    with pytest.raises(SeasonError, match=r'recipes\.db": found a database of some other program'):
        restore(log, other)
    newer = write_log(tmp_path / "newer.db", some_events(1))
    raw = sqlite3.connect(newer)
    raw.execute("PRAGMA user_version = 99")
    raw.close()
    with pytest.raises(SeasonError, match=r'newer\.db": found a season log of schema 99; .*update this one'):
        restore(log, newer)
    with pytest.raises(FileError, match=r'backup ".*none\.db": cannot be read'):
        restore(log, tmp_path / "none.db")
    with pytest.raises(SeasonError, match="that is the season log itself"):
        restore(log, log)
    assert events_of(log) == some_events(40)


def test_merging_refuses_one_id_with_two_contents(log: Path, tmp_path: Path) -> None:
    other = write_log(tmp_path / "other.db", [make_event(50), make_event(3, value="dry")])
    with pytest.raises(SeasonError, match="found two different contents under one id"):
        merge_log(log, other)
    assert len(events_of(log)) == 40


def test_a_dump_line_reads_as_written_here() -> None:
    assert list(dump_lines([make_event(1, value="ñ"), make_event(0, who="")])) == [
        '{"field":"note","flag":"00000000-0000-4000-8000-0000000f4240",'
        '"id":"00000000-0000-4000-8000-000000000000","parents":[],"source":"test","value":"note 0",'
        '"when":"2026-04-02T13:05:00.000000Z","who":""}',
        '{"field":"note","flag":"00000000-0000-4000-8000-0000000f4240",'
        '"id":"00000000-0000-4000-8000-000000000001","parents":["00000000-0000-4000-8000-000000000000"],'
        '"source":"test","value":"\\u00f1","when":"2026-04-02T13:06:00.000000Z","who":"Walker"}',
    ]


LINE = next(dump_lines([make_event(0)]))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("<<<<<<< mine\n", r"line 2: found '<<<<<<< mine'; allowed: one event a line"),
        ("[" * 100_000, "line 2: found .* allowed: one event a line"),
        ('{"value": ' + "9" * 5_000 + "}", "line 2: found .* allowed: one event a line"),
        ("{}", "line 2: event: found .* allowed: an object with"),
        (LINE.replace("note 0", "x" * 2_000_001), "line 2: found more than 2,000,000 characters"),
        (LINE.replace('"note"', '"status"'), "line 2: event .* status: found 'note 0'; allowed: open"),
        (LINE.replace("note 0", "dry"), "found two different contents under one id"),
        ("\udcff", "after line .*: found bytes that are not UTF-8 text"),
    ],
)
def test_a_dump_with_one_bad_line_brings_nothing_and_starts_no_log(
    tmp_path: Path, text: str, message: str
) -> None:
    dump = tmp_path / "dump.jsonl"
    dump.write_text(f"{LINE}\n{text}\n", encoding="utf-8", errors="surrogateescape")
    with pytest.raises(SeasonError, match=message):
        load_lines(tmp_path / "season.db", dump)
    path = tmp_path / "season.db"
    assert not path.exists() or events_of(path) == []


def test_a_dump_comes_back_from_any_text_file(log: Path, tmp_path: Path) -> None:
    lines = list(dump_lines(events_of(log)))
    dump = tmp_path / "dump.jsonl"
    dump.write_bytes(b"\xef\xbb\xbf" + "\r\n\r\n".join(reversed(lines)).encode())
    again = tmp_path / "again.db"
    assert load_lines(again, dump).added == 40
    done = load_lines(again, dump)
    assert (done.added, done.already) == (0, 40)
    assert list(dump_lines(events_of(again))) == lines
    with pytest.raises(FileError, match=r'dump ".*none\.jsonl": cannot be read'):
        load_lines(again, tmp_path / "none.jsonl")


def test_a_file_of_two_gigabytes_is_refused_before_it_is_read(log: Path, tmp_path: Path) -> None:
    huge = tmp_path / "huge"
    with huge.open("wb") as stream:
        stream.write(b"name,lat,lon\n")
        stream.truncate(2 * 1024**3)
    before = log.read_bytes()
    begun = time.process_time()
    with pytest.raises(SeasonError, match="found no copy of a season log"):
        restore(log, huge)
    with pytest.raises(FileError, match="found 2,147 MB; allowed: up to 500 MB; split it"):
        load_lines(log, huge)
    assert time.process_time() - begun < 0.2
    assert log.read_bytes() == before


def test_a_sound_log_has_neither_damage_nor_oddity(log: Path) -> None:
    report = check_log(log, now=NOW)
    assert (report.events, report.flags, report.damage, report.oddities) == (40, 10, (), ())


def test_odd_events_are_named(tmp_path: Path) -> None:
    first = make_event(0)
    odd = [
        make_event(1, when=first.when - timedelta(days=2)),
        make_event(5),
        make_event(8, field="sketch"),
        make_event(12, when=NOW + timedelta(days=2)),
        make_event(16, when=WHEN.replace(year=1970)),
    ]
    report = check_log(write_log(tmp_path / "season.db", [first, *odd]), now=NOW)
    assert report.damage == ()
    assert [(finding.what, finding.event) for finding in report.oddities] == [
        ("parent", odd[1].id),
        ("field", ""),
        ("clock", odd[0].id),
        ("clock", odd[3].id),
        ("clock", odd[4].id),
    ]
    texts = " ".join(finding.text for finding in report.oddities)
    for words in (
        "which is not in this log",
        '1 event about "sketch", which this version does not know',
        "dated before an event that it answers",
        "which lies ahead",
        "before the year 2000",
    ):
        assert words in texts


def test_a_changed_row_is_named_by_check_and_left_out_by_salvage(log: Path, tmp_path: Path) -> None:
    whole = log.read_bytes()
    log.write_bytes(whole.replace(b"note 7 wet", b"note 7 dry"))
    broken = make_event(7).id
    (finding,) = check_log(log, now=NOW).damage
    assert (finding.event, finding.field) == (broken, "note")
    assert "does not match its fingerprint" in finding.text
    saved = salvage_log(log, tmp_path / "new.db", overwrite=False)
    assert [lost.event for lost in saved.lost] == [broken]
    assert events_of(tmp_path / "new.db") == [event for event in some_events(40) if event.id != broken]
    assert numbers_of(tmp_path / "new.db") == numbers_of_whole(whole, tmp_path)


def numbers_of_whole(whole: bytes, folder: Path) -> dict[str, int]:
    path = folder / "whole.db"
    path.write_bytes(whole)
    return numbers_of(path)


def test_a_log_whose_tree_is_gone_is_saved_whole(log: Path, tmp_path: Path) -> None:
    numbers = numbers_of(log)
    damage(log)
    assert salvage_log(log, tmp_path / "new.db", overwrite=False).lost == ()
    # Notes of 9,000 and 4,100 letters run over several pages.
    assert events_of(tmp_path / "new.db") == some_events(40)
    assert numbers_of(tmp_path / "new.db") == numbers


def test_what_a_wiped_page_held_is_named_from_the_index(tmp_path: Path) -> None:
    events = [make_event(number, value="wet " * 100) for number in range(40)]
    log = write_log(tmp_path / "season.db", events)
    data = bytearray(log.read_bytes())
    at = data.index(b"wet wet") // 4096 * 4096
    data[at : at + 4096] = bytes(4096)
    log.write_bytes(data)
    report = check_log(log, now=NOW)
    saved = salvaged(log)
    missing = {event.id for event in events} - {event.id for event in saved.events}
    assert missing
    assert {finding.event for finding in saved.lost} == missing
    assert {finding.flag for finding in saved.lost} == {event.flag for event in events if event.id in missing}
    assert report.events == 40 - len(missing)
    assert "the season log is damaged" in report.damage[0].text


def test_a_chain_of_pages_that_bites_its_own_tail_has_an_end() -> None:
    # Nine texts, the last of 2^28 letters, whose record runs on in page 2, which points to itself.
    head = bytes([0x0E, 0x55, 0x55, *[0x0D] * 6, 0x82, 0x80, 0x80, 0x80, 0x0D])
    length, size = len(head) + 72 + 2**28, 4096
    least = (size - 12) * 32 // 255 - 23
    local = least + (length - least) % (size - 4)
    local = local if local <= size - 35 else least
    record = (head + b"x" * local)[:local] + (2).to_bytes(4, "big")
    pages = (bytes(100) + record).ljust(size, b"\0") + (2).to_bytes(4, "big").ljust(size, b"y")
    (row,) = read_pages(pages).rows
    assert row[0] == "x" * 36
    assert 0 < sum(map(len, row)) <= len(pages)


def test_nothing_to_save_says_so(tmp_path: Path) -> None:
    log = tmp_path / "season.db"
    log.write_bytes(b"flags" * 1_000)
    with pytest.raises(SeasonError, match="no event could be read from it; nothing was written"):
        salvage_log(log, tmp_path / "new.db", overwrite=False)
    assert not (tmp_path / "new.db").exists()
    with pytest.raises(SeasonError, match="that is the damaged log itself"):
        salvage_log(log, log, overwrite=True)
    with pytest.raises(SeasonError, match="the season log cannot be read"):
        salvage_log(tmp_path / "none.db", tmp_path / "new.db", overwrite=False)


def test_a_log_of_schema_1_is_read_as_it_was_written(tmp_path: Path) -> None:
    path = write_schema_1(tmp_path / "season.db")
    (state,) = read_states(path)
    assert (state.id, state.number, state.status, state.set_by) == (FLAG_1, 7, "fixed", "Walker")
    assert [event.id for event in events_of(path)] == [row[0] for row in ROWS_1]
    assert check_log(path, now=NOW).damage == ()


SECOND = ("ALTER TABLE event ADD COLUMN seal TEXT NOT NULL DEFAULT ''",)


@pytest.fixture
def _second_schema(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The program as it will be with a second script of migration."""
    monkeypatch.setattr(season_disk, "MIGRATIONS", (*season_disk.MIGRATIONS[:1], SECOND))
    monkeypatch.setattr(season_disk, "SCHEMA", 2)
    season_disk.expected_layout.cache_clear()
    yield
    season_disk.expected_layout.cache_clear()


@pytest.mark.usefixtures("_second_schema")
def test_a_log_of_schema_1_is_brought_to_schema_2_once(tmp_path: Path) -> None:
    path = write_schema_1(tmp_path / "season.db")
    for _ in range(2):
        with open_season(path) as season:
            run = season.connection.execute
            assert run("PRAGMA user_version").fetchone() == (2,)
            assert run("SELECT id, seal FROM event").fetchall() == [(row[0], "") for row in ROWS_1]
            assert season.numbers() == {FLAG_1: 7}
            assert [event.id for event in season.events()] == [row[0] for row in ROWS_1]
    assert check_log(path, now=NOW).damage == ()


@pytest.mark.usefixtures("_second_schema")
def test_a_migration_that_fails_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write_schema_1(tmp_path / "season.db")
    before = path.read_bytes()
    failing = (season_disk.MIGRATIONS[0], (*SECOND, "INSERT INTO nowhere VALUES (1)"))
    with monkeypatch.context() as broken:
        broken.setattr(season_disk, "MIGRATIONS", failing)
        # The check of the layout comes before the script runs, and knows only schema 1.
        with pytest.raises(SeasonError, match="no such table: nowhere"):
            read_states(path)
    assert path.read_bytes() == before
    assert read_states(path)[0].number == 7


def test_tables_of_another_layout_are_damage(log: Path) -> None:
    raw = sqlite3.connect(log)
    raw.execute("DROP TRIGGER event_is_never_changed")
    raw.close()
    with pytest.raises(SeasonError, match=r"damaged \(its tables are not those of schema 1\)"):
        read_states(log)
    (finding,) = check_log(log, now=NOW).damage
    assert "its tables are not those of schema 1" in finding.text


def test_a_log_without_its_mark_is_damage_not_another_program(log: Path) -> None:
    raw = sqlite3.connect(log)
    raw.execute("PRAGMA application_id = 5")
    raw.close()
    with pytest.raises(SeasonError, match=r"damaged \(its mark as a season log is missing\)"):
        read_states(log)


def test_an_undo_sets_the_value_before_and_a_second_undo_brings_it_back() -> None:
    one, two = make_event(0, value="wet"), make_event(1, value="dry")
    back = undo_event([two, one], id_=make_event(2).id, when=WHEN, who="Office", source="undo")
    # Its clock runs behind that of what it takes back; it stands all the same.
    assert (back.value, back.parents, back.when < two.when) == ("wet", (two.id,), True)
    assert heads([one, two, back]) == [back]
    again = undo_event([one, two, back], id_=make_event(3).id, when=WHEN, who="", source="undo")
    assert again.value == "dry"


def test_an_undo_of_a_first_word_sets_the_default_and_settles_a_clash() -> None:
    status = make_event(0, field="status", value="fixed")
    assert undo_event([status], id_=make_event(9).id, when=WHEN, who="", source="undo").value == "open"
    clash = [
        make_event(0),
        make_event(1, value="mine"),
        make_event(2, value="theirs", parents=(make_event(0).id,)),
    ]
    back = undo_event(clash, id_=make_event(9).id, when=WHEN, who="", source="undo")
    assert back.value == "note 0"
    assert heads([*clash, back]) == [back]
    assert value_before(clash[0], clash) == ""
    with pytest.raises(SeasonError, match="nothing was said about this field"):
        undo_event([], id_=make_event(9).id, when=WHEN, who="", source="undo")


def test_json_of_a_dump_is_plain(log: Path) -> None:
    for line in dump_lines(events_of(log)):
        assert line.isascii()
        assert list(json.loads(line)) == sorted(json.loads(line))
