"""What every refusal says: what is wrong, and what to do about it."""


class Refusal(ValueError):
    """Something that cannot be done with what was given; the message is both sentences.

    Attributes:
        what: What is wrong.
        mend: What to do about it.
    """

    def __init__(self, what: str, mend: str) -> None:
        super().__init__(f"{what}. {mend}")
        self.what, self.mend = what, mend

    def __reduce__(self) -> tuple[type["Refusal"], tuple[str, str]]:
        return type(self), (self.what, self.mend)


class TooMuch(Refusal):
    """Work that would take many minutes, or more memory than there is, and so is not begun."""
