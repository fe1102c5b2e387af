"""Languages: no message lacks its translation, none is left over, no English reaches a Spanish crew.

Spanish here is checked for being there, whole and of the same parts; whether it is good Spanish of the
fields no test can tell.
"""

from __future__ import annotations

import json
import re
import shutil
import tomllib
from html import unescape
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

import pytest
from babel.dates import get_month_names
from click.testing import CliRunner
from pypdf import PdfReader

import catalogs
from exported import laid_out
from ringrow.cli.main import cli
from ringrow.coverage.accuracy import DEFAULT_ACCURACY
from ringrow.coverage.locate import locate
from ringrow.coverage.locate_field import nearest_field
from ringrow.errors import FarmFileError, RingrowError
from ringrow.farm.flag_places import locate_flags
from ringrow.farm.flags import Stamp
from ringrow.farm.load import load_farm
from ringrow.farm.readers import read_points
from ringrow.farm.sample import import_sample_flags
from ringrow.farm.schema import FarmFile
from ringrow.farm.season import SEASON_FILE, read_states
from ringrow.handoff.assumed_words import SENTENCES, said_again
from ringrow.handoff.export import export_farm
from ringrow.handoff.flag_history import flag_sheet
from ringrow.handoff.flag_table import by_class, flag_table
from ringrow.handoff.languages import LANGUAGES, _, catalog, counted, speaking, spoken_language
from ringrow.handoff.map.page import map_page
from ringrow.handoff.place_record import assumed_by_system
from ringrow.handoff.place_words import place_words
from ringrow.handoff.route import plan_route, route_stops
from ringrow.handoff.route_table import route_text
from ringrow.handoff.sheets.pages import make_sheets

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.model import Farm

ROOT = Path(__file__).resolve().parents[2]
OTHERS = [language for language in LANGUAGES if language != "en"]
FIELDS = ("Windmill quarter", "Elevator quarter", "Ditch field", "Long corner quarter", "Tow eighty")
# What is written alike in every language, or is no language: units, marks of formats and of our commands.
ALIKE = frozenset(
    {
        *("m", "cm", "mm", "km", "ha", "h", "min", "UTC", "WGS", "r", "cep", "rms", "id", "x"),
        *("ringrow", "flag", "import", "FARM", "PHOTOFOLDER", "crews", "field", "minutes", "wait", "toml"),
        *"ABCDEFGHIJKLMNOPQRSTUVWXYZ",
    }
)
# Words of names that are drawn in two lines.
NAMES = frozenset({"Windmill", "Elevator", "Ditch", "Long", "Tow", "corner", "quarter", "field", "eighty"})
# Babel names the months.
_MONTHS = get_month_names("abbreviated", locale="es")
_WORD = re.compile(r"[^\W\d_]+")


@pytest.fixture(scope="module")
def source() -> dict[catalogs.Text, list[str]]:
    """Every message of the source."""
    found = catalogs.source_messages()
    assert len(found) > 500
    return found


@pytest.mark.parametrize("language", OTHERS)
def test_every_message_is_translated(language: str, source: dict[catalogs.Text, list[str]]) -> None:
    have = catalogs.catalog_messages(language)
    missing = [f"{text.one!r} ({places[0]})" for text, places in source.items() if text not in have]
    assert missing == [], f"python tests/catalogs.py {language} prints the entries to fill in"
    unsure = [text.one for text, found in have.items() if any(message.fuzzy for _, message in found)]
    assert unsure == []


@pytest.mark.parametrize("language", OTHERS)
def test_no_message_is_left_over_or_said_in_two_ways(
    language: str, source: dict[catalogs.Text, list[str]]
) -> None:
    have = catalogs.catalog_messages(language)
    assert [f"{found[0][0]}: {text.one!r}" for text, found in have.items() if text not in source] == []
    two = {
        text.one: found for text, found in have.items() if len({str(each.string) for _, each in found}) > 1
    }
    assert two == {}


@pytest.mark.parametrize("language", OTHERS)
def test_translations_hold_the_same_parts(language: str) -> None:
    for text, found in catalogs.catalog_messages(language).items():
        for file, message in found:
            said = message.string if text.many else (message.string,)
            assert len(said) == (2 if text.many else 1), f"{file}: {text.one!r}: two plural forms"
            for english, own in zip((text.one, text.many) if text.many else (text.one,), said, strict=True):
                assert own, f"{file}: {text.one!r} is empty"
                # A count of one may be a word in either language; everything else is needed.
                wanted, there = set(catalogs.placeholders(english)), set(catalogs.placeholders(own))
                assert there == wanted, f"{file}: {own!r}: found {there}, wanted {wanted}"
                assert english[:1].isspace() == own[:1].isspace(), f"{file}: {own!r}: blank in front"
                assert english[-1:].isspace() == own[-1:].isspace(), f"{file}: {own!r}: blank at the end"


