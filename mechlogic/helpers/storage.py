"""Where small files are kept: a folder on a disk, or whatever a browser has instead.

A storage knows files by plain names, without folders.  ``Folder`` is one on a disk;
``InMapping`` keeps texts in anything that is like a dict, and so in memory, or in a browser's own
storage by way of an object with ``__getitem__``, ``__setitem__``, ``__delitem__``, ``__iter__`` and
``__len__``.
"""

import errno
import os
import re
from collections.abc import Iterator, MutableMapping
from contextlib import AbstractContextManager, contextmanager, nullcontext
from pathlib import Path

from mechlogic.helpers import safe_file

__all__ = ["Folder", "InMapping", "Storage"]

NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,99}\.[a-z]{1,5}")
"""What a file may be called; so no name leads out of the folder."""


class Folder:
    """Files in a folder on a disk; it is made when something is first written.

    Every method may raise OSError.

    Args:
        path: The folder.
    """

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.path = Path(path)

    def names(self) -> list[str]:
        """The names of all files, in order; those of other things in the same place left out."""
        try:
            return sorted(one.name for one in self.path.iterdir() if NAME.fullmatch(one.name))
        except FileNotFoundError:
            return []

    def read(self, name: str, most: int) -> bytes | None:
        """What is in a file, no more than *most* bytes and one; None if there is no such file."""
        try:
            return safe_file.read_bytes(self.path / _checked(name), most)
        except FileNotFoundError:
            return None

    def write(self, name: str, data: bytes) -> None:
        """Put something in the place of a file, whole or not at all."""
        target = self.path / _checked(name)
        safe_file.clear_away(target)
        safe_file.write_whole(target, data)

    def remove(self, name: str) -> None:
        """Remove a file, if there is one."""
        (self.path / _checked(name)).unlink(missing_ok=True)

    @contextmanager
    def locked(self) -> Iterator[None]:
        """Keep other programs that use this lock out meanwhile, where that can be done."""
        self.path.mkdir(parents=True, exist_ok=True)
        with safe_file.locked(self.path):
            yield


class InMapping:
    """Files as texts in a mapping from names to texts.

    Args:
        texts: The mapping; its keys begin with *prefix*, so that others can use it too.
        prefix: How the keys begin.
    """

    def __init__(self, texts: MutableMapping[str, str] | None = None, prefix: str = "") -> None:
        self.texts: MutableMapping[str, str] = {} if texts is None else texts
        self.prefix = prefix

    def names(self) -> list[str]:
        """As :class:`Folder` says."""
        keys = [key.removeprefix(self.prefix) for key in self.texts if key.startswith(self.prefix)]
        return sorted(filter(NAME.fullmatch, keys))

    def read(self, name: str, most: int) -> bytes | None:
        """As :class:`Folder` says."""
        text = self.texts.get(self.prefix + _checked(name))
        return None if text is None else text.encode("utf-8", "surrogatepass")[: most + 1]

    def write(self, name: str, data: bytes) -> None:
        """As :class:`Folder` says."""
        key = self.prefix + _checked(name)
        try:
            self.texts[key] = data.decode("utf-8")
        except OSError:
            raise
        except Exception as error:  # a browser's own word for "no room" is known to it alone
            raise OSError(errno.ENOSPC, str(error)) from error

    def remove(self, name: str) -> None:
        """As :class:`Folder` says."""
        self.texts.pop(self.prefix + _checked(name), None)

    def locked(self) -> AbstractContextManager[None]:
        """As :class:`Folder` says."""
        return nullcontext()


Storage = Folder | InMapping
"""Where small files are kept."""


def _checked(name: str) -> str:
    if not NAME.fullmatch(name):
        raise OSError(errno.EINVAL, "no file can have such a name")
    return name
