"""How soon the page answers, action by action, in one JupyterLab.  Run by hand; nothing asserted.

    python tests/bench/measure_clicks.py

One notebook in headless Chromium holds the live picture with its fault bench, the page without
Python in a frame, the bench for logs, a bare ipywidgets button, and the same mechanism drawn by
Matplotlib.  Each action is done thirty times with a real mouse or key, motion on, as a reader has
it; the mouse's button is held down for a moment, as a finger does.  A time runs from the moment at
which the browser has the click or key until the frame is drawn that holds the last change it
brings; what a screen reader is told counts as a change too.  Beside it stands what the answer costs
in computing time, of the page's main thread and of the kernel, with all that goes on meanwhile.

Goals: 20 ms (median) and 40 ms (95th percentile) for what the browser answers from its tables,
120 ms (median) for what needs Python.
"""

import os
import re
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from itertools import cycle, groupby
from pathlib import Path
from statistics import median, quantiles

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_notebook
from playwright.sync_api import Error

TIMES = 30
HELD = 60  # ms for which a finger holds the mouse's button down
BROWSER, PYTHON = "answered from tables in the browser", "answered by Python"
GOALS = {BROWSER: "20 / 40", PYTHON: "120 / –"}

PICTURE = """\
from mechlogic import load
from mechlogic.widgets import FaultBench, MachineView

saltmere = load("saltmere")
view = MachineView(saltmere)
view"""
FAULTS = "FaultBench(view)"
FRAME = """\
from IPython.display import IFrame
from mechlogic.widgets.web_page import save_web_page

save_web_page(saltmere, "saltmere.html")
IFrame("saltmere.html", width="100%", height=850)"""
BENCH = """\
from mechlogic.widgets import LogBench

LogBench(saltmere, "logs")"""
ROUND_TRIP = """\
import ipywidgets

button, label = ipywidgets.Button(description="round trip"), ipywidgets.Label("0")
button.on_click(lambda _: setattr(label, "value", str(int(label.value) + 1)))
ipywidgets.VBox([button, label])"""
MATPLOTLIB = """\
%matplotlib inline
from drawn_by_matplotlib import Redrawn

Redrawn(saltmere, 7)"""
SOURCES = {
    "picture": PICTURE,
    "faults": FAULTS,
    "frame": FRAME,
    "bench": BENCH,
    "round trip": ROUND_TRIP,
    "matplotlib": MATPLOTLIB,
}

# From the click or key to the frame that draws the last change below a node.  A frame is drawn
# when the first message after its callbacks arrives.
ARM = """root => {
    const clock = globalThis.clock = { start: 0, last: 0, waiting: 0 };
    const begin = event => {
        // A text box that is left reports a change too, before the click is done.
        if (event.type !== 'change' || event.target.tagName === 'SELECT') {
            clock.start ||= event.timeStamp;
        }
    };
    for (const type of ['click', 'keydown', 'change']) addEventListener(type, begin, true);
    const drawn = new MessageChannel();
    drawn.port1.onmessage = () => { clock.waiting--; clock.last = performance.now(); };
    const observer = new MutationObserver(() => {
        if (!clock.start) return;
        clock.waiting++;
        requestAnimationFrame(() => drawn.port2.postMessage(0));
    });
    observer.observe(root, {
        attributes: true, childList: true, characterData: true, subtree: true,
    });
    clock.stop = () => {
        observer.disconnect();
        for (const type of ['click', 'keydown', 'change']) removeEventListener(type, begin, true);
        return clock.last - clock.start;
    };
}"""
KERNEL_CPU = """async () => {
    const kernel = jupyterapp.shell.currentWidget.sessionContext.session.kernel;
    const code = "__import__('time').process_time()";
    const asked = kernel.requestExecute({ code: '', user_expressions: { answer: code } });
    return Number((await asked.done).content.user_expressions.answer.data['text/plain']);
}"""
QUIET = "quiet => clock.last && !clock.waiting && performance.now() - clock.last > quiet"
STOP = "() => clock.stop()"


@dataclass(frozen=True)
class Action:
    """Something that a reader does, over and over.

    Attributes:
        title: What it is called in the table.
        kind: Who answers it.
        shown: The cell in which its answer is seen.
        do: Does it once, given the desk.
        before: Gets ready for doing it, unmeasured.
        quiet: For how long (ms) nothing may change before the answer counts as complete.
    """

    title: str
    kind: str
    shown: str
    do: Callable[["Desk"], object]
    before: Callable[["Desk"], object] = lambda _: None
    quiet: int = 400


@dataclass(frozen=True)
class Measured:
    """What thirty answers took.

    Attributes:
        action: What was done.
        times: How long each answer took, ms.
        page: Computing time of the page for each, ms, its movements included.
        kernel: Computing time of the kernel for each, ms.
        load: How many processes wanted one of the computer's cores meanwhile.
    """

    action: Action
    times: list[float]
    page: float
    kernel: float
    load: float


