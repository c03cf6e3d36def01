"""Nobody is let in: what a person has written is shown as text, in every view and on every sheet.

A title, a label, a note and whatever else may be written freely holds markup, formulas, links and
quotation marks (see hostile.py).  Each view of such a machine must have the same elements and
attributes as the view of a tame one, and must show the words; on paper no text may be set as a
formula.  tests/browser/test_nobody_let_in.py sees that nothing runs in a browser.
"""

import ast
import csv
import io
import json
import re
import socket
from base64 import b64encode
from datetime import date
from hashlib import sha256
from pathlib import Path

import ipywidgets as w
import pytest
from hostile import TAME, WORDS, elements, machine, record, texts
from screens import inside

import mechlogic
from mechlogic.acceptance import testcards
from mechlogic.bench import pages, report
from mechlogic.bench.evidence import Evidence
from mechlogic.describing.compare import compare
from mechlogic.describing.writing import write
from mechlogic.drawing import (
    cards,
    club_pages,
    crossing,
    layered,
    plate,
    scene,
    scene_at,
    type_sheet,
)
from mechlogic.drawing.figure import Unplaced
from mechlogic.drawing.sheets import code_sheet
from mechlogic.explaining.words import fault_sentence
from mechlogic.fit import fit_pages
from mechlogic.model.faults import single_faults
from mechlogic.model.logbook import Entry, Logbook, format_logbook, parse_logbook
from mechlogic.teaching import hunt_pages, progress
from mechlogic.teaching.club import Evening
from mechlogic.teaching.sealed import Hunt, Sealed, library_hunt, replay
from mechlogic.widgets import (
    ClaimBox,
    DescribeBox,
    ErrorMap,
    FaultBench,
    LogBench,
    MachineView,
    OilAndTime,
    PartWay,
    Practice,
    Progress,
    RackTrial,
    RecordBox,
    RolesBox,
    SealedBox,
    WhereLogicBreaks,
)
from mechlogic.widgets.web_page import web_page

NAMES = mechlogic.machines.names()
BAD = {name: machine(name) for name in NAMES}
GOOD = {name: machine(name, TAME) for name in NAMES}
LIBRARY = Path(mechlogic.__file__).parent
TODAY = date(2031, 2, 3)


def a_log(of, words):
    """A log with a misprint and these words in its notes."""
    codes = of.printing_codes or tuple(range(min(4, len(of.code))))
    entries = [Entry(code, of.good_print(code), note=words) for code in codes[:6]]
    wrong = next(one for one in entries if one.printed != entries[0].printed)
    return Logbook((*entries, Entry(entries[0].sent, wrong.printed, note=words)), of.code, words)


def html_in(screen):
    """All HTML that a screen of widgets hands to the browser."""
    return [x.value for x in inside(screen) if isinstance(x, w.HTML) and "<style" not in x.value]


# -- pictures --------------------------------------------------------------------------------------


def same_elements(bad, good, shows=True):
    """The hostile view has no more elements than the tame one, and shows the words (or some)."""
    assert elements(bad) <= elements(good)
    assert not [name for _, name in elements(bad) if name.startswith("on")]
    assert not shows or "<script" in texts(bad).lower()


@pytest.mark.parametrize("draw", [plate, crossing, layered], ids=lambda module: module.__name__)
@pytest.mark.parametrize("name", NAMES)
def test_each_of_the_three_drawings(draw, name):
    try:
        good = draw.figure(GOOD[name])
    except Unplaced:
        with pytest.raises(Unplaced):
            draw.figure(BAD[name])
        return
    bad = draw.figure(BAD[name])
    same_elements(bad.svg(BAD[name], {}), good.svg(GOOD[name], {}))
    same_elements(scene(BAD[name]).svg, scene(GOOD[name]).svg)
    same_elements(scene_at(BAD[name], {}), scene_at(GOOD[name], {}))


@pytest.mark.parametrize("name", NAMES)
def test_the_type_laid_flat(name):
    same_elements(type_sheet(BAD[name]), type_sheet(GOOD[name]), shows=False)


