"""The report as page and PDF: its numbers are on both, names are data, the same bytes twice."""

from __future__ import annotations

import re
from dataclasses import replace
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from defusedxml.ElementTree import fromstring
from pypdf import PdfReader

from made_season import MACHINE, gathered, write_season
from ringrow.handoff.languages import speaking
from ringrow.handoff.report.charts import fix_chart, months_chart
from ringrow.handoff.report.page import report_page
from ringrow.handoff.report.pdf import report_pdf
from ringrow.handoff.report.picture import Box, Label, hatch_lines, picture_svg

if TYPE_CHECKING:
    from ringrow.handoff.report.numbers import Report


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Report:
    return gathered(write_season(tmp_path_factory.mktemp("made")))


def cells(page: str) -> list[list[str]]:
    rows = re.findall(r"<tr>(.*?)</tr>", page)
    return [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row) for row in rows]


def test_the_page_holds_the_numbers_beside_every_chart(report: Report) -> None:
    page = report_page(report)
    assert "<h1>Test farm: what was flagged, 2027-2029</h1>" in page
    assert "24 flags, 5 of them open. 1 more was no fault and is left out." in page
    rows = cells(page)
    months = {row.kind: [str(count) if count else "" for count in row.counts] for row in report.months}
    for kind, counts in months.items():
        assert [kind, *counts, str(sum(map(int, filter(None, counts))))] in rows
    gearbox = next(row for row in report.fixes if row.kind == "gearbox")
    assert ["gearbox", "2", "1", f"{gearbox.quarter_days:.1f}", "10.0", "not reached"] in rows
    assert [MACHINE, "15", "4", "2", "47.0", "81.0"] in rows
    assert page.count("<svg") == page.count('role="img"') == 5
    assert page == report_page(report)


def test_flags_without_a_time_to_fix_and_of_earlier_years_are_spoken_of(report: Report) -> None:
    gone = report.fixes[0].fixed + report.fixes[0].open
    page = report_page(replace(report, fixes=report.fixes[1:], year=2029))
    assert f"{gone} flags came in as fixed already" in page
    assert "Flags of earlier years that were still open count." in page
    whole = report_page(report)
    assert "came in as fixed" not in whole
    assert "earlier years" not in whole


def test_every_chart_has_a_title_and_words(report: Report) -> None:
    page = report_page(report)
    for text in re.findall(r"<svg.*?</svg>", page, re.S):
        root = fromstring(text)
        title, words = (root.find(name) for name in ("title", "desc"))
        assert title is not None
        assert words is not None
        assert title.text
        assert words.text
        assert root.get("aria-labelledby") == f"{title.get('id')} {words.get('id')}"


def test_the_page_asks_for_nothing(report: Report) -> None:
    page = report_page(report)
    assert "default-src 'none'" in page
    assert re.findall(r"(?:src|href)=", page) == []
    assert "<script" not in page


def test_the_pdf_holds_the_same(report: Report) -> None:
    pdf = report_pdf(report)
    reader = PdfReader(BytesIO(pdf))
    text = " ".join(page.extract_text() for page in reader.pages)
    assert "Test farm: what was flagged, 2027-2029" in text
    for words in ("burrow", "gearbox", "not reached", "What came back", "Systems that keep stopping", "81.0"):
        assert words in text
    assert report_pdf(report) == pdf
    a4 = PdfReader(BytesIO(report_pdf(report, paper="a4"))).pages[0].mediabox
    assert (round(a4.width), round(a4.height)) == (595, 842)


def test_names_are_data_and_words_are_spanish(report: Report) -> None:
    hostile = replace(report, farm=replace(report.farm, name='<script>alert(1)</script> & "B"'))
    page = report_page(hostile)
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert report_pdf(hostile).startswith(b"%PDF")
    with speaking("es"):
        spanish = report_page(report)
    assert '<html lang="es">' in spanish
    assert "lo que se marcó" in spanish
    assert "abr" in spanish
    english = re.findall(r"(?:Flags by|Time to fix|Ground touched|What came back|The numbers)", spanish)
    assert english == []


def test_nothing_flagged_is_said(report: Report) -> None:
    empty = replace(
        report, flags=(), months=(), touched=(), fixes=(), systems=(), repeats=(), stops=(), years=()
    )
    assert "Nothing was flagged yet." in report_page(empty)
    text = PdfReader(BytesIO(report_pdf(empty))).pages[0].extract_text()
    assert "Nothing was flagged yet." in text


def test_charts_draw_what_was_counted(report: Report) -> None:
    chart = months_chart(report.months)
    drawn = sorted(int(shape.text) for shape in chart.shapes if isinstance(shape, Label) and shape.light)
    assert drawn == sorted(count for row in report.months for count in row.counts if count)
    most = max((shape for shape in chart.shapes if isinstance(shape, Box)), key=lambda box: box.width)
    assert most.width == most.height
    bars = [shape for shape in fix_chart(report.fixes).shapes if isinstance(shape, Box)]
    assert len(bars) == len(report.fixes)


def test_hatching_stays_in_its_box() -> None:
    box = Box(x=10, y=20, width=33, height=12, hatch="slanted")
    for line in hatch_lines(box):
        assert all(10 <= x <= 43 and 20 <= y <= 32 for x, y in line.points)
    assert len(hatch_lines(box)) == 8
    assert hatch_lines(replace(box, hatch="none")) == []


def test_control_letters_do_not_break_a_picture(report: Report) -> None:
    chart = replace(months_chart(report.months), title="a\x07b\x00c")
    assert "<title" in picture_svg(chart, name="x")
    fromstring(picture_svg(chart, name="x"))
