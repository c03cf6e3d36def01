"""What every refusal says: what is wrong, and what to do about it."""


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