class Desk:
    """The notebook, and its cells by name."""

    def __init__(self, page):
        self.page = page
        self.letters = cycle("HARBOUR")
        self.faults = cycle(range(1, 8))

    def cell(self, name):
        """The output of a cell, or what the frame in it shows."""
        output = self.output(name)
        return output.frame_locator("iframe").locator("#open") if name == "frame" else output

    def output(self, name):
        number = list(SOURCES).index(name)
        return self.page.locator(f'[data-windowed-list-index="{number}"] .jp-Cell-outputArea').first

    def button(self, cell, name):
        return self.cell(cell).get_by_role("button", name=name)

    def cycles(self, cell, way):
        """Choose how a cycle is shown."""
        self.cell(cell).get_by_label("How a cycle is shown").select_option(way)

    def send(self, cell):
        """Have one character printed."""
        self.cell(cell).get_by_role("textbox", name="Send").press(next(self.letters))

    def phase(self, cell):
        """One phase on; after the last, the next character is sent."""
        self.button(cell, "One phase on").click(delay=HELD)

    def ready_for_phase(self, cell):
        on = self.button(cell, "One phase on")
        if on.get_attribute("aria-disabled") == "true":
            self.send(cell)

    def write_entry(self):
        """Write down what was sent and printed, but do not add it yet."""
        sent = next(self.letters)
        self.cell("bench").get_by_role("textbox", name="Sent", exact=True).first.fill(sent)
        self.cell("bench").get_by_role("textbox", name="Printed", exact=True).first.fill(sent)

    def next_fault(self):
        chooser = self.cell("faults").get_by_label("Fault", exact=True)
        n = chooser.locator("option").count()
        chooser.select_option(index=next(self.faults) % n)

    def measure(self, action):
        """Do it thirty times."""
        self.output(action.shown).evaluate("node => node.scrollIntoView({ block: 'end' })")
        times, page, kernel = [], 0.0, 0.0
        for _ in range(TIMES):
            action.before(self)
            self.page.wait_for_timeout(action.quiet)
            node = self.cell(action.shown).element_handle()
            frame = node.owner_frame()
            page_before, kernel_before = self.page_cpu(frame), self.page.evaluate(KERNEL_CPU)
            node.evaluate(ARM)
            action.do(self)
            frame.wait_for_function(QUIET, arg=action.quiet, polling=100)
            times.append(frame.evaluate(STOP))
            page += self.page_cpu(frame) - page_before
            kernel += self.page.evaluate(KERNEL_CPU) - kernel_before
        each = 1000 / TIMES
        return Measured(action, times, page * each, kernel * each, os.getloadavg()[0])

    def page_cpu(self, frame):
        """Computing time so far of the main thread that a frame of the page runs in, s."""
        metrics = self.session(frame).send("Performance.getMetrics")["metrics"]
        return next(one["value"] for one in metrics if one["name"] == "TaskDuration")

    @cache  # noqa: B019
    def session(self, frame):
        """The browser's own instruments for a frame; one in a sandbox has a process of its own."""
        try:
            session = self.page.context.new_cdp_session(frame)
        except Error:
            session = self.page.context.new_cdp_session(self.page)
        session.send("Performance.enable", {"timeDomain": "threadTicks"})
        return session


def choose_fault(desk):
    desk.cell("frame").get_by_label("Fault", exact=True).select_option(index=next(desk.faults) * 20)


def bit(cell, desk):
    desk.cell(cell).get_by_role("button", name=re.compile(r"^b7,")).click(delay=HELD)


ACTIONS = [
    Action("a bit toggled", BROWSER, "picture", partial(bit, "picture")),
    Action(
        "one step of a cycle",
        BROWSER,
        "picture",
        lambda desk: desk.phase("picture"),
        lambda desk: desk.ready_for_phase("picture"),
    ),
    Action("a fault shown, page without Python", BROWSER, "frame", choose_fault),
    Action("a bit toggled, that fault shown", BROWSER, "frame", partial(bit, "frame")),
    Action(
        "a log entry, with its new diagnosis",
        PYTHON,
        "bench",
        lambda desk: desk.button("bench", "Add entry").click(delay=HELD),
        Desk.write_entry,
    ),
    Action(
        "a fault given to the picture by Python",
        PYTHON,
        "picture",
        lambda desk: desk.button("faults", "Only this fault").click(delay=HELD),
        Desk.next_fault,
    ),
    Action(
        "ipywidgets button and label",
        "bare round trip",
        "round trip",
        lambda desk: desk.button("round trip", "round trip").click(delay=HELD),
    ),
    Action(
        "the mechanism redrawn by Matplotlib",
        "for comparison",
        "matplotlib",
        lambda desk: desk.button("matplotlib", "toggle b7").click(delay=HELD),
    ),
]


def table(measured):
    """A line for each action."""
    head = f"{f'{TIMES} times each, in ms':46}{'median':>7}{'95 %':>7}{'goal':>9}"
    yield f"{head}   CPU: page  kernel   load"
    for kind, some in groupby(measured, lambda one: one.action.kind):
        yield kind
        for one in some:
            middle, high = median(one.times), quantiles(one.times, n=20)[-1]
            yield (
                f"  {one.action.title:44}{middle:7.1f}{high:7.1f}{GOALS.get(kind, ''):>9}"
                f"{one.page:12.0f}{one.kernel:8.0f}{one.load:7.1f}"
            )


def notebook():
    kernel = {"name": "python3", "display_name": "Python 3 (ipykernel)", "language": "python"}
    cells = [new_code_cell(source) for source in SOURCES.values()]
    return new_notebook(cells=cells, metadata={"kernelspec": kernel})


def test_nothing_but_measure(page, open_workbook, run_all, tmp_path, capsys):
    """Made as a test only to have a JupyterLab and a browser."""
    nbformat.write(notebook(), tmp_path / "clicks.ipynb")
    redrawn = Path(__file__).parent / "drawn_by_matplotlib.py"
    (tmp_path / redrawn.name).write_text(redrawn.read_text())
    page.emulate_media(reduced_motion="no-preference")
    page.set_viewport_size({"width": 1366, "height": 900})
    open_workbook(page, "clicks.ipynb", tmp_path)
    run_all(page)
    desk = Desk(page)
    desk.cycles("picture", "step by step")
    measured = [desk.measure(action) for action in ACTIONS]
    with capsys.disabled():
        print("\n\n" + "\n".join(table(measured)))


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1] / "browser"))
    import conftest

    sys.exit(pytest.main(["-q", "-n0", "--no-header", __file__], plugins=[conftest]))
