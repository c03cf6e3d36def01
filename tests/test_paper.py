"""A page is saved whole, as HTML or as PDF; where no browser prints, it says what to do.

tests/browser/test_paper.py has pages printed by a real browser.
"""

import os
import sys

import pytest

from mechlogic.__main__ import main
from mechlogic.helpers.paper import STYLE, Page, pdf
from mechlogic.helpers.refusal import Refusal

PAGE = Page("A <title>", "<p>body</p>", "A4")


def test_a_page_is_complete_in_itself_and_its_title_is_data():
    assert "<title>A &lt;title&gt;</title>" in PAGE.html
    assert "@page { size: A4; }" in PAGE.html and PAGE.body in PAGE.html
    assert "default-src 'none'" in PAGE.html
    assert "size:" not in Page("x", "").html.split("</head>")[0].replace(
        "font-size:", ""
    )  # whatever paper is in the printer
    here = PAGE._repr_html_()
    assert STYLE in here and PAGE.body in here and "<html" not in here


def test_a_page_is_saved_by_the_ending_of_its_name(tmp_path, a_browser):
    PAGE.save(tmp_path / "one.html")
    PAGE.save(str(tmp_path / "one.PDF"))
    assert (tmp_path / "one.html").read_text("utf-8") == PAGE.html
    assert (tmp_path / "one.PDF").read_bytes() == b"%PDF of " + PAGE.html.encode()
    with pytest.raises(ValueError, match=r"\.html or \.pdf"):
        PAGE.save(tmp_path / "one.doc")
    with pytest.raises(OSError, match="nowhere"):
        PAGE.save(tmp_path / "nowhere" / "one.html")


def test_without_a_browser_nothing_is_written_and_the_way_out_is_named(tmp_path, monkeypatch):
    monkeypatch.setenv("MECHLOGIC_CHROMIUM", "no-such-program")
    with pytest.raises(Refusal, match="open that in any browser and print it there"):
        PAGE.save(tmp_path / "one.pdf")
    assert list(tmp_path.iterdir()) == []


def test_a_browser_that_fails_is_named(monkeypatch):
    monkeypatch.setenv("MECHLOGIC_CHROMIUM", sys.executable)  # knows none of the options
    with pytest.raises(Refusal, match=rf"{os.path.basename(sys.executable)} did not print"):
        pdf(PAGE.html)


def test_the_command_puts_the_pdf_beside_the_page(tmp_path, a_browser, capsys):
    PAGE.save(tmp_path / "one.html")
    assert main(["print", str(tmp_path / "one.html")]) == 0
    assert capsys.readouterr().out.strip() == str(tmp_path / "one.pdf")
    assert (tmp_path / "one.pdf").read_bytes().startswith(b"%PDF")
