"""Builds the site: a folder of files that any web server serves, and that needs nothing else.

Each workbook is a page with its prose, its pictures as they stand at the beginning, and its cells.
The page starts Python in the reader's browser, which runs the cells; a service worker keeps all of
it for the next time.  Large files are packed with gzip, as not every server does that by itself,
and every one of them is checked against the hash that the page knows.
"""

import base64
import gzip
import hashlib
import json
import re
import shutil
import tempfile
import urllib.request
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from mechlogic.drawing import scene, style
from mechlogic.helpers.templates import render
from mechlogic.machines import load, names
from mechlogic.site.built import built, cells_of
from mechlogic.site.course import course_files, put_workbooks
from mechlogic.site.page_kernel import EXTRAS
from mechlogic.site.parts import Parts, SiteError, zipped
from mechlogic.widgets.web_page import web_page

__all__ = ["CACHE", "SiteError", "build"]

HERE = Path(__file__).parent
PACKAGE = HERE.parent
DOCS_FOLDER = PACKAGE.parent / "docs"

CACHE = Path.home() / ".cache" / "mechlogic-site"
"""Where fetched parts are kept, if no other folder is named."""

DOCS = ("describe_a_machine", "publishing")
"""Pages of the documentation that workbooks lead to; their Python is not run, as that of the pages
here is."""

RUNTIME = ("pyodide.mjs", "pyodide.asm.mjs", "pyodide.asm.wasm", "python_stdlib.zip")

RUN_ALL = re.compile(r"[^.\n]*\*\*Run ▸ Run All Cells\*\*[^.]*\.", re.DOTALL)
"""What a workbook says about notebooks, and a page need not say."""

NOTEBOOK = "notebook"
"""The tag of a cell that is about notebooks only."""


NOTHING: dict[str, Any] = {"outputs": [], "state": {}, "needs": []}
"""What a page without cells shows."""


@dataclass
class Site:
    """The files of a site, and what its pages have to know of them."""

    files: dict[str, bytes] = field(default_factory=dict)

    def pack(self, name: str, data: bytes) -> None:
        """Add a file, packed."""
        self.files[f"files/{name}.pack"] = gzip.compress(data, 9, mtime=0)

    def hashes(self, *names: str) -> dict[str, str]:
        """The hash of each packed file, as browsers want it."""
        return {name: _integrity(self.files[f"files/{name}.pack"]) for name in names}


def build(
    folder: str | Path,
    parts: str | Path = CACHE,
    full: str = "",
    only: Iterable[str] = (),
) -> Path:
    """Build the site.

    Args:
        folder: Where to; what an earlier build left there is replaced.
        parts: Where fetched parts are kept; what is missing there is fetched.
        full: Folder or address of Pyodide's full distribution, of the pinned version, which has
            NumPy, SciPy and Matplotlib.  Without it the pages that want them say so.
        only: The numbers of the workbooks to build, such as ``"03"``, and the names of machines;
            all if left out.

    Returns:
        The folder.

    Raises:
        SiteError: If something cannot be fetched or is not what was pinned, or the folder holds
            files that are not from a site.
    """
    target = Path(folder)
    if target.exists() and any(target.iterdir()) and not (target / "offline.js").exists():
        raise SiteError(f"{target} holds other files: name an empty folder or a new one")
    site = Site()
    fetched = Parts(Path(parts))
    for name in RUNTIME:
        site.pack(name, _without_map(fetched.pyodide(name)))
    site.pack("widgets.js", _without_map(fetched.widgets()))
    site.pack("anywidget.js", _without_map(fetched.anywidget()))
    site.pack("python.zip", zipped({**fetched.packages(later=False), **_own()}))
    site.pack("sympy.zip", zipped(fetched.packages(later=True)))
    extras = _extras(site, json.loads(fetched.pyodide("pyodide-lock.json")), full)
    shared = (HERE / "packs.js").read_text(encoding="utf-8")
    site.pack("worker.js", (shared + (HERE / "worker.js").read_text(encoding="utf-8")).encode())
    site.files["page.js"] = (shared + (HERE / "page.js").read_text(encoding="utf-8")).encode()
    site.files["site.css"] = (HERE / "site.css").read_bytes()
    _pages(site, extras, tuple(only))
    _offline(site)
    _write(target, site.files)
    return target


def _pages(site: Site, extras: bool, only: tuple[str, ...]) -> None:
    chapters = []
    with tempfile.TemporaryDirectory() as scratch:
        put_workbooks(scratch)
        for name, data in course_files().items():
            if name.endswith(".ipynb") and (not only or name.startswith(only)):
                cells = [c for c in cells_of(data.decode()) if NOTEBOOK not in _tags(c)]
                title = cells[0]["source"].splitlines()[0].lstrip("# ")
                chapters.append({"name": Path(name).stem, "title": title, "number": name[:2]})
                _page(site, Path(name).stem, title, cells, extras, Path(scratch))
        for path in (*sorted(HERE.glob("*.md")), *(DOCS_FOLDER / f"{name}.md" for name in DOCS)):
            text = path.read_text(encoding="utf-8")
            cells = _cells_of_prose(text, runs=path.parent == HERE)
            _page(site, path.stem, text.splitlines()[0].lstrip("# "), cells, extras, Path(scratch))
    machines = [load(name) for name in names() if not only or name in only]
    for machine in machines:
        site.files[f"machines/{machine.name}.html"] = web_page(machine).encode()
    picture = scene(load("wind")).svg
    start = render(
        "site_start.html", chapters=chapters, machines=machines, picture=picture, style=style()
    )
    site.files["index.html"] = start.encode()


