"""What a text covers: which characters are chosen for somebody who types and reads them."""

import mechlogic
from mechlogic.acceptance.coverage import readability

SALTMERE = mechlogic.load("saltmere")


def test_capitals_are_read_most_easily_then_figures_marks_small_letters_and_controls():
    """Of the controls carriage return comes first: it only moves the carriage."""
    found = [readability(SALTMERE, ord(character)) for character in "A5?a\r\x05"]
    assert found == sorted(set(found))
    assert readability(SALTMERE, ord("\n")) == readability(SALTMERE, ord("\r"))
    assert readability(SALTMERE, ord("Z")) == readability(SALTMERE, ord("A"))