# -- the bench -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["wind", "ness", "desk"])
def test_the_log_bench(name, tmp_path):
    views = []
    for of, words in ((BAD[name], WORDS), (GOOD[name], TAME)):
        bench = LogBench(of, tmp_path, any_machine=True, storage=None)
        bench.show(a_log(of, words))
        bench._problems.value = pages.problem_list([words])
        views.append("".join(html_in(bench)))
    same_elements(*views)


@pytest.mark.parametrize("name", ["wind", "sluice"])
def test_a_verdict_on_a_fault(name):
    views = []
    for of, words in ((BAD[name], WORDS), (GOOD[name], TAME)):
        evidence = Evidence(of, a_log(of, words))
        found = [
            mechlogic.judge(of, evidence.log, [fault]) for fault in single_faults(of.mechanism)[:6]
        ]
        views.append("".join(pages.verdict(of, evidence, one) for one in found))
    same_elements(*views)


@pytest.mark.parametrize("name", NAMES)
def test_the_fault_bench(name):
    views = []
    for of in (BAD[name], GOOD[name]):
        bench = FaultBench(MachineView(of))
        views.append("")
        for part in of.mechanism.parts:
            bench.part.value = part
            views[-1] += "".join(html_in(bench))
    same_elements(*views)


@pytest.mark.parametrize("name", NAMES)
def test_the_record_box_and_the_report(name, tmp_path):
    views = []
    for folder, of, words in (("bad", BAD[name], WORDS), ("good", GOOD[name], TAME)):
        box = RecordBox(of, tmp_path / folder, today=lambda: TODAY)
        written = record(of, words)
        page = report.report_page(written, of, words).html
        text = [x for x in inside(box) if isinstance(x, w.Text)]
        text[0].value = words
        for button in inside(box):
            if isinstance(button, w.Button) and "Start" in button.description:
                button.click()
        book = box.book
        book.save(written)
        box._show()
        views.append(page + "".join(html_in(box)))
    same_elements(*views)


def test_the_describe_box_quotes_what_is_wrong_as_text(tmp_path):
    views = []
    for words in (WORDS.replace("\\", "").replace('"', "'"), TAME):
        box = DescribeBox(f'[machine]\nname = "{words}"\nother = "{words}"\n', tmp_path)
        box.check()
        roles = RolesBox(["AB", "CD"], words, words[1:])
        roles.read()
        box.name.value = words
        views.append("".join((*html_in(box), *html_in(roles))))
        box.save()
        views[-1] += "".join(html_in(box))
    same_elements(*views)


@pytest.mark.parametrize("name", ["wind", "sluice"])
def test_the_describe_box_praises_a_machine_as_text(name, tmp_path):
    views = []
    for of in (BAD[name], GOOD[name]):
        box = DescribeBox(write(of), tmp_path)
        box.check()
        assert box.machine is not None
        views.append("".join(html_in(box)))
    same_elements(*views)


# -- the course ------------------------------------------------------------------------------------


def test_the_sealed_hunt_and_its_replay():
    views = []
    for of in (BAD["wind"], GOOD["wind"]):
        box = SealedBox(of)
        hunt = library_hunt(Sealed(of, 1, 3)).hunt
        box.hunt = hunt
        box._show()
        ended = Hunt(hunt.sealed, hunt.findings).declare()
        page = "".join(
            (
                hunt_pages.truth(ended),
                hunt_pages.score(ended, library_hunt(ended.hunt.sealed)),
                hunt_pages.replayed(replay(hunt)),
                *map(hunt_pages.said, hunt.findings),
            )
        )
        views.append(page + "".join(html_in(box)))
    same_elements(*views)


def claimed(of):
    """A box with a claim that is refuted, and so is answered with the labels of parts."""
    box = ClaimBox(of)
    box.claim.value = "b1 and not b1" if of.mechanism.bars else "not key_0 and key_0"
    box.check.click()
    assert "Refuted" in box._told.value
    return box


@pytest.mark.parametrize("name", NAMES)
def test_part_way_and_where_logic_breaks_and_the_map_of_errors(name):
    views = []
    for of in (BAD[name], GOOD[name]):
        views.append("".join((*html_in(PartWay(of)), *html_in(claimed(of)))))
        if name in ("wind", "ness", "saltmere"):
            views[-1] += "".join((*html_in(ErrorMap(of)), *html_in(WhereLogicBreaks(of))))
            views[-1] += fit_pages.error_map(of)
        if name == "wind":
            views[-1] += "".join(html_in(RackTrial(of, "lift_rack", (2, 1))))
    same_elements(*views)


