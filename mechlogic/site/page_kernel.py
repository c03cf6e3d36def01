"""The Python behind one page: it runs the cells of a workbook, and carries messages of widgets.

The same code runs in the reader's browser, where the page is alive, and in the builder's Python,
where it makes what the page shows before the browser's Python has started.  It takes the place of
a Jupyter kernel: IPython runs the cells, ``comm`` carries what widgets say.
"""

import io
import json
import os
import sys
import threading
import zipfile
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path, PurePosixPath
from typing import Any

import comm
from comm.base_comm import BaseComm
from IPython.core.displayhook import DisplayHook
from IPython.core.displaypub import DisplayPublisher
from IPython.core.interactiveshell import InteractiveShell

from mechlogic.site.course import put_workbooks

__all__ = ["EXTRAS", "Files", "Page", "begin"]

MOST_FILES, MOST_BYTES = 2_000, 50_000_000
"""The most that is taken from an archive of saved work."""

Send = Callable[[str, list[bytes]], None]
"""Takes a message as JSON, and the bytes that go with it."""

EXTRAS = {"numpy": "NumPy", "scipy": "SciPy", "matplotlib": "Matplotlib"}
"""What a site may have been built without."""


class Page:
    """One page's cells and widgets.

    Args:
        send: Where messages to the page go.
    """

    def __init__(self, send: Send) -> None:
        self._send = send
        self._cell, self._lacks = -1, False
        self._numbers = count(1)
        comm.create_comm = self._open
        self.shell = _shell(self)
        if sys.platform == "emscripten":  # no threads there: what would run beside runs at once
            threading.Thread.start = threading.Thread.run  # type: ignore[method-assign]

    def run(self, number: int, source: str) -> bool:
        """Run a cell, and send what it shows; whether it came to its end."""
        self._cell = number
        out, sys.stdout = sys.stdout, _Printed(self)
        try:
            done: Any = self.shell.run_cell(source, store_history=False)  # type: ignore[no-untyped-call]
            return bool(done.success)
        finally:
            sys.stdout, self._cell = out, -1

    def hear(self, message: str, buffers: list[bytes]) -> None:
        """What a widget on the page says."""
        heard = json.loads(message)
        there = comm.get_comm_manager().get_comm(heard["content"]["comm_id"])
        if there is not None:
            try:
                there.handle_msg({**heard, "buffers": buffers})
            except Exception as error:  # said on the page; there is no other place
                self.show({"text/plain": self.explained(error)})

    def show(self, data: dict[str, Any]) -> None:
        """Send something to be shown below the cell that runs."""
        self.tell("output", [], cell=self._cell, data=data)

    def explained(self, error: BaseException) -> str:
        """What a reader is told when a cell could not run."""
        missing = (getattr(error, "name", None) or "").split(".")[0]
        if isinstance(error, ModuleNotFoundError) and missing in EXTRAS:
            self._lacks = True
            return f"This part needs {EXTRAS[missing]}, which this site was built without."
        if isinstance(error, NameError) and self._lacks:
            return "This part builds on one above that could not run."
        return f"This part could not run. {type(error).__name__}: {error}"

    def tell(self, kind: str, buffers: list[bytes], **content: Any) -> None:
        """Send a message of a kind."""
        self._send(json.dumps({"kind": kind, **content}, default=str), buffers)

    def _open(self, *args: Any, **kwargs: Any) -> BaseComm:
        """A comm; numbered, so that a page that is made twice is the same to the byte."""
        if not kwargs.get("comm_id"):
            kwargs["comm_id"] = f"{next(self._numbers):032x}"
        return _comm_to(self)(*args, **kwargs)


def _comm_to(page: Page) -> type[BaseComm]:
    class Comm(BaseComm):
        def publish_msg(
            self,
            msg_type: str,
            data: Any = None,
            metadata: Any = None,
            buffers: Any = None,
            **keys: Any,
        ) -> None:
            content = {"comm_id": self.comm_id, "data": data or {}, **keys}
            page.tell(msg_type, buffers or [], content=content, metadata=metadata or {})

    return Comm


