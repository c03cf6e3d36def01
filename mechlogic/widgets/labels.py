"""Words of a person's own as the label of a control, in which a notebook sets formulas."""

import re


def as_label(words: str) -> str:
    r"""The words, looking the same, with nothing in them that begins a formula: ``$``, ``\(``.

    >>> as_label("lever at $5")
    'lever at ＄5'
    """
    return re.sub(r"\\(?=[(\[A-Za-z])", "\\\\\N{WORD JOINER}", words.replace("$", "＄"))
