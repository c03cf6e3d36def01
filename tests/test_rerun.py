"""A cell that is run again leaves none of its old widgets alive."""

import json
import subprocess
import sys

CELLS = (
    "from mechlogic import load\nfrom mechlogic.widgets import FaultBench, LogBench, MachineView\n"
    "bench = LogBench(load('wind'), (), storage=None)\nbench",
    "bench.patient()",
    "view = MachineView(load('wind'))\nview",
    "FaultBench(view)",
)
# In a Python of its own: what a notebook's Python watches begins with its first widget.
READER = """
import json, sys
from IPython.core.interactiveshell import InteractiveShell
from ipywidgets.widgets.widget import _instances

cells = json.load(sys.stdin)
shell = InteractiveShell.instance()
alive = []
for _ in range(4):
    for cell in cells:
        assert shell.run_cell(cell, store_history=True).success
    alive.append(len(_instances))
shell.run_cell("bench.put_on(load('saltmere'))")
print("\\n" + json.dumps([alive, shell.user_ns["bench"].machine.name]))
"""


def test_cells_that_are_run_again_and_again_stay_flat():
    run = subprocess.run(
        [sys.executable, "-c", READER],
        input=json.dumps(CELLS),
        capture_output=True,
        text=True,
        check=True,
    )
    alive, name = json.loads(run.stdout.splitlines()[-1])
    assert len(set(alive)) == 1, alive
    assert name == "saltmere"
