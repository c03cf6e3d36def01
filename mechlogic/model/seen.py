"""What somebody saw on the paper after one character was sent, as a log writes it down.

==================  ===========================================================================
``A``               one character
``CR``, ``A+LF``    what the machine did besides printing, or both
``nothing``         the paper stayed blank
``unreadable``      something was struck, too smudged or too faint to say what
``unseen``          nobody looked, or nobody knows any more: it says nothing about the machine
``B or 8``          one of these; which, the eye cannot tell
``B over 8``        two characters on top of each other in one place
==================  ===========================================================================

How likely such a reading is: a machine that prints B, and one that prints 8, both explain ``B or
8``, so its likelihood under a hypothesis is the sum over what it may be.  A machine strikes one
character in a cycle.  So of ``B over 8`` this cycle struck one, and the other stood there already
(it was not cleared, or the paper or carriage did not move); again the sum over the two.  The two
together may also hide a third whose strokes lie within theirs, such as P under B; a machine that
prints that one explains the reading as well as it explains an unreadable character, less well.
"""

from mechlogic.model.codes import is_function

__all__ = [
    "NOTHING",
    "UNREADABLE",
    "UNSEEN",
    "alternatives",
    "beneath",
    "glyph_of",
    "is_print",
    "look_alike",
]

NOTHING = "nothing"
"""Nothing was printed: the paper stayed blank."""

UNREADABLE = "unreadable"
"""Something was printed, but too smudged or too faint to say what."""

UNSEEN = "unseen"
"""It is not known what was printed."""

OR, OVER = " or ", " over "

MOST_ALTERNATIVES = 8
"""What may be one of more than so many is unreadable."""

WITHIN = {
    "B": "PRFE3IL", "E": "FLI", "R": "PFI", "P": "FI", "F": "I", "D": "IL", "H": "I-", "M": "NIV",
    "W": "VN", "N": "I", "Q": "OC", "O": "C", "G": "C", "8": "3", "$": "SI", "K": "I", "T": "I",
    "+": "-", "=": "-", "!": ".", "?": ".", ":": ".", ";": ",.:", "%": "/", "#": "=-", "*": "+X-",
    '"': "'", "4": "1-", "Z": "/-", "X": "/\\", "Y": "V",
}  # fmt: skip
"""Characters whose strokes lie within those of another, in plain sans-serif capitals (from the
shapes themselves, no source)."""


def glyph_of(seen: str) -> str:
    """The type of a print, as a log has it: ``A`` of ``A+LF``; else all of it."""
    return seen[0] if seen[1:2] == "+" else seen


def look_alike(one: str, other: str) -> bool:
    """Whether two prints are the same to the eye: a printed blank looks like nothing printed."""
    return one == other or {one, other} == {" ", NOTHING}


def alternatives(printed: str) -> tuple[str, ...]:
    """All that may have been printed, given what was seen; a printed blank is called nothing."""
    for joined in (OR, OVER):
        if joined in printed:
            return tuple(printed.split(joined))
    return (NOTHING if printed == " " else printed,)


def beneath(printed: str) -> tuple[str, ...]:
    """The characters that two on top of each other may hide; none for any other reading."""
    if OVER not in printed:
        return ()
    shown = alternatives(printed)
    return tuple(sorted({hidden for one in shown for hidden in WITHIN.get(one, "")} - set(shown)))


def is_print(text: str) -> bool:
    """Whether a text is what a log may say of a print; see the table at the top."""
    if text in (NOTHING, UNREADABLE, UNSEEN):
        return True
    if OVER in text:
        two = text.split(OVER)
        return len(two) == 2 and two[0] != two[1] and all(is_glyph(c) and c != " " for c in two)
    if OR in text:
        several = text.split(OR)
        one_each = all(one == NOTHING or (one != " " and _is_one(one)) for one in several)
        return one_each and len(set(several)) == len(several) <= MOST_ALTERNATIVES
    return _is_one(text)


def is_glyph(text: str) -> bool:
    """Whether a text is one printing character."""
    return len(text) == 1 and text.isprintable()


def pieces(text: str) -> tuple[str, ...]:
    """What was seen at once: the character, if any, and the names of functions: ``A``, ``LF``."""
    first, *names = text.split("+") if not text.startswith("+") else ("+", *text[2:].split("+"))
    return (first, *names) if text != "+" else ("+",)


def _is_one(text: str) -> bool:
    """A character, or names of functions, or both: ``A``, ``CR``, ``A+LF``."""
    if is_glyph(text):
        return True
    first, *names = pieces(text)
    return (is_glyph(first) or is_function(first)) and all(map(is_function, names))