def test_messages_are_literals() -> None:
    """What is put together before it is looked up can be in no catalog."""
    assert list(catalogs.glued_messages()) == []


def test_languages_are_the_same_everywhere() -> None:
    """The schema of farm.toml cannot import the layer that speaks; commands import nothing heavy."""
    assert get_args(FarmFile.model_fields["language"].annotation) == tuple(LANGUAGES)
    option = next(each for each in cli.commands["map"].params if each.name == "language")
    assert tuple(option.type.choices) == tuple(LANGUAGES)  # type: ignore[attr-defined]


def test_a_language_holds_for_a_block() -> None:
    with speaking("es"):
        assert spoken_language() == "es"
        assert counted("{n} flag", "{n} flags", 1).format(n=1) == "1 bandera"
        assert counted("{n} flag", "{n} flags", 0).format(n=0) == "0 banderas"
        with speaking("en"):
            assert _("gearbox") == "gearbox"
        assert _("gearbox") == "caja de engranes"
    assert spoken_language() == "en"
    assert _("gearbox") == "gearbox"


def test_a_language_that_is_none() -> None:
    with pytest.raises(RingrowError, match=r'language: found "fr"; allowed: en, es'), speaking("fr"):
        pass


def test_a_message_in_no_catalog_stays_as_it_is() -> None:
    with speaking("es"):
        assert _(" ".join(["nobody", "translated", "this"])) == "nobody translated this"


def test_a_farm_file_names_the_languages(sample_farm: Path) -> None:
    text = (sample_farm / "farm.toml").read_text(encoding="utf-8")
    (sample_farm / "farm.toml").write_text('language = "fr"\n' + text.replace('language = "en"', ""))
    with pytest.raises(FarmFileError, match=r'language: found "fr"; allowed: "en" or "es"'):
        load_farm(sample_farm)


def test_texts_of_the_layers_below_are_said_again() -> None:
    with speaking("es"):
        assert said_again("tower 5, drop +3") == "torre 5, bajante +3"
        assert said_again("tower 5, outer-trailing wheel") == "torre 5, rueda exterior trasera"
        assert said_again("812 ft from the pivot point") == "a 812 pies del punto pivote"
        assert (
            said_again("throw taken as 18 ft, from [defaults]")
            == "alcance tomado como 18 pies, de [defaults]"
        )
        assert said_again("W+NW corner 2") == "esquina O+NO 2"
        assert said_again("what a person wrote") == "what a person wrote"
    assert said_again("tower 5") == "tower 5"


def test_all_that_the_sample_farm_assumes_is_said_again(project: Path) -> None:
    """A sentence that the readers of farm files changed would fall through to English unseen."""
    farm, layouts = laid_out(project / "sample_fields" / "two_windmill_farm")
    texts = {text for assumed in assumed_by_system(farm.fields).values() for text in assumed}
    texts |= {piece.name for layout in layouts for piece in _pieces(layout)}
    assert len(texts) > 20
    with speaking("es"):
        assert {text for text in texts if said_again(text) == text} == set()
    assert len(set(SENTENCES)) == len(SENTENCES)


def _pieces(layout: FieldLayout) -> list[Any]:
    from ringrow.coverage.acres import field_acres

    return list(field_acres(layout).dry_pieces)


# What the crew gets, in Spanish: every word comes from a catalog or from the farm's own data.


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory, project: Path) -> tuple[Farm, list[FieldLayout], Any]:
    """Some fields of the sample farm, with the flags of its files."""
    from dataclasses import replace
    from datetime import UTC, datetime

    farm, layouts = laid_out(project / "sample_fields" / "two_windmill_farm")
    home = replace(farm, folder=tmp_path_factory.mktemp("farm"))
    for name in ("flags", "photos"):
        if (farm.folder / name).is_dir():
            (home.folder / name).symlink_to(farm.folder / name)
    import_sample_flags(
        home, layouts, stamp=Stamp(when=datetime(2026, 4, 15, tzinfo=UTC), who="", source="t")
    )
    flags = by_class(locate_flags(home, layouts, read_states(home.folder / SEASON_FILE)))
    kept = [layout for layout in layouts if layout.field.name in FIELDS]
    home = replace(home, fields=tuple(layout.field for layout in kept))
    return home, kept, [flag for flag in flags if flag.field in FIELDS or flag.well is not None]


