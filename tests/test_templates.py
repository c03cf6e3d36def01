"""Pages come from templates, and what is filled in is data."""

import jinja2
import pytest

from mechlogic.helpers.templates import piece, render


def test_what_is_filled_in_is_escaped():
    assert render("list.html", items=["<b>", "&"]) == "<ul><li>&lt;b&gt;</li><li>&amp;</li></ul>"


def test_a_name_that_is_not_given_is_an_error_and_no_blank():
    with pytest.raises(jinja2.UndefinedError):
        render("list.html")


def test_a_piece_is_plain_text_with_what_is_filled_in_escaped():
    made = piece("bench.html", "sentence", "<b> & more")
    assert made == "<p>&lt;b&gt; &amp; more</p>"
    assert type(made) is str
    with pytest.raises(AttributeError):
        piece("bench.html", "no_such_macro")