def _shell(page: Page) -> InteractiveShell:
    class Hook(DisplayHook):
        def write_output_prompt(self) -> None:
            """A page has no prompts."""

        def write_format_data(self, format_dict: dict[str, Any], md_dict: Any = None) -> None:
            page.show(format_dict)

    class Publisher(DisplayPublisher):
        def publish(self, data: dict[str, Any], *args: Any, **kwargs: Any) -> None:
            page.show(data)

    class Shell(InteractiveShell):
        displayhook_class = Hook
        display_pub_class = Publisher

        def enable_gui(self, gui: Any = None) -> None:
            """Pictures stand on the page; there are no windows."""

        def _showtraceback(self, etype: type, evalue: BaseException, stb: list[str]) -> None:
            page.show({"text/plain": page.explained(evalue)})

    return Shell.instance(colors="nocolor")


class _Printed:
    """Stands in for standard output: what a cell prints appears below it."""

    def __init__(self, page: Page) -> None:
        self._page = page

    def write(self, text: str) -> int:
        if text:
            self._page.show({"stream": text})
        return len(text)

    def flush(self) -> None:
        """Nothing is held back."""


class Files:
    """Which files below a folder have changed since this was last asked: those want keeping.

    Args:
        folder: The folder of workbooks, logs and records.
    """

    def __init__(self, folder: str) -> None:
        self._folder = Path(folder)
        self._known: dict[str, tuple[int, int]] = {}
        self.changed()

    def changed(self) -> list[tuple[str, bytes | None]]:
        """Paths from the folder, with the new contents; None for a file that is gone."""
        now = dict(self._all())
        new = [path for path, stamp in now.items() if self._known.get(path) != stamp]
        gone = self._known.keys() - now.keys()
        self._known = now
        return [
            *((one, (self._folder / one).read_bytes()) for one in new),
            *((one, None) for one in gone),
        ]

    def put(self, path: str, data: bytes) -> None:
        """Put back a file that was kept; it does not count as changed."""
        target = self._folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
        self._known[path] = _stamp(target)

    def packed(self, paths: list[str]) -> bytes:
        """Files of the folder in one archive, to be taken elsewhere."""
        made = io.BytesIO()
        with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in paths:
                if (self._folder / path).is_file():
                    archive.write(self._folder / path, path)
        return made.getvalue()

    def unpack(self, data: bytes) -> int:
        """Put the files of such an archive into the folder, in place of those of the same name.

        Returns:
            How many.

        Raises:
            ValueError: If it is no such archive, holds too much, or a name leads elsewhere.
        """
        try:
            archive = zipfile.ZipFile(io.BytesIO(data))
        except zipfile.BadZipFile as error:
            raise ValueError("this is no file of saved work") from error
        files = [one for one in archive.infolist() if not one.is_dir()]
        if len(files) > MOST_FILES or sum(one.file_size for one in files) > MOST_BYTES:
            raise ValueError("this file holds more than a reader's work can be")
        for one in files:
            if PurePosixPath(one.filename).is_absolute() or ".." in one.filename.split("/"):
                raise ValueError(f"{one.filename[:80]!r} leads out of the folder")
        for one in files:
            target = self._folder / one.filename
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(archive.read(one))
        return len(files)

    def _all(self) -> Iterator[tuple[str, tuple[int, int]]]:
        for where, _, names in os.walk(self._folder):
            for name in names:
                path = Path(where, name)
                yield path.relative_to(self._folder).as_posix(), _stamp(path)


def _stamp(path: Path) -> tuple[int, int]:
    seen = path.stat()
    return seen.st_mtime_ns, seen.st_size


def begin(folder: str, send: Send) -> tuple[Page, Files]:
    """Lay out the workbooks' files in a browser, and begin a page there.

    Args:
        folder: Where the files go; the page's Python then stands in it.
        send: Where messages to the page go.
    """
    put_workbooks(folder)
    os.chdir(folder)
    return Page(send), Files(folder)