@pytest.mark.parametrize("name", ["saltmere", "ebbing"])
def test_oil_and_time(name):
    views = []
    for of in (BAD[name], GOOD[name]):
        part = next(one.name for one in of.mechanism if one.moves)
        views.append(OilAndTime(of, part).svg)
    same_elements(*views)


def test_the_acceptance_text():
    cards_ = [testcards.smallest_sequence(of) for of in (BAD["wind"], GOOD["wind"])]
    same_elements(*(cards.card_page(card).body for card in cards_), shows=False)


def test_the_list_of_progress(tmp_path):
    views = []
    for words in (WORDS, TAME):
        source = f"choice('x', ['a', 'b'], 'a', key={words!r})"
        cells = [
            {"cell_type": "markdown", "source": f"# {words}"},
            {"cell_type": "code", "source": source},
        ]
        folder = tmp_path / ("bad" if words == WORDS else "good")
        folder.mkdir()
        (folder / "01_x.ipynb").write_text(json.dumps({"cells": cells}), "utf-8")
        (folder / progress.FILE).write_text(f"{words}\n", "utf-8")
        views.append("".join(html_in(Progress(folder))))
    same_elements(*views)


# -- the page without Python -----------------------------------------------------------------------


@pytest.mark.parametrize("name", ["wind", "ness"])
def test_the_page_without_python(name):
    bad, good = web_page(BAD[name]), web_page(GOOD[name])
    same_elements(bad, good)
    assert bad.count("</script>") == good.count("</script>")
    packed = re.search(r'id="packed">(.*?)</script>', bad, re.DOTALL)[1]
    assert re.fullmatch(r"[A-Za-z0-9+/=\s]*", packed)
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', bad)[1]
    assert policy.startswith("default-src 'none';") and "http" not in policy
    assert {"base-uri 'none'", "form-action 'none'"} <= set(policy.split("; "))
    scripts = re.findall(r"<script[^>]*>(.*?)</script>", bad, re.DOTALL)
    allowed = [b64encode(sha256(text.encode()).digest()).decode() for text in scripts]
    assert f"script-src 'sha256-{allowed[-1]}';" in policy, "nothing but the page's own script"


# -- on paper --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_the_sheet_for_the_wall(name):
    same_elements(code_sheet(BAD[name]).html, code_sheet(GOOD[name]).html)


@pytest.mark.parametrize("name", ["wind", "ness"])
def test_the_sheets_of_a_club_evening(name):
    evening, tame = (Evening(of, 7, 2, 120, (1, 2)) for of in (BAD[name], GOOD[name]))
    for kind in (club_pages.hand_outs, club_pages.hunt_sheets, club_pages.instructor_sheets):
        same_elements(kind(evening).html, kind(tame).html)
    assert WORDS[:20] in evening.preview()


@pytest.mark.parametrize("name", ["wind", "sluice"])
def test_a_card_and_a_comparison_of_texts(name):
    views = []
    for of in (BAD[name], GOOD[name]):
        card, rows = testcards.smallest_sequence(of), testcards.customary(of)
        views.append(cards.card_page(card).html + cards.comparison_page(of, rows).html)
    same_elements(*views)


# -- words, and what the browser is handed as data -------------------------------------------------


def test_words_stay_as_they_were_written():
    """What is printed in a notebook is plain text: nothing is lost of it and nothing added."""
    bad = BAD["sluice"]
    assert any(WORDS in step.says for step in mechlogic.explain(bad, 0))
    assert WORDS in fault_sentence(bad, single_faults(bad.mechanism)[0])
    assert WORDS in "".join(compare(bad, GOOD["sluice"]).report())


@pytest.mark.parametrize("name", ["wind", "ness", "desk"])
def test_no_label_of_a_control_is_markup_or_a_formula(name, tmp_path):
    of = BAD[name]
    screens = [
        LogBench(of, tmp_path, any_machine=True, storage=None),
        FaultBench(MachineView(of)),
        PartWay(of),
        ClaimBox(of),
        RecordBox(of, tmp_path, today=lambda: TODAY),
        SealedBox(of),
        Practice(of),
        *((ErrorMap(of), WhereLogicBreaks(of)) if name == "wind" else ()),
        *((RackTrial(of, "lift_rack", (2, 1)),) if name == "wind" else ()),
    ]
    for x in (x for screen in screens for x in inside(screen)):
        assert not getattr(x, "description_allow_html", False)
        assert not isinstance(x, w.HTMLMath | w.Label)  # these set formulas
        assert not re.search(r"\$|\\[(\[a-z]", getattr(x, "description", ""))


