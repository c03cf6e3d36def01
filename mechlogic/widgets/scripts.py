"""The scripts of the widgets, each with what all of them share."""

from pathlib import Path

HERE = Path(__file__).parent

SHARED = "elements.js"
"""What every script begins with."""


def script(name: str) -> str:
    """The text of a script, ready to be loaded.

    Args:
        name: Its file, such as ``"front_end.js"``.
    """
    return "\n".join((HERE / part).read_text(encoding="utf-8") for part in (SHARED, name))
