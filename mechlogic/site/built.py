"""What a page shows before its Python has started: its cells are run once, by the builder.

Run as a program, with the name of a workbook, in the folder of the workbooks; it writes JSON.
A fresh Python for each page, with a fixed seed for its hashes, so that the same workbook gives
the same bytes.
"""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

__all__ = ["built", "cells_of"]

OPTIONAL = ("sympy", "numpy", "scipy", "matplotlib")
"""What a page may need beyond that which every page has."""


WIDGET = "application/vnd.jupyter.widget-view+json"
"""How a widget is shown."""


def cells_of(workbook: str) -> list[dict[str, Any]]:
    """The cells of a workbook, from its text."""
    cells: list[dict[str, Any]] = json.loads(workbook)["cells"]
    return [{**cell, "source": "".join(cell["source"])} for cell in cells]


def built(sources: list[str], folder: Path) -> dict[str, Any]:
    """What code cells show: ``outputs`` by cell, ``state`` of the widgets, ``needs`` of packages.

    Args:
        sources: The cells.
        folder: Where they run.

    Raises:
        RuntimeError: If a cell does not come to its end.
    """
    done = subprocess.run(
        [sys.executable, "-m", "mechlogic.site.built"],
        input=json.dumps(sources),
        cwd=folder,
        env={**os.environ, "PYTHONHASHSEED": "0", "MPLBACKEND": "agg"},
        capture_output=True,
        text=True,
        encoding="utf-8",
    )
    if done.returncode:
        raise RuntimeError(done.stderr[-2000:])
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def _main() -> None:
    from mechlogic.site.page_kernel import Page

    sources = json.load(sys.stdin)
    outputs: list[list[dict[str, Any]]] = [[] for _ in sources]

    def send(message: str, _: list[bytes]) -> None:
        told = json.loads(message)
        if told["kind"] == "output":
            data = told["data"]
            if WIDGET in data:
                del data["text/plain"]  # it has an address of memory in it
            outputs[told["cell"]].append(data)

    page, out = Page(send), sys.stdout
    for number, source in enumerate(sources):
        if not page.run(number, source):
            raise SystemExit(f"cell {number}: {outputs[number]}\n{source}")
    import ipywidgets

    state = ipywidgets.Widget.get_manager_state()
    needs = [name for name in OPTIONAL if name in sys.modules]
    json.dump({"outputs": outputs, "state": state, "needs": needs}, out)


if __name__ == "__main__":
    _main()
