"""A cell that is run again leaves none of its old widgets alive, and touches no other cell's."""

import json
import subprocess
import sys

# In a Python of its own: what a notebook's Python watches begins with its first widget.
READER = """
import gc, json, sys
from IPython.core.interactiveshell import InteractiveShell
from ipywidgets.widgets.widget import _instances

shell = InteractiveShell.instance()
seen = []
for source, name, asked in json.load(sys.stdin):
    assert shell.run_cell(source, store_history=True, cell_id=name).success, source
    gc.collect()
    seen.append(eval(asked, {**shell.user_ns, "alive": len(_instances), "gc": gc}))
print("\\n" + json.dumps(seen))
"""
BENCH = """
from mechlogic import load
from mechlogic.widgets import FaultBench, LogBench, MachineView
bench = LogBench(load('wind'), (), storage=None)
bench"""
BENCHES = "sum(type(one).__name__ == 'LogBench' for one in gc.get_objects())"


def read(*cells):
    """What is asked after each cell; a cell is its source, its ID, and what is asked."""
    run = subprocess.run(
        [sys.executable, "-c", READER],
        input=json.dumps(cells),
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(run.stdout.splitlines()[-1])


def test_cells_that_are_run_again_and_again_stay_flat():
    cells = (
        (BENCH, "1", "alive"),
        ("bench.patient()", "2", "alive"),
        ("view = MachineView(load('wind'))\nview", "3", "alive"),
        ("FaultBench(view)", "4", "alive"),
    )
    *alive, name = read(*cells * 4, ("bench.put_on(load('saltmere'))", "5", "bench.machine.name"))
    assert len(set(alive[3::4])) == 1, alive
    assert name == "saltmere"


def test_a_bench_that_was_replaced_is_gone_from_memory():
    """IPython itself holds what the last three cells gave, as _, __ and ___."""
    assert read(*[(BENCH, "1", BENCHES)] * 6)[3:] == [3, 3, 3]


BUTTON = "from mechlogic.widgets import Practice\nfrom ipywidgets import Button, VBox\n"


def test_two_cells_without_an_id_may_have_the_same_text():
    before, one, other = read(
        (BUTTON, "1", "alive"), ("Button()", None, "alive"), ("Button()", None, "alive")
    )
    assert other - one == one - before > 0


def test_what_another_cell_made_stays_when_a_cell_that_shows_it_is_run_again():
    shown = ("box = VBox([button])\nbox", "2", "button.comm is not None")
    assert all(read((f"{BUTTON}button = Button()", "1", "True"), shown, shown))
