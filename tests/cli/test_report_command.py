"""``ringrow report``: page and PDF, one year, another language, never over a file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from click.testing import CliRunner

from farms import write_farm
from ringrow.cli.main import cli

if TYPE_CHECKING:
    from pathlib import Path

    from click.testing import Result


def run(*arguments: str) -> Result:
    return CliRunner().invoke(cli, ["report", *arguments])


def test_page_and_pdf(tmp_path: Path) -> None:
    farm, page, pdf = str(write_farm(tmp_path / "farm")), tmp_path / "season.html", tmp_path / "season.pdf"
    flag = ["flag", "add", farm, "--kind", "gearbox", "--tower", "5"]
    assert CliRunner().invoke(cli, flag).exit_code == 0
    wrote = run(farm, "-o", str(page))
    assert wrote.exit_code == 0, wrote.output
    assert f"Wrote {page}: 1 flag." in wrote.stderr
    assert "Home field pivot 1" in page.read_text(encoding="utf-8")
    assert run(farm, "-o", str(pdf), "--paper", "a4", "--language", "es").exit_code == 0
    assert pdf.read_bytes().startswith(b"%PDF")
    again = run(farm, "-o", str(page))
    assert (again.exit_code, "--overwrite" in again.output) == (1, True)
    none = run(farm, "-o", str(page), "--year", "1999", "--overwrite")
    assert none.exit_code == 0
    assert "Nothing was flagged yet." in page.read_text(encoding="utf-8")
    wrong = run(farm, "-o", str(tmp_path / "season.txt"))
    assert (wrong.exit_code, ".pdf" in wrong.output) == (1, True)


def test_a_season_of_breakdowns_alone_is_told(tmp_path: Path) -> None:
    farm, page = str(write_farm(tmp_path / "farm")), tmp_path / "season.html"
    down = ["breakdown", "add", farm, "Home field pivot 1", "--stopped", "2026-07-03 14:10"]
    assert CliRunner().invoke(cli, [*down, "--restarted", "2026-07-04 00:10"]).exit_code == 0
    assert run(farm, "-o", str(page)).exit_code == 0
    text = page.read_text(encoding="utf-8")
    assert "what was flagged, 2026" in text
    assert '<th class="name" scope="row">Home field pivot 1</th>' in text
    assert '<td class="number">10.0</td>' in text
    assert "Nothing was flagged" not in text
    assert run(farm, "-o", str(tmp_path / "season.pdf")).exit_code == 0
