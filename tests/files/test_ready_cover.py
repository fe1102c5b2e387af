"""The sheets' cover, read back with a general PDF library: what waits is on it, whatever people wrote."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

from click.testing import CliRunner
from pypdf import PdfReader

from farms import FARM_TOML, OUTLINE, PIVOT, write_farm
from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path

    from click.testing import Result

NAME = "P & <b>Q"
WELL = f'[[well]]\nname = "Home well"\nat = {{ lat = 36.753, lon = -101.495 }}\nserves = ["{NAME}"]\n'
MORE = "".join(
    f'[[put_away]]\nsystem = "{NAME}"\nitem = "own-{n}"\nwords = "Cap {n} on"\nback = "Cap {n} off"\n'
    for n in range(6)
)
NOTE = "<b>&</para> ñ¿¡ \u4e2d " + "W" * 3000


def run(*arguments: object) -> Result:
    result = CliRunner().invoke(cli, [str(argument) for argument in arguments])
    assert result.exit_code == 0, result.output
    return result


def pages(path: Path) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(path.read_bytes())).pages]


def test_the_cover_comes_with_a_round_or_when_asked(tmp_path: Path) -> None:
    pivot = PIVOT.replace("[[pivot]]", f'[[pivot]]\nname = "{NAME}"')
    farm = write_farm(
        tmp_path / "farm", FARM_TOML + WELL + MORE, {"home": f'name = "Home field"\n{OUTLINE}{pivot}'}
    )
    out = tmp_path / "crew.pdf"
    for tower in (1, 2):
        for kind in ("tire", "gearbox", "driveline", "cover"):
            run("flag", "add", farm, "--pivot", NAME, "--tower", tower, "--kind", kind)
    run("flag", "add", farm, "--at", "36.7501, -101.4999", "--kind", "washout")
    run("flag", "set", farm, "9", "--class", "unsafe")
    assert "Ready for first water?" not in run("sheets", farm, "-o", out).stderr
    run("put-away", "done", farm, NAME, "--all", "--note", NOTE)
    assert "Ready for first water? 1" in run("sheets", farm, "-o", out, "--ready", "--overwrite").stderr
    first = pages(out)[0]
    assert "no round was started yet" in first
    assert "flags 1 to 8 open: cover, tire, gearbox, driveline" in first
    assert "P & <b>Q" in first
    # Flags, nobody has looked, eleven items of the fall, its well: fourteen lines, of which twelve are shown.
    assert "and 2 more" in first
    assert "Open, and at no machine, block or well - flag 9: washout (unsafe), open" in first
    run("round", "start", farm, "--name", "Spring")
    spanish = run("sheets", farm, "-o", out, "--overwrite", "--language", "es", "--field", "home FIELD")
    assert "¿Listo para la primera agua? 1" in spanish.stderr
    first = pages(out)[0]
    assert "Todavía sin recorrer" in first
    assert "no quiere decir que una máquina se pueda arrancar" in first.casefold()
    assert "Ready" not in run("sheets", farm, "-o", out, "--overwrite", "--no-ready").stderr