@pytest.fixture(scope="module")
def own_texts(season: Any, project: Path) -> list[str]:
    """Names, notes and other free texts of the farm's files and flags, longest first."""
    farm, _layouts, flags = season
    own = [text for table in _tables(project) for text in _texts(table) if _is_free(text)]
    own += [contact.name for contact in farm.contacts]
    own += _names(laid_out(project / "sample_fields" / "two_windmill_farm")[0])
    own += [text for flag in flags for text in (flag.state.name, flag.state.note, flag.state.set_by)]
    own += [text for flag in flags for text in (flag.state.id, *map(str, flag.state.photos))]
    return sorted({" ".join(text.split()) for text in own if text}, key=len, reverse=True)


def _names(farm: Farm) -> list[str]:
    systems = [
        system for field in farm.fields for system in (*field.pivots, *field.lateral_moves, *field.drip)
    ]
    zones = [zone for field in farm.fields for block in field.drip for zone in block.zones]
    machines = [pivot.machine for field in farm.fields for pivot in field.pivots if pivot.machine]
    return [farm.name, *machines, *(each.name for each in (*farm.fields, *farm.wells, *systems, *zones))]


def _is_free(text: str) -> bool:
    """Return whether a text is somebody's own: one word alone may be a choice of ours, such as ``engine``."""
    return " " in text or any(letter.isdigit() for letter in text)


def _tables(project: Path) -> Iterator[Any]:
    for path in (project / "sample_fields" / "two_windmill_farm").rglob("*.toml"):
        yield tomllib.loads(path.read_text(encoding="utf-8"))


def _texts(value: Any) -> Iterator[str]:
    """Yield every text in a JSON-like value; keys, and names and kinds that scripts go by, left out."""
    if isinstance(value, str):
        yield value
    if isinstance(value, dict):
        value = [item for key, item in value.items() if key not in ("name", "kind")]
    for item in value if isinstance(value, list) else ():
        yield from _texts(item)


def _strange(text: str, own_texts: list[str]) -> set[str]:
    """Return the words of a text that are in no Spanish catalog, the farm's own texts left out."""
    # What is left to be filled in, and what had to be cut off.
    text = " ".join(re.sub(r"\{\w*\}|\w+…", " ", text).split())
    for own in own_texts:
        text = re.sub(rf"(?<!\w){re.escape(own)}(?!\w)", " ", text)
    said = " ".join(re.sub(r"\{\w*\}", " ", said) for said in catalog("es").values())
    spanish = {word.casefold() for word in _WORD.findall(said)} | set(_MONTHS.values())
    words = set(_WORD.findall(text))
    return {word for word in words - ALIKE - NAMES if word.casefold() not in spanish}


def test_english_is_strange(season: Any, own_texts: list[str]) -> None:
    """The check itself can fail: the same list in English is full of unknown words."""
    farm, _layouts, flags = season
    strange = _strange(flag_table(flags, farm.units, width=None), own_texts)
    assert {"Where", "said", "about", "tower", "outside", "its", "wheel", "track"} <= strange


def test_the_map_page_is_spanish(season: Any, own_texts: list[str]) -> None:
    farm, layouts, flags = season
    with speaking("es"):
        page = map_page(farm, layouts, flags)
    assert '<html lang="es">' in page
    data = json.loads(re.search(r'<script type="application/json" id="data">(.*?)</script>', page)[1])  # type: ignore[index]
    # What has a blank in it is said to people; single words there are names of kinds for the script.
    said = [text for text in _texts(data) if " " in text and text != "lateral move"]
    page = re.sub(r"<!--.*?-->|<(script|style)\b.*?</\1>", " ", page, flags=re.DOTALL)
    said += [unescape(text) for text in re.findall(r'aria-label="([^"]*)"', page)]
    said.append(unescape(re.sub(r"<[^>]*>", " ", page)))
    assert _strange("\n".join(said), own_texts) == set()


def test_the_sheets_are_spanish(season: Any, own_texts: list[str]) -> None:
    farm, layouts, flags = season
    with speaking("es"):
        sheets = make_sheets(farm, layouts, flags)
    document = PdfReader(BytesIO(sheets.pdf))
    assert document.trailer["/Root"]["/Lang"] == "es"
    text = "\n".join(page.extract_text() for page in document.pages)
    assert _strange(text, own_texts) == set()
    assert "Qué llevar" in text


