"""The command line: ``python -m mechlogic``, and what it does for those who script.

Without a command it opens the reading room: the workbooks as pages that run by themselves.
"""

import argparse
import subprocess
import sys
import threading
import webbrowser
from collections.abc import Callable, Sequence
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from mechlogic.helpers.safe_file import mend_for, write_whole

HOME = Path.home() / "mechlogic"
"""Where the workbooks of an installed copy go, if no other folder is named."""

POLICY = (
    "default-src 'self' data: blob:; connect-src 'self' ws: data: blob:; "
    "script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:; style-src 'self' 'unsafe-inline'"
)
"""The reading room fetches nothing from elsewhere: the browser holds it to that."""


def main(words: Sequence[str] | None = None) -> int:
    """Do what the words of a command line say.

    Args:
        words: The words after the program's name; those of this program if left out.

    Returns:
        0 if all went well, 1 if what was asked for cannot be done.
    """
    given = _parser().parse_args(words)
    try:
        given.do(given)
    except OSError as error:
        said = f"{error.filename}: {error.strerror}" if error.filename else str(error)
        print(f"{said}. {mend_for(error)}.", file=sys.stderr)
    except (ValueError, KeyError) as error:
        print(error.args[0] if isinstance(error, KeyError) else error, file=sys.stderr)
    except KeyboardInterrupt:
        return 0
    else:
        return 0
    return 1


def _parser() -> argparse.ArgumentParser:
    top = argparse.ArgumentParser(
        prog="python -m mechlogic",
        description="Find the part that makes a teleprinter misprint. Without a command: the "
        "workbooks, as pages that run by themselves in your browser.",
    )
    top.set_defaults(do=_read, folder=str(HOME), port=8000, quiet=False)
    commands = top.add_subparsers(title="commands", metavar="")

    def command(name: str, do: Callable[[argparse.Namespace], None], about: str) -> "_Adder":
        made = commands.add_parser(name, help=about, description=about)
        made.set_defaults(do=do)
        return partial(_add, made)

    read = command("read", _read, "open the workbooks, or a site that was built, in your browser")
    read("folder", "the folder of workbooks, made if it is not there, or of a site", str(HOME))
    read("--port", "where it listens, on this computer only", "8000")
    read("--quiet", "open no browser; the address is printed anyway", None)
    put = command("workbooks", _workbooks, "put workbooks, sample logs and examples into a folder")
    put("folder", "where to; files that are there already stay as they are")
    find = command("diagnose", _diagnose, "say which faults explain a log, and what to type next")
    find("log", "the log: a CSV file with the columns sent and printed")
    find("--machine", "the name of a machine, or the path of a description", "saltmere")
    draw = command("picture", _picture, "save the picture of a machine as SVG")
    draw("machine", "the name of a machine, or the path of a description")
    draw("file", "the file to write, such as machine.svg")
    hand = command("handouts", _handouts, "make the sheets of a club evening from a number")
    hand("folder", "where to")
    hand("--machine", "the name of a machine, or the path of a description", "saltmere")
    hand("--number", "the number of the evening; the same number makes the same sheets", "1")
    hand("--teams", "how many teams there are", "2")
    hand("--paper", "the paper to print on, A4 or Letter", "A4")
    to_pdf = command("print", _print, "make a PDF of a saved page, with this computer's browser")
    to_pdf("page", "the page: a file that ends in .html; the PDF is put beside it")
    check = command("check", _check, "check the description of a machine, and say what is wrong")
    check("file", "the description, a TOML file")
    site = command("site", _site, "build the course as web pages that need nothing installed")
    site("folder", "where to; an earlier site there is replaced")
    site("--parts", "where fetched parts are kept; what is missing there is fetched", "")
    site("--full", "folder or https address of the full distribution, which has NumPy", "")
    return top


_Adder = Callable[..., None]


