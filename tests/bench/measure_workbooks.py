"""How soon each workbook is ready, and what it needs.  Run it by hand; nothing is asserted.

    python tests/bench/measure_workbooks.py

Each workbook is opened in JupyterLab with a fresh kernel, in headless Chromium, and all of it is
run.  Times are in seconds, from "Run All Cells": until the first picture, or the first box to work
with, is on the page (goal: 5), and until the last cell has run (goal: 30).  Then the kernel's
memory, in MiB: what it holds (goal: 300), and the most it has held.  Computing time of the kernel
says what it would take on a computer that does nothing else.
"""

import os
import sys
from ast import literal_eval
from pathlib import Path

import pytest

WORKBOOKS = sorted(Path(__file__).parents[2].glob("workbooks/[0-9][0-9]_*.ipynb"))
# A drawing, an image or a box of controls, at least as large as a stamp.
RUN = """async () => {
    const panel = jupyterapp.shell.currentWidget;
    const start = performance.now(), found = { picture: null };
    const look = () => {
        const seen = panel.node.querySelectorAll(
            '.jp-OutputArea-output :is(svg, img, canvas, .widget-vbox)');
        const sizes = Array.from(seen, node => node.getBoundingClientRect());
        if (sizes.some(({ width, height }) => width > 100 && height > 100)) {
            observer.disconnect();
            requestAnimationFrame(() => setTimeout(() => {
                found.picture = (performance.now() - start) / 1000;
            }));
        }
    };
    const observer = new MutationObserver(look);
    observer.observe(panel.node, { childList: true, subtree: true });
    await jupyterapp.commands.execute('notebook:run-all-cells');
    found.all = (performance.now() - start) / 1000;
    await new Promise(resolve => setTimeout(resolve, 1000));
    observer.disconnect();
    return found;
}"""
KERNEL = """async () => {
    const kernel = jupyterapp.shell.currentWidget.sessionContext.session.kernel;
    const code = "__import__('time').process_time(), open('/proc/self/status').read()";
    const asked = kernel.requestExecute({ code: '', user_expressions: { answer: code } });
    return (await asked.done).content.user_expressions.answer.data['text/plain'];
}"""


def mebibytes(status, name):
    """A line of /proc/self/status (Linux), which is in KiB."""
    return int(status.split(f"{name}:")[1].split()[0]) / 1024


def test_nothing_but_measure(page, open_workbook, capsys):
    """Made as a test only to have a JupyterLab and a browser."""
    page.set_viewport_size({"width": 1366, "height": 768})
    lines = [
        f"\n\n{'workbook':34}{'picture':>9}{'all':>7}{'CPU':>7}{'memory':>9}{'most':>7}{'load':>7}"
    ]
    for path in WORKBOOKS:
        open_workbook(page, path.name)
        found = page.evaluate(RUN)
        cpu, status = literal_eval(page.evaluate(KERNEL))
        picture = "none" if found["picture"] is None else f"{found['picture']:.1f}"
        now, most = mebibytes(status, "VmRSS"), mebibytes(status, "VmHWM")
        lines.append(
            f"{path.stem:34}{picture:>9}{found['all']:7.1f}{cpu:7.1f}{now:9.0f}{most:7.0f}"
            f"{os.getloadavg()[0]:7.1f}"
        )
        page.evaluate("jupyterapp.serviceManager.sessions.shutdownAll()")
    with capsys.disabled():
        print("\n".join(lines))


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1] / "browser"))
    import conftest

    sys.exit(pytest.main(["-q", "-n0", "--no-header", __file__], plugins=[conftest]))
