"""``ringrow round``: one walk over everything, from the first line to the last."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner, Result

from ringrow.cli import round as round_commands
from ringrow.cli.main import cli
from ringrow.farm.flags import Stamp
from ringrow.farm.records import fold_records, record_event
from ringrow.farm.rounds import WHOSE
from ringrow.farm.season import open_season, read_states

if TYPE_CHECKING:
    from pathlib import Path


def run(*arguments: Any) -> Result:
    return CliRunner().invoke(cli, ["round", *map(str, arguments)])


def good(*arguments: Any) -> Result:
    result = run(*arguments)
    assert result.exit_code == 0, result.output
    return result


def plain(*arguments: Any) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(good(*arguments, "--json").stdout)
    assert told["schema"] == 1
    return told


def of(told: dict[str, Any], name: str) -> dict[str, Any]:
    return next(each for each in told["systems"] if each["name"] == name)


@pytest.fixture
def farm(sample_farm: Path) -> Path:
    """Of the sample farm one pivot and its well: quick to read."""
    for path in (sample_farm / "fields").glob("*.toml"):
        if not path.name.startswith("10_"):
            path.unlink()
    (sample_farm / "farm.toml").write_text(
        'name = "Two Windmill Farm"\ntime_zone = "America/Chicago"\n'
        '[[well]]\nname = "North well"\npower = "engine"\n'
        'at = { lat = 36.7607667, lon = -101.4909881 }\nserves = ["Windmill pivot"]\n',
        encoding="utf-8",
    )
    return sample_farm


@pytest.fixture
def walk(farm: Path) -> Path:
    """The same with a round open."""
    good("start", farm, "--name", "Spring", "--who", "Ana")
    return farm


def test_whose_stands_in_the_help() -> None:
    assert round_commands.WHOSE == WHOSE


def test_starting_shows_the_cautions(farm: Path) -> None:
    result = good("start", farm, "--name", "Spring 2027", "--who", "Ana")
    assert result.stdout.startswith("Round Spring 2027: started ")
    assert "panel door stays shut" in result.stderr
    assert "One person holds the start" in result.stderr
    assert "Local codes and licensed people come first." in result.stderr
    assert plain("list", farm)["rounds"][0]["who"] == "Ana"


def test_one_line_records_a_system_and_sets_flags(walk: Path) -> None:
    result = good("look", walk, "Windmill pivot", "--towers", "1-7", "--nothing-seen", "--except",
                  "tower 5: gearbox leaking", "--who", "Ben")  # fmt: skip
    assert "Ben: towers 1 to 7, nothing seen, except tower 5: gearbox leaking" in result.stdout
    assert 'flag 1 set: gearbox (guessed from "gearbox" in the note)' in result.stdout
    assert "not yet: Windmill pivot: volts; forward; reverse; gun; flow; pressure" in result.stdout
    (state,) = read_states(walk / "season.db")
    assert (state.kind, state.set_by, state.note) == (
        "gearbox", "Ben", "Windmill pivot: tower 5: gearbox leaking",
    )  # fmt: skip
    (said,) = of(plain("show", walk), "Windmill pivot")["looks"][0]["except"]
    assert (said["flag"], said["number"], said["status"]) == (state.id, 1, "open")
    assert "good, except what was flagged" in good("show", walk, "--system", "Windmill pivot").stdout


def test_a_failed_try_is_shown_with_what_becomes_of_it(walk: Path) -> None:
    good("look", walk, "North well", "--nothing-seen", "--item", "starts=no", "--why", "battery dead",
         "--next", "buy one", "--whose", "us", "--needed-by", "2027-04-01", "--at", "2026-03-14")  # fmt: skip
    (failed,) = of(plain("show", walk, "--system", "North well"), "North well")["failed"]
    assert {key: failed[key] for key in ("item", "why", "next", "whose", "needed_by")} == {
        "item": "starts", "why": "battery dead", "next": "buy one", "whose": "us", "needed_by": "2027-04-01",
    }  # fmt: skip
    # Noon in the farm's zone: on 14 March that is summer time, five hours behind UTC.
    assert failed["when"] == "2026-03-14T17:00:00.000000Z"
    assert "2026-03-14 12:00 not said" in good("show", walk, "--system", "North well").stdout
    assert (
        "why: battery dead; next step: buy one; whose: us; needed by: 2027-04-01" in good("show", walk).stdout
    )


def test_a_look_is_corrected_and_taken_back(walk: Path) -> None:
    look = plain("look", walk, "Windmill pivot", "--nothing-seen", "--except", "tower 2: tire flat")["looks"][
        0
    ]
    fewer = plain(
        "look", walk, "Windmill pivot", "--towers", "1-3", "--nothing-seen", "--correct", look["id"][:8]
    )
    assert fewer["looks"][0]["id"] == look["id"]
    assert fewer["looks"][0]["except"][0]["number"] == 1
    assert of(fewer, "Windmill pivot")["missing"][3] == {"item": "tires", "parts": ["4", "5", "6", "7"]}
    assert "as it was said before" in good("undo", walk, look["id"][:8]).stdout
    assert of(plain("show", walk), "Windmill pivot")["looks"][0]["parts"] == []
    with open_season(walk / "season.db") as season:
        assert len([record for record in fold_records(season.events()) if record.type == "look"]) == 1


def test_a_correction_stays_in_its_round_and_at_its_time(walk: Path) -> None:
    early = ["--nothing-seen", "--at", "2026-03-14"]
    look = plain("look", walk, "Windmill pivot", *early)["looks"][0]
    good("end", walk)
    good("start", walk, "--name", "Fall")
    good("look", walk, "Windmill pivot", "--towers", "1", "--nothing-seen", "--correct", look["id"])
    assert not of(plain("show", walk), "Windmill pivot")["looks"]
    (told,) = of(plain("show", walk, "--round", "spring"), "Windmill pivot")["looks"]
    assert (told["parts"], told["when"]) == (["1"], look["when"])


def test_an_exception_on_tape(sample_farm: Path) -> None:
    good("start", sample_farm, "--name", "Spring")
    result = good("look", sample_farm, "Elevator drip", "--except", "lateral 43 station 600: leak")
    assert "flag 1 set: leak" in result.stdout


def test_readings_alone_come_in_without_a_round(farm: Path, tmp_path: Path) -> None:
    table = tmp_path / "round.csv"
    table.write_text("system,item,answer,unit\nWindmill pivot,pressure,31,psi\n", encoding="utf-8")
    good("start", farm, "--name", "Spring")
    good("end", farm)
    assert plain("import", farm, table)["new"] == 1
    assert plain("import", farm, table)["already"] == 1
    table.write_text("system,item,answer\nWindmill pivot,gun,yes\n", encoding="utf-8")
    assert "round: found none open" in run("import", farm, table).stderr


def test_taken_back_twice_it_stands_again(walk: Path) -> None:
    look = plain("look", walk, "Windmill pivot", "--except", "tower 2: tire flat")["looks"][0]
    result = good("undo", walk, look["id"])
    assert "as if it had not been said" in result.stdout
    assert "flags that it had set stay: 1" in result.stderr
    assert not of(plain("show", walk), "Windmill pivot")["looks"]
    assert len(read_states(walk / "season.db")) == 1
    assert "stands again" in good("undo", walk, look["id"]).stdout
    assert of(plain("show", walk), "Windmill pivot")["looks"]


def test_the_end_names_what_was_not_looked_at(walk: Path) -> None:
    good("look", walk, "North well", "--nothing-seen", "--item", "starts=yes")
    result = good("end", walk, "--who", "Ana")
    assert "Not all was looked at of 1 system:" in result.stdout
    assert "Windmill pivot: nothing yet" in result.stdout
    assert "North well" not in result.stdout
    told = plain("list", walk)["rounds"][0]
    assert told["ended"] is not None
    good("undo", walk, told["id"])
    assert plain("list", walk)["rounds"][0]["ended"] is None


def test_a_table_goes_out_and_comes_in_once(walk: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "round.csv"
    good("sheet", walk, "-o", sheet)
    lines = sheet.read_text(encoding="utf-8-sig").replace("\r\n", "\n").split("\n")
    at = next(n for n, line in enumerate(lines) if line.startswith('"Windmill pivot","tires"'))
    cells = lines[at].split('","')
    cells[4], cells[7] = "yes", "tower 5: tire flat; tower 6 tire cut"
    lines[at] = '","'.join(cells)
    sheet.write_text("\n".join(lines), encoding="utf-8")
    assert "nothing was written" in good("import", walk, sheet, "--dry-run").stderr
    assert not read_states(walk / "season.db")
    result = good("import", walk, sheet, "--who", "Ana")
    assert "rows filled in: 1" in result.stdout
    assert "flag 2 set: tire" in result.stdout
    again = plain("import", walk, sheet)
    assert (again["new"], again["already"], again["flags"]) == (0, 1, [])
    assert len(read_states(walk / "season.db")) == 2
    left = of(plain("show", walk), "Windmill pivot")
    assert "tires" not in [each["item"] for each in left["missing"]]


def test_rows_of_a_table_belong_to_the_open_round_and_the_lower_stands(walk: Path, tmp_path: Path) -> None:
    """A page of a notebook: dated days before the round was started here, one tower said twice."""
    table = tmp_path / "round.csv"
    table.write_text(
        "system,item,tower or zone,answer,when\n"
        "Windmill pivot,Tires,1-7,ok,2026-03-14\n"
        "Windmill pivot,tires,5,flat,2026-03-14\n"
        "Windmill pivot,Flow,,780 gpm,2026-03-14\n",
        encoding="utf-8",
    )
    assert plain("import", walk, table)["new"] == 3
    found = of(plain("show", walk), "Windmill pivot")
    assert [(each["item"], each["part"]) for each in found["failed"]] == [("tires", "5")]
    assert not {"tires", "flow"} & {each["item"] for each in found["missing"]}
    assert plain("import", walk, table)["already"] == 3


def test_a_bad_row_brings_nothing_in(walk: Path, tmp_path: Path) -> None:
    table = tmp_path / "round.csv"
    table.write_text(
        "system,item,answer,except\nWindmill pivot,tires,yes,tower 5: tire\nWindmill pivot,oil,yes,\n",
        encoding="utf-8",
    )
    result = run("import", walk, table)
    assert result.exit_code == 1
    assert "nothing was brought in; rows that cannot be: 1" in result.stderr
    assert "row 3: item of" in result.stderr
    assert not read_states(walk / "season.db")
    table.write_text("system,item,answer\n" + f"{'wet ' * 99},oil,yes\n" * 999, encoding="utf-8")
    result = run("import", walk, table)
    assert "rows that cannot be: 999\nrow 2: system: found" in result.stderr
    assert "\nand 979 more\n" in result.stderr
    assert len(result.stderr) < 5_000


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["start", "--name", "Spring"], 'round "Spring" is still open; end it first'),
        (["start", "--name", "x" * 81], "name of a round: found 81 characters; allowed: up to 80"),
        (["look", "Windmill pivot", "--nothing-seen", "--at", "2072-01-01"], "which is still to come"),
        (["look", "Windmill pivot", "--nothing-seen", "--correct", "abcd12"], 'look "abcd12": not in this'),
        (["look", "Windmill pivot", "--nothing-seen", "--who", "x" * 201], "who: found 201 characters"),
        (["undo", "ab"], 'look or round "ab": not in this season; allowed: the first 4'),
        (["show", "--round", "Fall"], 'round: found "Fall"; allowed: "Spring"'),
        (["show", "--system", "Wind"], 'system: found "Wind"'),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said_and_changes_nothing(walk: Path, arguments: list[str], message: str) -> None:
    before = (walk / "season.db").read_bytes()
    result = run(arguments[0], walk, *arguments[1:])
    assert result.exit_code == 1
    assert message in result.stderr
    assert "Traceback" not in result.output
    assert (walk / "season.db").read_bytes() == before


def test_a_round_that_two_copies_of_the_log_started_ends_once(walk: Path) -> None:
    with open_season(walk / "season.db") as season, season.writing():
        stamp = Stamp(when=datetime(2026, 3, 1, tzinfo=UTC), who="Ben", source="t")
        season.append([record_event("round", {"name": "spring"}, stamp=stamp)])
    good("end", walk, "--who", "Ana")
    assert all(each["ended"] for each in plain("list", walk)["rounds"])
    assert "round: found none open" in run("end", walk).stderr


def test_a_name_is_used_once(walk: Path) -> None:
    good("end", walk)
    result = run("start", walk, "--name", "SPRING")
    assert result.exit_code == 1
    assert "which there is already" in result.stderr
    assert "name of a round: found nothing" in run("start", walk, "--name", " ").stderr
    assert "round: found none open" in run("look", walk, "North well", "--nothing-seen").stderr
    assert "round: found none open" in run("end", walk).stderr


def test_a_name_from_another_log_does_no_harm_in_a_message(walk: Path) -> None:
    with open_season(walk / "season.db") as season, season.writing():
        when = datetime(2026, 3, 1, tzinfo=UTC)
        season.append(
            [record_event("round", {"name": "\x1b[31mFall\n"}, stamp=Stamp(when=when, who="", source="t"))]
        )
    result = run("show", walk, "--round", "gone")
    assert result.exit_code == 1
    assert "\x1b" not in result.stderr
    assert '"[31mFall"' in result.stderr
    assert "\x1b" not in good("list", walk).stdout


def test_an_item_needs_an_answer(walk: Path) -> None:
    result = run("look", walk, "North well", "--item", "starts")
    assert result.exit_code == 2
    assert "allowed: ITEM=ANSWER, such as starts=yes" in result.stderr


def test_without_a_season_log(farm: Path) -> None:
    assert plain("list", farm)["rounds"] == []
    assert plain("show", farm)["round"] is None
    assert "no round was started yet" in good("list", farm).stderr
    for words in (["look", farm, "North well", "--nothing-seen"], ["end", farm]):
        result = run(*words)
        assert result.exit_code == 1
        assert "round: found none open; start one with: ringrow round start" in result.stderr
    assert not (farm / "season.db").exists()