HANDED_MARKUP = [
    "picture.innerHTML = data.svg; // drawn by Python, which escapes every label in it",
    "wheel.innerHTML = data.wheel;",
    'picture.innerHTML = model.get("svg"); // drawn and escaped by Python',
]
"""Where a script takes markup: three pictures that Python has drawn and escaped."""

REACHING_WORDS = (
    *("fetch(", "XMLHttpRequest", "WebSocket", "EventSource", "sendBeacon", "importScripts"),
    *("eval(", "new Function", "setTimeout('", 'setTimeout("', "import(", "navigator.serviceW"),
    *("localStorage", "document.cookie", "window.open", "location.href", "postMessage"),
)


APART = ("site", "templates")
"""The site has a policy and tests of its own, tests/browser/test_site.py; templates are HTML."""

KEPT_HERE = {"log_sheet.js": {"localStorage"}}
"""What a script keeps in the browser: what was typed and Python does not have yet."""


def scripts():
    """Every script, by file: those of their own, that of the page, and those within modules."""
    found = {
        path.name: path.read_text("utf-8")
        for kind in ("js", "html")
        for path in LIBRARY.rglob(f"*.{kind}")
        if path.parent.name not in APART or path.name == "web_page.html"
    }
    for path in LIBRARY.rglob("*.py"):
        nodes = ast.walk(ast.parse(path.read_text("utf-8")))
        texts_ = (node.value for node in nodes if isinstance(node, ast.Constant))
        within = [one for one in texts_ if isinstance(one, str) and "=>" in one and "{" in one]
        found |= {path.name: "\n".join(within)} if within else {}
    return found


def test_the_scripts_take_markup_from_python_alone():
    markup = r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|srcdoc|createContextual"
    lines = [line.strip() for text in scripts().values() for line in text.splitlines()]
    assert sorted(line for line in lines if re.search(markup, line)) == sorted(HANDED_MARKUP)


def test_the_scripts_fetch_and_send_nothing():
    for name, text in scripts().items():
        found = {word for word in REACHING_WORDS if word in text}
        assert found == KEPT_HERE.get(name, set()), name
        remote = re.findall(r"(?:https?:|wss?:)//[^\s\"'`<>)]*", text)
        assert {one for one in remote if "www.w3.org/" not in one} == set(), name


@pytest.mark.parametrize("path", sorted(LIBRARY.rglob("*.css")), ids=lambda path: path.name)
def test_no_style_sheet_fetches_anything(path):
    text = path.read_text("utf-8")
    assert "@import" not in text
    fetched = re.findall(r"url\(['\"]?([^)]*)\)", text)
    assert not [one for one in fetched if not one.startswith(("data:", "#"))]


# -- the library itself ----------------------------------------------------------------------------

BUILDERS = (
    *("eval", "exec", "compile", "__import__", "sympify", "parse_expr", "lambdify", "S"),
    *("system", "popen", "spawn", "fromfile", "loadtxt", "load_module"),
)
BUILDING = ("pickle", "marshal", "shelve", "dill", "cloudpickle", "code", "codeop", "runpy", "yaml")
REACHING = (
    *("socket", "ssl", "http", "urllib", "requests", "httpx", "aiohttp", "ftplib", "smtplib"),
    *("xmlrpc", "webbrowser", "subprocess", "multiprocessing", "ctypes", "socketserver", "pty"),
)


MAY_REACH = {
    "__main__.py": {"http", "webbrowser", "subprocess"},  # serves and opens pages of this computer
    "simulated.py": {"pty"},  # the machine at the other end of a line
    "build.py": {"urllib"},  # the builder of the site fetches its parts
    "parts.py": {"urllib", "subprocess"},
    "built.py": {"subprocess"},
    "paper.py": {"subprocess"},  # a browser of this computer prints a page
}
"""What a module reaches out with, and what for."""


