"""The report in a real browser: one sheet of paper, and nothing in it ever runs."""

import re
from dataclasses import replace
from datetime import date
from itertools import pairwise
from pathlib import Path
from random import Random

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_notebook
from playwright.sync_api import expect
from records import HOSTILE

import mechlogic
from mechlogic.bench.record import Acceptance, CheckMade, Finding, Note, Record, Suspicion
from mechlogic.bench.report import report_page
from mechlogic.model.logbook import Entry

TODAY = date(2031, 2, 3)
SALTMERE = mechlogic.load("saltmere")
LOGS = Path(mechlogic.__file__).parents[1] / "workbooks/logs"
LOG = mechlogic.read_logbook(LOGS / "cold_morning.csv")
NEW = Record.opening(SALTMERE, "Misprints on cold mornings", TODAY)


def report_html(*given):
    return report_page(*given).html


def full_of(text, times=40):
    """A record that has far too much of one text in every place."""
    line = " ".join((text * 300).split())[:300]
    long = (text * 5000)[:5000]
    return replace(
        NEW,
        repair=line,
        restorer=line,
        entries=LOG.entries * 50,
        suspects=(Suspicion(TODAY, 36, line, "> 99 %"),) * times,
        checks=(CheckMade(TODAY, "looked with the cover off", long, long, 5.5),) * times,
        findings=(Finding(TODAY, (), long),) * times,
        remedies=(Note(TODAY, long),) * times,
        acceptances=(Acceptance(TODAY, long, "passed", long),) * times,
        notes=(Note(TODAY, long),) * times,
    )


@pytest.mark.parametrize("text", ["tide and berth ", "W", "漢", "-/"])
def test_however_long_it_prints_on_one_sheet_with_nothing_cut_off(page, text):
    page.set_content(report_html(full_of(text), SALTMERE, "cold-mornings.json"))
    for paper in ("A4", "Letter"):
        assert re.findall(rb"/Count (\d+)", page.pdf(format=paper)) == [b"1"]
    page.set_viewport_size({"width": 688, "height": 1000})  # 182 mm, as on paper
    page.emulate_media(media="print")
    wide = """() => {
        const edge = document.querySelector('.mr-page').getBoundingClientRect().right + 1;
        return [...document.querySelectorAll('.mr-page *')].filter(element =>
            element.getBoundingClientRect().right > edge
            || (element.tagName === 'I' && element.scrollWidth > element.clientWidth + 1)
        ).map(element => element.outerHTML);
    }"""
    assert page.evaluate(wide) == []


def unlike_each_other(rng, n):
    """Texts of letters, marks and signs from all of Unicode that can be seen."""
    signs = [c for c in map(chr, range(32, 0x1F9FF)) if c.isprintable()]
    for _ in range(n):
        words = ("".join(rng.choices(signs, k=rng.randint(1, 60))) for _ in range(9))
        yield " ".join(words)


def test_whatever_is_written_fits_on_the_sheet(page):
    for text in unlike_each_other(Random(1), 6):
        record = replace(full_of(text, 8), notes=(Note(TODAY, text),) * 3)
        page.set_content(report_html(record, SALTMERE, text))
        assert re.findall(rb"/Count (\d+)", page.pdf(format="A4")) == [b"1"], text


def test_names_of_functions_stand_clear_of_each_other_on_the_sheet(page):
    sluice = mechlogic.load("sluice")
    log = mechlogic.read_logbook(LOGS / "sluice_misses_its_bell.csv", sluice.code).entries
    record = Record.opening(sluice, "No bell", TODAY, "R. Pell")
    html = report_html(replace(record, entries=(*log, Entry(13, "CR+BEL"))), sluice)
    page.set_viewport_size({"width": 688, "height": 1000})
    page.emulate_media(media="print")
    page.set_content(html)
    spans = page.locator(".mr-strip b").evaluate_all("""all => all.map(one => {
        const range = document.createRange();
        range.selectNodeContents(one);
        const {left, right, top} = range.getBoundingClientRect();
        return [Math.round(top), left, right];
    })""")
    assert len(spans) > len(log)
    for (level, _, right), (other, left, _) in pairwise(spans):
        assert level != other or right <= left


def test_nothing_in_a_report_runs_or_is_fetched(page, console_errors, tmp_path):
    record = NEW
    for hostile in HOSTILE:
        record = record.adding_remedy(Note(TODAY, hostile))
        record = record.adding_acceptance(Acceptance(TODAY, hostile, "failed", hostile))
    fetched = []
    page.on("request", lambda request: fetched.append(request.url))

    def look(name, html):
        path = tmp_path / name
        path.write_text(html, encoding="utf-8")
        page.goto(path.as_uri())
        assert page.evaluate("window.ran") is None
        assert page.locator("script, img, svg, a, iframe, object, embed").count() == 0

    for text in (hostile for hostile in HOSTILE if set(hostile) & set("<&>")):
        record = replace(record, repair=" ".join(text.split()), restorer=" ".join(text.split()))
        # Not only because the page forbids it: without that, still nothing does.
        html = report_html(record.adding_note(Note(TODAY, text)), SALTMERE, text)
        bare, taken_out = re.subn(r"<meta http-equiv[^>]*>", "", html)
        assert taken_out == 1
        look("bare.html", bare)
    look("report.html", html)
    assert {url.split("/")[-1] for url in fetched} == {"report.html", "bare.html"}
    assert console_errors(page) == []


BOX = """\
import mechlogic
from mechlogic.widgets.record_box import RecordBox
box = RecordBox(mechlogic.load("saltmere"), "records")
box
"""


def test_a_note_typed_into_the_box_is_saved_and_shown_and_does_not_run(
    page, open_workbook, run_all, console_errors, shot, tmp_path
):
    kernel = {"name": "python3", "display_name": "Python 3 (ipykernel)", "language": "python"}
    made = new_notebook(cells=[new_code_cell(BOX)], metadata={"kernelspec": kernel})
    nbformat.write(made, tmp_path / "box.ipynb")
    folder = open_workbook(page, "box.ipynb", tmp_path)
    run_all(page)
    page.get_by_placeholder("What the repair is about").fill("Cold mornings")
    page.get_by_role("button", name="Start a new record").click()
    expect(page.get_by_text("cold-mornings.json is begun")).to_be_visible()
    page.get_by_role("tab", name="Note").click()
    hostile = "<img src=x onerror='window.ran = true'> & more"
    page.get_by_placeholder("Anything else", exact=True).fill(hostile)
    page.get_by_role("button", name="Write it down").locator("visible=true").click()
    expect(page.get_by_text("Saved in cold-mornings.json")).to_be_visible()
    expect(page.locator(".mr-page").get_by_text(hostile)).to_be_visible()
    assert "onerror" in (folder / "records" / "cold-mornings.json").read_text(encoding="utf-8")
    assert page.evaluate("window.ran") is None
    shot(page, "record_box")
    assert console_errors(page) == []