def _page(
    site: Site, name: str, title: str, cells: list[dict[str, Any]], extras: bool, folder: Path
) -> None:
    sources = [cell["source"] for cell in cells if cell["cell_type"] == "code"]
    shown = built(sources, folder) if sources else NOTHING
    outputs = iter(enumerate(shown["outputs"]))
    for cell in cells:
        if cell["cell_type"] == "code":
            cell["number"], cell["outputs"] = next(outputs)
        else:
            cell["html"] = _prose(cell["source"])
    site.pack(f"{name}.json", json.dumps(shown["state"], separators=(",", ":")).encode())
    zips = ["sympy.zip"] if "sympy" in shown["needs"] else []
    wanted = [one for one in EXTRAS if one in shown["needs"]]
    common = ("widgets.js", "anywidget.js", "worker.js", "pyodide-lock.json", "python.zip")
    page = {
        "name": name,
        "base": "./",
        "cells": sources,
        "zips": zips,
        "extras": wanted if extras else [],
        "packs": site.hashes(f"{name}.json", *common, *RUNTIME, *zips),
    }
    data = json.dumps(page).replace("<", "\\u003c")  # nothing in it can end the element
    missing = [] if extras else [EXTRAS[one] for one in wanted]
    html = render("site_page.html", title=title, stem=name, cells=cells, page=data, missing=missing)
    site.files[f"{name}.html"] = html.encode()


def _cells_of_prose(text: str, runs: bool) -> list[dict[str, Any]]:
    """The cells of a page in Markdown: the Python in it is one of them each, if it *runs*."""
    pieces = re.split(r"```python\n(.*?)```", text, flags=re.DOTALL) if runs else [text]
    kinds = "markdown", "code"
    cells = ((kinds[n % 2], piece.strip()) for n, piece in enumerate(pieces))
    return [{"cell_type": kind, "source": source} for kind, source in cells if source]


def _prose(source: str) -> str:
    """The prose of a cell, as HTML; links to other workbooks lead to their pages."""
    from nbconvert.filters.markdown_mistune import markdown2html_mistune

    html = markdown2html_mistune(RUN_ALL.sub("", source))
    html = re.sub(r'href="(\d\d_\w+)\.ipynb"', r'href="\1.html"', html)
    return re.sub(r'href="\.\./docs/(\w+)\.md', r'href="\1.html', html)


def _tags(cell: dict[str, Any]) -> list[str]:
    return list(cell["metadata"].get("tags", ()))


def _own() -> dict[str, bytes]:
    """This library and its workbooks, as they lie in an installed copy."""
    own = {
        path.relative_to(PACKAGE.parent).as_posix(): path.read_bytes()
        for path in PACKAGE.rglob("*")
        if path.is_file()
        and not {"workbooks", "__pycache__"} & set(path.parts[len(PACKAGE.parts) :])
    }
    return {**own, **{f"mechlogic/workbooks/{k}": data for k, data in course_files().items()}}


def _extras(site: Site, lock: dict[str, Any], full: str) -> bool:
    """Add NumPy and its company, if there are any; the lock file then names those only."""
    packages = lock["packages"]
    wanted: list[str] = list(EXTRAS) if full else []
    for name in wanted:  # grows while it is read
        wanted += [one for one in map(_plain, packages[name]["depends"]) if one not in wanted]
    for name in wanted:
        data = _from(full, packages[name]["file_name"])
        if hashlib.sha256(data).hexdigest() != packages[name]["sha256"]:
            raise SiteError(f"{packages[name]['file_name']} is not of the pinned version")
        site.files[f"files/{packages[name]['file_name']}"] = data
    lock["packages"] = {name: packages[name] for name in sorted(wanted)}
    site.pack("pyodide-lock.json", json.dumps(lock).encode())
    return bool(full)


def _plain(name: str) -> str:
    return name.lower().replace("_", "-")


def _from(place: str, name: str) -> bytes:
    if not place.startswith("https://"):
        return (Path(place) / name).read_bytes()
    with urllib.request.urlopen(f"{place.rstrip('/')}/{name}") as answer:
        return bytes(answer.read())


def _without_map(data: bytes) -> bytes:
    """A script without the line that names its source map, which the site does not have."""
    return re.sub(rb"\n?//# sourceMappingURL=[^\n]*\n?\Z", b"\n", data)


def _integrity(data: bytes) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(data).digest()).decode()}"


def _offline(site: Site) -> None:
    """The service worker: it names every file with its hash, and the version is that of all."""
    hashes = {name: _integrity(data) for name, data in sorted(site.files.items())}
    version = hashlib.sha256(json.dumps(hashes).encode()).hexdigest()[:16]
    text = (HERE / "offline.js").read_text(encoding="utf-8")
    said = json.dumps({"version": version, "files": hashes}, indent=0)
    text = re.sub(r"/\*site\*/.*;", lambda _: f"{said};", text)
    site.files["offline.js"] = text.encode()


def _write(target: Path, files: dict[str, bytes]) -> None:
    """Put the site in place of what was there."""
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=target.parent, prefix=".site-") as scratch:
        for name, data in files.items():
            path = Path(scratch, "site", name)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
        if target.exists():
            shutil.rmtree(target)
        Path(scratch, "site").rename(target)
