"""Files that people bring: what is in them, or everything that keeps them from being read."""

import os
import re
from collections.abc import Iterable
from typing import ClassVar, Self

from mechlogic.helpers import safe_file
from mechlogic.helpers.refusal import Problem

__all__ = ["FileRefused", "opened", "text_of"]


class FileRefused(ValueError):
    """A file that cannot be read or written; `problems` has everything that is wrong with it."""

    kind: ClassVar[type[Problem]] = Problem

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(problems, key=lambda problem: problem.line))
        super().__init__("\n".join(map(str, self.problems)))

    @classmethod
    def of(cls, source: str, line: int, what: str, mend: str) -> Self:
        """A file that is wrong in one place."""
        return cls([cls.kind(source, line, "", what, mend)])


def opened(
    path: str | os.PathLike[str], most: int, refused: type[FileRefused] = FileRefused
) -> bytes:
    """What is in a file, but no more than *most* bytes and one.

    Raises:
        FileRefused: If it cannot be read; as the class that is given.
    """
    try:
        return safe_file.read_bytes(path, most)
    except OSError as error:
        what = f"it cannot be opened ({error.strerror or error})"
        raise refused.of(str(path), 0, what, "Check name and folder") from error


def text_of(
    data: bytes,
    source: str,
    most: int,
    too_long: tuple[str, str] | None = None,
    save_as: str = "In the editor, save it again as UTF-8",
    refused: type[FileRefused] = FileRefused,
) -> str:
    """The text in the bytes of a file; a mark at its beginning is left there.

    Args:
        data: The bytes.
        source: The file's name, for messages.
        most: So many bytes it may have.
        too_long: What is wrong if it has more, and what to do.
        save_as: What to do if it is not UTF-8.
        refused: What is raised.

    Raises:
        FileRefused: If there are more than *most* bytes, or they are not UTF-8.
    """
    if len(data) > most:
        usual = f"this is more than {most} bytes", "Check that it is the right file"
        raise refused.of(source, 0, *(too_long or usual))
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise refused.of(source, 0, "this is UTF-16, not UTF-8", save_as)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = len(re.findall(rb"\r\n|\r|\n", data[: error.start])) + 1
        raise refused.of(source, line, "a letter here is not UTF-8", save_as) from None
