"""A cell that is run again leaves none of its old widgets alive."""

from IPython.core.interactiveshell import InteractiveShell
from ipywidgets.widgets.widget import _instances

CELLS = (
    "from mechlogic import load\nfrom mechlogic.widgets import FaultBench, LogBench, MachineView\n"
    "bench = LogBench(load('wind'), (), storage=None)\nbench",
    "bench.patient()",
    "view = MachineView(load('wind'))\nview",
    "FaultBench(view)",
)


def test_cells_that_are_run_again_and_again_stay_flat():
    shell = InteractiveShell.instance()
    try:
        seen = []
        for _ in range(4):
            for cell in CELLS:
                assert shell.run_cell(cell, store_history=True).success
            seen.append(len(_instances))
        assert len(set(seen)) == 1, seen
        shell.run_cell("bench.put_on(load('saltmere'))")
        assert shell.user_ns["bench"].machine.name == "saltmere"
    finally:
        InteractiveShell.clear_instance()
