"""What the site is made of that is not ours: fetched by name, and checked against pinned hashes.

Python for the browser and the scripts of the widgets come from the npm registry (``pins.toml``),
Python packages from PyPI (``wheels.txt``).  Whatever is fetched is kept in a folder; a builder
without a network copies that folder from one who has it.
"""

import base64
import hashlib
import io
import os
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from collections.abc import Iterator
from pathlib import Path

__all__ = ["Parts", "SiteError", "zipped"]

HERE = Path(__file__).parent

LATER = ("sympy", "mpmath")
"""Packages of a bundle of their own, which only some pages load."""

BUNDLES = ("@jupyter-widgets/base", "@jupyter-widgets/controls", "@jupyter-widgets/html-manager")
"""What is taken of the widgets' script; it also holds an older version of each."""

KEPT = (".py", ".json", ".typed")
"""What a package needs in order to run."""

LEFT_OUT = ("/tests/", ".dist-info/", ".data/", "/labextension/", "/benchmarks/")
"""Parts of packages that no page needs."""


class SiteError(ValueError):
    """The site cannot be built; says why, and what to do."""


class Parts:
    """Everything that is fetched.

    Args:
        folder: Where it is kept.

    Raises:
        SiteError: If something is not there and cannot be fetched, or is not what was pinned.
    """

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        pins = tomllib.loads((HERE / "pins.toml").read_text(encoding="utf-8"))
        self._pyodide = _npm(folder, "pyodide", pins["pyodide"])
        name = "@jupyter-widgets/html-manager"
        self._manager = _npm(folder, name, pins[name])
        self._wheels = _wheels(folder)

    def pyodide(self, name: str) -> bytes:
        """A file of the browser's Python."""
        return self._pyodide[f"package/{name}"]

    def widgets(self) -> bytes:
        """The scripts of ipywidgets: the present version only."""
        text = self._manager["package/dist/embed-amd.js"].decode()
        pieces = text.split('\ndefine("')[1:]
        found = {piece[: piece.index('"')]: f'define("{piece}' for piece in pieces}
        return "\n".join(found[name] for name in BUNDLES).encode()

    def anywidget(self) -> bytes:
        """The script of anywidget."""
        return self._wheels["anywidget"]["anywidget/nbextension/index.js"]

    def packages(self, later: bool) -> dict[str, bytes]:
        """The files of the Python packages: those of every page, or those that only some load."""
        return {
            path: data
            for name, files in self._wheels.items()
            if (name in LATER) == later
            for path, data in files.items()
            if _wanted(path)
        }


def _wanted(path: str) -> bool:
    if path.endswith(".dist-info/METADATA"):
        return True
    return path.endswith(KEPT) and not any(part in f"/{path}" for part in LEFT_OUT)


def zipped(files: dict[str, bytes]) -> bytes:
    """A ZIP archive; the same files always make the same bytes."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_STORED) as archive:  # packed later, as a whole
        for name in sorted(files):
            archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), files[name])
    return made.getvalue()


def _npm(folder: Path, name: str, pin: dict[str, str]) -> dict[str, bytes]:
    archive = folder / f"{name.strip('@').replace('/', '-')}-{pin['version']}.tgz"
    if not archive.exists():
        _run(["npm", "pack", "--silent", f"{name}@{pin['version']}"], folder, archive.name)
    data = archive.read_bytes()
    found = f"sha512-{base64.b64encode(hashlib.sha512(data).digest()).decode()}"
    if found != pin["integrity"]:
        raise SiteError(f"{archive} is not what was pinned: delete it, and it is fetched again")
    with tarfile.open(fileobj=io.BytesIO(data)) as files:
        return {one.name: _content(files, one) for one in files.getmembers() if one.isfile()}


def _content(files: tarfile.TarFile, one: tarfile.TarInfo) -> bytes:
    opened = files.extractfile(one)
    assert opened is not None
    return opened.read()


def _wheels(folder: Path) -> dict[str, dict[str, bytes]]:
    """The files of each pinned wheel."""
    pins = dict(_pins())
    there = {hashlib.sha256(path.read_bytes()).hexdigest(): path for path in folder.glob("*.whl")}
    if not pins.keys() <= there.keys():
        pip = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--require-hashes"]
        target = ["--python-version", "3.14", "--only-binary=:all:", "--platform", "any"]
        target += ["--platform", "manylinux2014_x86_64"]  # of which only the pure part is taken
        _run([*pip, *target, "-r", str(HERE / "wheels.txt")], folder, "the Python packages")
    there = {hashlib.sha256(path.read_bytes()).hexdigest(): path for path in folder.glob("*.whl")}
    if missing := [name for sha, name in pins.items() if sha not in there]:
        raise SiteError(f"these packages are not in {folder}: {', '.join(missing)}")
    return {name: dict(_unzipped(there[sha])) for sha, name in pins.items()}


def _pins() -> Iterator[tuple[str, str]]:
    for line in (HERE / "wheels.txt").read_text(encoding="utf-8").splitlines():
        if line and not line.startswith("#"):
            name, rest = line.split("==")
            yield rest.split("sha256:")[1].split()[0], name


def _unzipped(path: Path) -> Iterator[tuple[str, bytes]]:
    with zipfile.ZipFile(path) as archive:
        for name in archive.namelist():
            if not name.endswith("/"):
                yield name, archive.read(name)


def _run(command: list[str], folder: Path, what: str) -> None:
    try:
        subprocess.run(command, cwd=folder, check=True, capture_output=True, shell=os.name == "nt")
    except FileNotFoundError as error:
        raise SiteError(f"{command[0]} is not installed; it fetches {what}") from error
    except subprocess.CalledProcessError as error:
        said = error.stderr.decode(errors="replace").strip()[-400:]
        raise SiteError(f"{what} could not be fetched: {said}") from error
