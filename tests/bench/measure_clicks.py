"""How soon a click changes the picture, beside a bare round trip.  Run by hand; nothing asserted.

    python tests/bench/measure_clicks.py

In one JupyterLab, in headless Chromium, thirty times each: a click on a code bit of the live
picture, which the browser answers by itself; and a click on a plain ipywidgets button whose
callback in the kernel sets the text of a label.  A time runs from the click to the animation
frame after the change, which is when the browser is about to paint it.
"""

import sys
from pathlib import Path
from statistics import median, quantiles

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_notebook

CLICKS = 30
PICTURE = """\
from mechlogic import load
from mechlogic.widgets import MachineView

MachineView(load("saltmere"))"""
ROUND_TRIP = """\
import ipywidgets

button, label = ipywidgets.Button(description="round trip"), ipywidgets.Label("0")
button.on_click(lambda _: setattr(label, "value", str(int(label.value) + 1)))
ipywidgets.VBox([button, label])"""
# Click, wait until the watched node is changed, then for the next frame.
MEASURE = """async ([clicks, press, watch]) => {
    const button = document.querySelector(press), node = document.querySelector(watch);
    const changed = () => new Promise(resolve => new MutationObserver((_, observer) => {
        observer.disconnect();
        resolve();
    }).observe(node, {
        attributes: true, attributeFilter: ['style'],
        childList: true, characterData: true, subtree: true,
    }));
    const times = [];
    for (let i = 0; i < clicks; i++) {
        await new Promise(resolve => setTimeout(resolve, 300));
        const change = changed();
        const start = performance.now();
        button.click();
        await change;
        await new Promise(requestAnimationFrame);
        times.push(performance.now() - start);
    }
    return times;
}"""
MEASURED = {
    "live picture, answered by the browser": (".mv-bit[data-bit='7']", "[data-part=bar7]"),
    "ipywidgets button and label, by the kernel": (".jupyter-button", ".widget-label"),
}


def test_nothing_but_measure(page, open_workbook, run_all, tmp_path, capsys):
    """Made as a test only to have a JupyterLab and a browser."""
    kernel = {"name": "python3", "display_name": "Python 3 (ipykernel)", "language": "python"}
    cells = [new_code_cell(source) for source in (PICTURE, ROUND_TRIP)]
    notebook = new_notebook(cells=cells, metadata={"kernelspec": kernel})
    nbformat.write(notebook, tmp_path / "clicks.ipynb")
    page.set_viewport_size({"width": 1366, "height": 1600})  # both in sight
    open_workbook(page, "clicks.ipynb", tmp_path)
    run_all(page)
    lines = [f"\n\n{f'{CLICKS} clicks each, times in ms':44}{'median':>10}{'95th percentile':>18}"]
    for title, (press, watch) in MEASURED.items():
        page.wait_for_selector(press)
        times = page.evaluate(MEASURE, [CLICKS, press, watch])
        lines.append(f"{title:44}{median(times):10.1f}{quantiles(times, n=20)[-1]:18.1f}")
    with capsys.disabled():
        print("\n".join(lines))


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1] / "browser"))
    import conftest

    sys.exit(pytest.main(["-q", "-n0", "--no-header", __file__], plugins=[conftest]))
