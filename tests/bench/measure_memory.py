"""Whether memory comes back: machines loaded, diagnosed and dropped, many times over,
and all cells of a workbook run again and again, as with Run All.

    python tests/bench/measure_memory.py loads 500
    python tests/bench/measure_memory.py runs 100 03_bench      (without a name: every workbook)

Memory is what the process holds, in MiB; what is claimed is that it stays flat within 50.
"""

import contextlib
import gc
import io
import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import mechlogic
from mechlogic.bench.advice import next_check
from mechlogic.machines import names

WORKBOOKS = Path(__file__).parents[2] / "workbooks"


def resident_mib() -> float:
    """Memory that this process holds now, in MiB (Linux)."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * 4096 / 2**20


def loads(times: int) -> None:
    print(f"{times} loads, each with a diagnosis and advice; resident MiB")
    for name in names():
        seen = []
        for n in range(times):
            machine = mechlogic.load(name)
            codes = (machine.printing_codes or tuple(range(len(machine.code))))[:12]
            wrong = machine.good_print(codes[0])
            entries = tuple(mechlogic.Entry(code, wrong) for code in codes)
            next_check(mechlogic.diagnose(machine, mechlogic.Logbook(entries, machine.code)))
            del machine
            gc.collect()
            if n in (times // 10, times - 1):
                seen.append(resident_mib())
        print(f"{name:10} after a tenth {seen[0]:6.0f}, at the end {seen[-1]:6.0f}")


def runs(times: int, which: str = "") -> None:
    print(f"{times} runs of all cells of a workbook; resident MiB")
    for path in sorted(WORKBOOKS.glob(f"{which or '[0-9][0-9]_'}*.ipynb")):
        # A Python for each, so that one workbook's memory is not another's.
        subprocess.run([sys.executable, __file__, "one", str(times), path.stem], check=True)


def one(times: int, stem: str) -> None:
    """Run a workbook's cells, in a copy of the course, as a notebook's Python does."""
    from IPython.core.interactiveshell import InteractiveShell
    from ipywidgets.widgets.widget import _instances

    shell = InteractiveShell.instance()
    seen, live = [], []
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(WORKBOOKS, folder, dirs_exist_ok=True)
        os.chdir(folder)
        cells = json.loads(Path(f"{stem}.ipynb").read_text("utf-8"))["cells"]
        for n in range(times):
            for number, cell in enumerate(cells):
                if cell["cell_type"] == "code":
                    with contextlib.redirect_stdout(io.StringIO()):
                        source = "".join(cell["source"])
                        shell.run_cell(source, store_history=True, cell_id=str(number))
            gc.collect()
            if n in (times // 10, times - 1):
                seen.append(resident_mib())
                live.append(len(_instances))
        os.chdir("/")
    print(
        f"{stem:28} after a tenth {seen[0]:6.0f}, at the end {seen[-1]:6.0f}; "
        f"widgets {live[0]} and {live[-1]}",
        flush=True,
    )


if __name__ == "__main__":
    what, times, *which = sys.argv[1:]
    {"loads": loads, "runs": runs, "one": one}[what](int(times), *which)
