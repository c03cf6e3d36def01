"""Pages as a real browser prints them, by the library's own command."""

import re
from dataclasses import replace
from datetime import date

import pytest

import mechlogic
from mechlogic.bench.record import Note, Record
from mechlogic.bench.report import report_page

SALTMERE = mechlogic.load("saltmere")
RECORD = Record.opening(SALTMERE, "Misprints on cold mornings", date(2031, 2, 3))
A4, LETTER = (595, 842), (612, 792)  # ISO 216 and ANSI Y14.1, in points


@pytest.fixture
def sheets(browser, tmp_path):
    """Print a page: the sizes of its sheets, in whole points."""

    def of(page):
        page.save(tmp_path / "page.pdf")
        made = (tmp_path / "page.pdf").read_bytes()
        boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", made)
        return [tuple(round(float(side)) for side in box) for box in boxes]

    return of


@pytest.mark.parametrize(("size", "points"), [("A4", A4), ("Letter", LETTER)])
def test_a_report_is_one_sheet(sheets, size, points):
    notes = tuple(Note(date(2031, 2, 3), "seen and noted " * 200) for _ in range(60))
    full = replace(RECORD, notes=notes, remedies=notes)
    assert sheets(report_page(full, SALTMERE, "cold.json", size)) == [points]