def _add(parser: argparse.ArgumentParser, name: str, about: str, default: str | None = "") -> None:
    if default is None:
        parser.add_argument(name, help=about, action="store_true")
    elif name.startswith("--"):
        kind = int if default.isdigit() else str
        shown = f"{about} ({default})" if default else about
        parser.add_argument(name, help=shown, default=kind(default), type=kind, metavar="…")
    else:
        parser.add_argument(name, help=about, default=default, nargs="?" if default else None)


def _read(given: argparse.Namespace) -> None:
    folder = Path(given.folder)
    address = f"http://127.0.0.1:{given.port}/"
    if not given.quiet:
        threading.Timer(3, webbrowser.open, [address]).start()
    print(f"Open {address} in a browser. Ctrl-C ends this.", flush=True)
    if (folder / "offline.js").exists():
        handler = partial(SimpleHTTPRequestHandler, directory=str(folder))
        with ThreadingHTTPServer(("127.0.0.1", given.port), handler) as server:
            server.serve_forever()
    _put(folder)
    settings = {"headers": {"Content-Security-Policy": POLICY}}
    command = [sys.executable, "-m", "voila", str(folder), "--no-browser", f"--port={given.port}"]
    subprocess.run([*command, f"--Voila.tornado_settings={settings}"], check=False)


def _workbooks(given: argparse.Namespace) -> None:
    _put(Path(given.folder))
    print("Open them with:  jupyter lab", given.folder)


def _put(folder: Path) -> None:
    from mechlogic.site.course import put_workbooks

    written, kept = put_workbooks(folder)
    print(f"{folder}: {len(written)} files written.")
    for name in kept:
        print(f"Left as it is, since it differs from the one that comes with mechlogic: {name}")


def _diagnose(given: argparse.Namespace) -> None:
    from mechlogic.bench.advice import next_check
    from mechlogic.bench.diagnosis import diagnose
    from mechlogic.bench.story import NOT_LISTED, suspect_label
    from mechlogic.machines import load
    from mechlogic.model.logbook import read_logbook

    machine = load(given.machine)
    diagnosis = diagnose(machine, read_logbook(given.log, machine.code))
    for suspect in diagnosis.suspects[:10]:
        print(f"{suspect.probability:4.0%}  {suspect_label(machine, suspect.members)}")
    print(f"{diagnosis.off_list:4.0%}  {NOT_LISTED}")
    check = next_check(diagnosis)
    if check is None:
        print("No character that could be typed next would tell more.")
    else:
        print("Type next:", " then ".join(map(machine.code.name, check.codes)))
    print("Before you reach in: unplug the machine and lock it off; mind springs and capacitors.")


def _picture(given: argparse.Namespace) -> None:
    from mechlogic.drawing import scene_at
    from mechlogic.machines import load

    write_whole(given.file, scene_at(load(given.machine), {}).encode())


def _handouts(given: argparse.Namespace) -> None:
    from mechlogic.drawing.club_pages import save
    from mechlogic.machines import load
    from mechlogic.teaching.club import Evening

    Path(given.folder).mkdir(parents=True, exist_ok=True)
    evening = Evening(load(given.machine), given.number, given.teams)
    for path in save(evening, given.folder, given.paper):
        print(path)


def _print(given: argparse.Namespace) -> None:
    from mechlogic.helpers.paper import pdf

    page = Path(given.page)
    made = page.with_suffix(".pdf")
    write_whole(made, pdf(page.read_text("utf-8")))
    print(made)


def _check(given: argparse.Namespace) -> None:
    from mechlogic.describing.description import read
    from mechlogic.describing.measured import struck_off
    from mechlogic.explaining.proofs import does_as_declared

    machine = read(given.file)
    print(does_as_declared(machine), *struck_off(machine), sep="\n")


def _site(given: argparse.Namespace) -> None:
    from mechlogic.site.build import CACHE, build

    folder = build(given.folder, given.parts or CACHE, given.full)
    size = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
    print(f"{folder}: {size / 1e6:.1f} MB. Look at it:  python -m mechlogic read {folder}")


if __name__ == "__main__":
    raise SystemExit(main())