def test_lists_and_places_are_spanish(season: Any, own_texts: list[str]) -> None:
    farm, layouts, flags = season
    assumed = assumed_by_system(farm.fields)
    spots = [
        (36.7537, -101.4985),
        (36.75763, -101.47821),
        (36.7663, -101.4938),
        (36.7690, -101.4996),
        (36.5, -101.5),
    ]
    with speaking("es"):
        said = [flag_table(flags, farm.units, width=None)]
        said += [flag_sheet(flag, (), farm.units) for flag in flags]
        stops, left_out = route_stops(layouts, flags, work_min=None)
        route = plan_route(layouts, stops, start_lonlat=farm.gate, left_out=left_out)
        said.append(route_text(route, farm.units, at_min=390.0, width=None))
        for lat, lon in spots:
            place = locate(layouts, lon, lat, accuracy=DEFAULT_ACCURACY)
            nearest = nearest_field(layouts, lon, lat) if place.field is None else None
            said.append(
                place_words(place, farm.units, accuracy=DEFAULT_ACCURACY, nearest=nearest, assumed=assumed)
            )
    text = re.sub(r"id [0-9a-f-]{36}", "", "\n".join(said))
    assert _strange(text, own_texts) == set()


def test_commands_take_the_language_and_json_stays_english(sample_farm: Path) -> None:
    run = CliRunner().invoke
    place = [str(sample_farm), "--at", "36.7537, -101.4985"]
    own = run(cli, ["where", *place])
    spanish = run(cli, ["where", *place, "--language", "es"])
    text = (sample_farm / "farm.toml").read_text(encoding="utf-8")
    (sample_farm / "farm.toml").write_text('language = "es"\n' + text.replace('language = "en"', ""))
    of_farm = run(cli, ["where", *place])
    english = run(cli, ["where", *place, "--language", "en"])
    assert "span 5" in own.stdout
    assert "tramo 5" in spanish.stdout
    assert (of_farm.stdout, english.stdout) == (spanish.stdout, own.stdout)
    plain = run(cli, ["where", *place, "--language", "es", "--json"]).stdout
    assert plain == run(cli, ["where", *place, "--json"]).stdout
    assert "tramo" not in plain


@pytest.mark.parametrize(
    "command",
    [
        ["ready"],
        ["ready", "-o", "page.html"],
        ["put-away", "list"],
        ["report", "-o", "page.html"],
        ["route", "--start-up"],
    ],
    ids=" ".join,
)
def test_commands_speak_spanish(
    command: list[str], season: Any, own_texts: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    farm, _layouts, _flags = season
    monkeypatch.chdir(tmp_path)
    home = Path(shutil.copytree(ROOT / "sample_fields" / "two_windmill_farm", tmp_path / "farm"))
    shutil.copy(farm.folder / SEASON_FILE, home / SEASON_FILE)
    name, *rest = command
    group = [name, rest.pop(0)] if name == "put-away" else [name]
    result = CliRunner().invoke(cli, [*group, str(home), *rest, "--language", "es"])
    assert result.exit_code == 0, result.output
    # Items to tick stand under the word by which the command line knows them.
    text = re.sub(r"\[.\] [\w-]+:", " ", result.stdout)
    if "page.html" in command:
        text = (tmp_path / "page.html").read_text(encoding="utf-8")
        assert '<html lang="es">' in text
        text = re.sub(r"<(script|style)\b.*?</\1>", " ", text, flags=re.DOTALL)
        text = unescape(re.sub(r"<[^>]*>", " ", text))
    assert _strange(text, own_texts) == set()


@pytest.mark.parametrize("ending", ["gpx", "kml", "csv", "geojson"])
def test_files_labelled_in_spanish_come_back_as_the_same_flags(
    ending: str, season: Any, tmp_path: Path
) -> None:
    farm, layouts, flags = season
    placed = [flag for flag in flags if flag.lat is not None]
    path = tmp_path / f"crew.{ending}"
    with speaking("es"):
        export_farm(farm, layouts, placed, path)
    rows = {row.id: row for row in read_points(path).rows}
    assert {(key, row.kind_words, row.name, row.note) for key, row in rows.items()} == {
        (flag.state.id, flag.state.kind, flag.state.name, flag.state.note) for flag in placed
    }
    if ending in ("gpx", "kml"):
        assert f"<name>{placed[0].state.number} {_spanish(placed[0].state.kind)}</name>" in path.read_text(
            "utf-8"
        )


def _spanish(message: str) -> str:
    with speaking("es"):
        return _(message)
