"""Pages as a real browser prints them, by the library's own command."""

import re
from dataclasses import replace
from datetime import date

import pytest

import mechlogic
from mechlogic import machines
from mechlogic.acceptance.testcards import (
    customary,
    smallest_set,
    walk_all_transitions,
    walk_part_transitions,
)
from mechlogic.bench.record import Note, Record
from mechlogic.bench.report import report_page
from mechlogic.drawing.cards import card_page, comparison_page
from mechlogic.drawing.club_pages import hand_outs, hunt_sheets, instructor_sheets
from mechlogic.drawing.print_out import bench_page
from mechlogic.drawing.sheets import code_sheet, lies_across
from mechlogic.model.logbook import Entry, Logbook
from mechlogic.model.steps import steps
from mechlogic.teaching.club import Evening

SALTMERE = mechlogic.load("saltmere")
RECORD = Record.opening(SALTMERE, "Misprints on cold mornings", date(2031, 2, 3))
A4, LETTER = (595, 842), (612, 792)  # ISO 216 and ANSI Y14.1, in points
MARGINS = 85  # points, left and right together, as in paper.css
papers = pytest.mark.parametrize(("size", "points"), [("A4", A4), ("Letter", LETTER)])

BEYOND = """() => {
    const edge = document.querySelector(".mr-page").getBoundingClientRect().right + 1;
    return [...document.querySelectorAll(".mr-page *")].filter(
        element => element.getBoundingClientRect().right > edge
            || (element instanceof HTMLElement && !["I", "SPAN", "B"].includes(element.tagName)
                && element.scrollWidth > element.clientWidth + 1)
    ).map(element => element.outerHTML.slice(0, 200));
}"""


@pytest.fixture
def nothing_is_cut_off(page):
    """See that nothing on a page runs over the edge of its paper, or of its own cell."""
    page.emulate_media(media="print")

    def see(made, width_points):
        width = int((width_points - MARGINS) * 96 / 72)
        page.set_viewport_size({"width": width, "height": 900})
        page.set_content(made.html.replace("</style>", "body { margin: 0; }</style>"))
        assert page.evaluate(BEYOND) == []

    return see


def sizes(pdf):
    """The sizes of the sheets of a PDF, in whole points."""
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    return [tuple(round(float(side)) for side in box) for box in boxes]


@pytest.fixture
def sheets(page):
    """Print a page: the sizes of its sheets."""

    def of(made):
        page.set_content(made.html)
        return sizes(page.pdf(prefer_css_page_size=True))

    return of


@papers
def test_the_library_has_a_page_printed_by_the_browser_of_this_computer(
    browser, tmp_path, size, points
):
    made = report_page(RECORD, SALTMERE, "cold.json", size)
    made.save(tmp_path / "report.pdf")
    assert sizes((tmp_path / "report.pdf").read_bytes()) == [points]


@papers
def test_a_report_is_one_sheet(sheets, size, points):
    notes = tuple(Note(date(2031, 2, 3), "seen and noted " * 200) for _ in range(60))
    full = replace(RECORD, notes=notes, remedies=notes)
    assert sheets(report_page(full, SALTMERE, "cold.json", size)) == [points]


@papers
@pytest.mark.parametrize("name", machines.names())
def test_picture_type_map_and_suspects_are_one_sheet(
    sheets, nothing_is_cut_off, name, size, points
):
    machine = mechlogic.load(name)
    fault = mechlogic.single_faults(machine.mechanism)[0]
    table = steps(machine, (fault,))
    log = Logbook(
        tuple(Entry(c, next(iter(table[next(iter(table))][c]))[0]) for c in machine.printing_codes),
        machine.code,
    )
    made = bench_page(mechlogic.diagnose(machine, log), "17, the club", size)
    assert sheets(made) == [points]
    nothing_is_cut_off(made, points[0])


@papers
@pytest.mark.parametrize("name", machines.names())
def test_the_sheet_for_the_wall_is_one_sheet_upright_or_across(
    sheets, nothing_is_cut_off, name, size, points
):
    machine = mechlogic.load(name)
    lies = points[::-1] if lies_across(machine) else points
    made = code_sheet(machine, size)
    assert sheets(made) == [lies]
    nothing_is_cut_off(made, lies[0])


@papers
@pytest.mark.parametrize(
    ("make", "most"), [(smallest_set, 2), (walk_part_transitions, 1), (walk_all_transitions, 1)]
)
def test_a_card_is_one_sheet_or_two(sheets, nothing_is_cut_off, make, most, size, points):
    made = card_page(make(SALTMERE), size)
    assert sheets(made) in [[points] * n for n in range(1, most + 1)]
    nothing_is_cut_off(made, points[0])


def test_a_short_text_is_set_large_and_fills_the_width(page, nothing_is_cut_off):
    nothing_is_cut_off(card_page(walk_part_transitions(SALTMERE)), A4[0])
    line = page.locator(".mr-five").first
    size = line.evaluate("one => parseFloat(getComputedStyle(one).fontSize)")
    assert size * 72 / 96 > 10  # points
    assert line.evaluate("one => one.firstChild.getBoundingClientRect().width") > 0.85 * 96 / 72 * (
        A4[0] - MARGINS
    )


def test_a_comparison_runs_on_over_as_many_sheets_as_it_needs(sheets, nothing_is_cut_off):
    made = comparison_page(SALTMERE, customary(SALTMERE), "Letter")
    assert set(sheets(made)) == {LETTER}
    nothing_is_cut_off(made, LETTER[0])


@papers
@pytest.mark.parametrize("name", machines.names())
def test_the_sheets_of_an_evening(sheets, nothing_is_cut_off, name, size, points):
    evening = Evening(mechlogic.load(name), 2, teams=2, levels=(1, 5))
    across = points[::-1] if lies_across(evening.machine) else points
    for_all = hand_outs(evening, size)
    first, blanks, flat, *modes = sheets(for_all)
    assert (first, blanks, flat, set(modes)) == (points, points, across, {points})
    assert sheets(hunt_sheets(evening, size)) == [points] * 4  # two for each team
    assert set(sheets(instructor_sheets(evening, size))) == {points}
    for made in (for_all, hunt_sheets(evening, size), instructor_sheets(evening, size)):
        if across == points or made is not for_all:
            nothing_is_cut_off(made, points[0])