def calls_and_imports(source):
    """What a module calls, as (of what, what, on which line), and which modules it imports."""
    called, imported = [], []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call):
            what = getattr(node.func, "id", "") or getattr(node.func, "attr", "")
            of = getattr(getattr(node.func, "value", None), "id", "")
            called.append((of, what, node.lineno))
        elif isinstance(node, ast.Import):
            imported += [one.name.split(".")[0] for one in node.names]
        elif isinstance(node, ast.ImportFrom):
            imported.append((node.module or "").split(".")[0])
    return called, imported


@pytest.mark.parametrize(
    "path", sorted(LIBRARY.rglob("*.py")), ids=lambda path: str(path.relative_to(LIBRARY))
)
def test_no_text_becomes_code_and_no_module_reaches_out(path):
    called, imported = calls_and_imports(path.read_text("utf-8"))
    building = [one for one in called if one[1] in BUILDERS and one[:2] != ("re", "compile")]
    if path.name == "tolerance.py":  # it makes its own numbers into SymPy's, and no text
        building = [one for one in building if one[1] != "sympify"]
        assert not re.search(r"sympify\(\s*(str|f?[\"'])", path.read_text("utf-8"))
    assert building == []
    assert not set(imported) & {*BUILDING, *REACHING} - MAY_REACH.get(path.name, set())
    if any(what == "import_module" for _, what, _ in called):  # names that the module itself has
        assert path.name == "__init__.py" and path.parent.name == "widgets"


def test_what_builds_code_would_be_found():
    called, imported = calls_and_imports("import pickle\nfrom http import client\nx.eval(y)")
    assert called == [("x", "eval", 3)] and imported == ["pickle", "http"]


def test_nothing_is_sent_anywhere(monkeypatch, tmp_path):
    """The main paths, with every door to a network shut."""

    def shut(*_, **__):
        raise AssertionError("a network was asked for")

    for name in ("socket", "create_connection", "getaddrinfo", "gethostbyname", "socketpair"):
        monkeypatch.setattr(socket, name, shut)
    of = mechlogic.load("wind")
    log = a_log(of, "x")
    mechlogic.write_logbook(log, tmp_path / "log.csv")
    assert mechlogic.read_logbook(tmp_path / "log.csv", of.code).entries == log.entries
    mechlogic.next_check(mechlogic.diagnose(of, log))
    bench = LogBench(of, tmp_path, storage=None)
    bench.show(log)
    RecordBox(of, tmp_path, today=lambda: TODAY)
    report.report_page(record(of), of).save(tmp_path / "report.html")
    web_page(of)
    code_sheet(of).save(tmp_path / "sheet.html")
    SealedBox(of)
    DescribeBox(write(of), tmp_path).check()
    cards.card_page(testcards.smallest_sequence(of))
    mechlogic.explain(of, 0)
    Practice(of)
    Progress(tmp_path)


# -- spreadsheets ----------------------------------------------------------------------------------

SIGNS = tuple("=+-@＝＋－＠")
NOTES = [
    *("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", " =1", "'=1", "''=1", "a;=1+1", "a;-1;b"),
    *('a";=1+1;"', "a\n=1+1", "a\r\n@x", "a\t=1", "a;' =1", "a;'=1", ";;=1", "\n'\t=1"),
    *("＝1", "a, -3 mm", WORDS),
]
PRINTS = [*("=", "+", "-", "@", "＝", ",", ";", '"', "'", " "), "A+LF", "++LF", "=+CR", "-+CR+LF"]


@pytest.mark.parametrize("mark", [",", ";", "\t"], ids=["comma", "semicolon", "tab"])
def test_no_cell_of_a_saved_log_is_a_formula_whatever_separates_cells(mark):
    """A spreadsheet elsewhere takes a semicolon or a tab in a note for the end of a cell."""
    for printed in PRINTS:
        for note in NOTES:
            log = Logbook((Entry(0x3D, printed, note=note), Entry(0x41, printed, note=f"x{note}")))
            text = format_logbook(log)
            assert parse_logbook(text).entries == log.entries
            rows = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
            cells = [cell for row in rows for cell in row]
            assert not [cell for cell in cells if cell.lstrip().startswith(SIGNS)], (printed, note)
