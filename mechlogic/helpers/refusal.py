"""What every refusal says: what is wrong, and what to do about it."""

from dataclasses import dataclass


def on_one_line(text: str) -> str:
    r"""A text as a message may hold it: on one line, and nothing in it that steers a screen.

    Line ends, control characters and marks that turn the direction of writing are written as
    Python writes them: ``\n``, ``\u202e``.
    """
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)


class Refusal(ValueError):
    """Something that cannot be done with what was given; the message is both sentences.

    Attributes:
        what: What is wrong.
        mend: What to do about it.
    """

    def __init__(self, what: str, mend: str) -> None:
        self.what, self.mend = on_one_line(what), on_one_line(mend)
        super().__init__(f"{self.what}. {self.mend}")

    def __reduce__(self) -> tuple[type["Refusal"], tuple[str, str]]:
        return type(self), (self.what, self.mend)


class TooMuch(Refusal):
    """Work that would take many minutes, or more memory than there is, and so is not begun."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong with a file: where it is, what it is, and how to mend it.

    Attributes:
        source: The file.
        line: The line, from 1; 0 for the file as a whole.
        place: Where in it, ``checks, item 2, minutes``, ``parts.arm.ratio`` or the name of a
            column; '' for the whole.
        what: What is wrong.
        mend: What to do about it.
    """

    source: str
    line: int
    place: str
    what: str
    mend: str

    def __str__(self) -> str:
        line = f"line {self.line}" if self.line else ""
        where = ", ".join(filter(None, (self.source, line, self.place)))
        end = "" if self.mend.endswith(("?", ".")) else "."
        return on_one_line(f"{where}: {self.what}. {self.mend}{end}")
