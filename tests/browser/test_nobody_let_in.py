"""Nobody is let in: hostile texts in a notebook, and on the page without Python, and nothing runs.

The words of tests/hostile.py set a global ``letIn`` if any of them runs, in whatever way.  It must
stay unset; no dialog may open, and no request may leave for anywhere but the notebook's own server.
"""

import json
from urllib.parse import urlsplit

import pytest
from hostile import WORDS, machine, record
from playwright.sync_api import expect

from mechlogic.bench.report import report_page
from mechlogic.describing.writing import write
from mechlogic.model.logbook import Entry, Logbook, format_logbook
from mechlogic.widgets.web_page import save_web_page

SEEN = "<script>globalThis.letIn=1</script>"
BAD = machine("wind")
KERNEL = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
WRONG = "\n<img src=x onerror=letIn=1> = 1"

CELLS = (
    "import mechlogic, mechlogic.widgets as mw\n"
    "from pathlib import Path\n"
    "from datetime import date\n"
    "of = mechlogic.load('bad.toml')\n"
    "bench = mw.LogBench(of, 'logs', any_machine=True)\n"
    "bench.show(mechlogic.read_logbook('logs/bad.csv', of.code)); bench",
    "view = mw.MachineView(of); view",
    "mw.FaultBench(view)",
    "mw.PartWay(of)",
    "mw.ErrorMap(of)",
    "mw.ClaimBox(of)",
    "mw.WhereLogicBreaks(of)",
    "mw.SealedBox(of)",
    "box = mw.RecordBox(of, 'records', bench, lambda: date(2031, 2, 3))\nbox",
    f"described = mw.DescribeBox(Path('bad.toml').read_text() + {WRONG!r})\n"
    "described.check(); described",
    "mw.choice(of.title, [of.title, 'b'], of.title, hint=of.title, because=of.title)",
    "mw.Practice(of)",
    "mw.Progress('.')",
    "print(mechlogic.explain(of, 0)); of.title",
)


@pytest.fixture
def watched(page):
    """The page, with all that it asks for and every dialog taken down."""
    page.asked, page.dialogs = [], []
    page.on("request", lambda request: page.asked.append(request.url))
    page.on("dialog", lambda dialog: (page.dialogs.append(dialog.message), dialog.dismiss()))
    return page


def nobody_was_let_in(page, own):
    """Nothing ran, nothing opened, nothing was fetched from elsewhere, nothing became a formula."""
    assert page.evaluate("globalThis.letIn") is None
    assert page.dialogs == []
    asked = {urlsplit(url) for url in page.asked}
    foreign = [one for one in asked if one.netloc != own and one.scheme not in ("data", "blob")]
    assert foreign == []
    assert page.locator("mjx-container, .MathJax, .katex").count() == 0
    let_in = "[onerror], [onload]:not(body), img[src='x'], a[href^='javascript']"
    assert page.locator(let_in).count() == 0


def test_in_a_notebook(watched, lab, open_workbook, run_all, tmp_path, shot):
    source = tmp_path / "source"
    (source / "logs").mkdir(parents=True)
    (source / "bad.toml").write_text(write(BAD), "utf-8")
    entries = (Entry(0, "<", note=WORDS), Entry(1, "$", note=WORDS), Entry(2, "$"))
    log = format_logbook(Logbook(entries, BAD.code))
    (source / "logs" / "bad.csv").write_text(log, "utf-8")
    (source / "logs" / "<img src=x onerror=letIn=1>.csv").write_text(log, "utf-8")
    cells = [
        {"cell_type": "code", "source": code, "id": f"cell{number}",
         "metadata": {}, "outputs": [], "execution_count": None}
        for number, code in enumerate(CELLS)
    ]  # fmt: skip
    book = {"cells": cells, "metadata": KERNEL, "nbformat": 4, "nbformat_minor": 5}
    (source / "01_bad.ipynb").write_text(json.dumps(book), "utf-8")
    open_workbook(watched, "01_bad.ipynb", source)
    run_all(watched)
    expect(watched.get_by_text(SEEN).first).to_be_attached()
    expect(watched.locator(".mv-view").first).to_be_attached()
    for words in ("Check", "Test against the log", "At speed", "Only this fault"):
        buttons = watched.get_by_role("button", name=words)
        for button in buttons.all()[:2]:
            button.evaluate("button => button.click()")
    watched.get_by_placeholder("What the repair is about").last.fill(WORDS[:80])
    start = watched.get_by_role("button", name="Start a new record").last
    start.evaluate("button => button.click()")
    expect(watched.get_by_text("is begun").first).to_be_visible()
    watched.locator(".mv-send").first.focus()
    watched.keyboard.type("<&$")
    shot(watched, "nobody_let_in")
    assert SEEN in watched.locator(".jp-Notebook").text_content()
    nobody_was_let_in(watched, urlsplit(lab.url).netloc)


def test_on_the_page_without_python(watched, tmp_path):
    path = tmp_path / "bad.html"
    save_web_page(BAD, path)
    watched.goto(path.as_uri())
    view = watched.locator("#open")
    expect(view.locator(".mv-view")).to_be_visible()
    assert watched.title() == WORDS
    assert SEEN in watched.locator("#open").text_content()
    view.get_by_label("Fault", exact=True).select_option(index=2)
    view.locator(".mv-send").click()
    watched.keyboard.type("<&$")
    watched.locator("#declare").click()
    expect(watched.locator("#verdict")).to_contain_text(SEEN)
    nobody_was_let_in(watched, "")


def test_in_a_report(watched, tmp_path):
    path = tmp_path / "report.html"
    path.write_text(report_page(record(BAD), BAD, WORDS).html, "utf-8")
    watched.goto(path.as_uri())
    assert SEEN in watched.locator("body").text_content()
    nobody_was_let_in(watched, "")
