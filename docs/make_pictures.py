"""Make the pictures of the README: the mechanism and the bench, as a reader sees them.

    .venv/bin/python docs/make_pictures.py            # both, into docs/
    .venv/bin/python docs/make_pictures.py some/where # into another folder

It needs what the browser tests need: the ``test`` extras, and Chromium or Google Chrome on the
PATH, or the program that MECHLOGIC_CHROMIUM names.  Nothing is fetched, and no JupyterLab runs: the
live picture is mounted on a page without Python, and the bench is the HTML that its widget shows.
Run it again whenever a picture, the front end or the bench has changed, and look at the result
before you commit it.
"""

import json
import os
import shutil
import sys
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

import mechlogic
from mechlogic import widgets
from mechlogic.bench import pages
from mechlogic.drawing import scene, style, type_sheet
from mechlogic.model.machine import Machine
from mechlogic.widgets import log_bench
from mechlogic.widgets.frames import frames
from mechlogic.widgets.scripts import script

DOCS = Path(__file__).parent
LOG = DOCS.parent / "workbooks/logs/cold_morning.csv"
FRONT_END = Path(widgets.__file__).parent
SCALE = 1.4  # pictures about 1400 pixels wide, of pages 1000 wide
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]


def view_page(machine: Machine, character: str, text: str) -> str:
    """The live picture with the bars set for a character, and a text on the paper."""
    picture, code = scene(machine), machine.code
    settings = [machine.as_set(code.parse(sent)) for sent in [*text, character]]
    data = {
        "svg": picture.svg,
        "wheel": type_sheet(machine),
        "poses": picture.poses,
        "frames": frames(machine),
        "code": settings[-1],
        "printed": [(n, machine.good_print(n % len(code)), "speed") for n in settings],
    }
    look = style() + (FRONT_END / "front_end.css").read_text(encoding="utf-8")
    told = json.dumps(data).replace("</", "<\\/")  # no text of a machine ends the script
    return f"""<!doctype html><meta charset="utf-8"><style>{look}
body {{ margin: 10px }} .mv-list {{ display: none }}</style>
<body><main></main><script type="module">{script("front_end.js")}
mount(document.querySelector("main"), {told});</script>"""


def bench_page(machine: Machine, path: Path) -> str:
    """A log with what the bench makes of it: the next check, the suspects, the map of the type."""
    diagnosis = mechlogic.diagnose(machine, mechlogic.read_logbook(path, machine.code))
    parts = [
        pages.log_strip(diagnosis.evidence),
        pages.log_summary(diagnosis),
        pages.advice(diagnosis, mechlogic.next_check(diagnosis)),
        '<div class="ml-columns"><div class="ml-suspected">',
        pages.suspect_list(diagnosis),
        "</div><div>",
        pages.wheel_map(diagnosis.evidence),
        "</div></div>",
    ]
    return f"""<!doctype html><meta charset="utf-8"><style>{pages.STYLE}{log_bench.STYLE}
body {{ margin: 0; font-family: "Helvetica Neue", Arial, "Liberation Sans", sans-serif }}
main {{ width: 930px; padding: 14px 22px 6px }}
main.ml-bench .ml-columns {{ display: flex; height: auto; margin-top: 8px }}
main.ml-bench .ml-suspected {{ flex: none; width: 47% }}
</style><body data-jp-theme-light="true"><main class="ml-bench">
<div class="ml-page">{"".join(parts)}</div></main>"""


def shoot(page: Page, html: str, last: str, path: Path) -> None:
    """Keep what a page shows, down to the element that matches *last*."""
    page.set_content(html)
    foot = page.locator(last).last.bounding_box()
    assert foot is not None, f"the page has no {last}"
    width = page.evaluate("document.querySelector('main').getBoundingClientRect().right")
    clip = {"x": 0, "y": 0, "width": width + 10, "height": foot["y"] + foot["height"] + 10}
    page.screenshot(path=path, clip=clip, full_page=True)
    print(f"{path}: {path.stat().st_size // 1000} kB")


def main(folder: Path) -> None:
    """Make both pictures in a folder."""
    named = os.environ.get("MECHLOGIC_CHROMIUM")
    names = [named] if named else ["chromium", "chromium-browser", "google-chrome"]
    program = next(filter(None, map(shutil.which, names)), None)
    if program is None:
        sys.exit("No Chromium found: install it, or name its program in MECHLOGIC_CHROMIUM.")
    folder.mkdir(parents=True, exist_ok=True)
    saltmere = mechlogic.load("saltmere")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=FLAGS)
        page = browser.new_page(
            viewport={"width": 1000, "height": 800},
            device_scale_factor=SCALE,
            color_scheme="light",
            reduced_motion="reduce",  # parts stand where they belong at once
        )
        view = view_page(saltmere, "A", "KESTREL BERTH 4")
        shoot(page, view, ".mv-paper", folder / "mechanism.png")
        shoot(page, bench_page(saltmere, LOG), ".ml-columns", folder / "bench.png")
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]) if sys.argv[1:] else DOCS)
