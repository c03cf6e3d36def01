"""The desk itself, tried on small notebooks of its own, so that a workbook's failure is its own."""

from pathlib import Path

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook
from playwright.sync_api import expect

COUNTER = """\
import anywidget, traitlets

class Counter(anywidget.AnyWidget):
    _esm = '''
    export default { render({ model, el }) {
        const button = document.createElement("button");
        const show = () => { button.textContent = `strokes: ${model.get("strokes")}`; };
        button.addEventListener("click", () => {
            model.set("strokes", model.get("strokes") + 1);
            model.save_changes();
        });
        model.on("change:strokes", show);
        show();
        el.append(button);
    } };
    '''
    strokes = traitlets.Int(0).tag(sync=True)
"""
ANSWER = """\
import ipywidgets

answer = ipywidgets.HTML("nothing yet")
counter.observe(lambda change: setattr(answer, "value", f"Python saw {change.new}"), "strokes")
answer
"""


@pytest.fixture
def notebook(tmp_path: Path):
    """Write a notebook of the given cells; give its folder and its name."""

    def write(*sources: str) -> tuple[Path, str]:
        cells = [new_code_cell(source) for source in sources]
        cells.insert(1, new_markdown_cell("far below\n\n" * 60))  # the rest is out of sight
        kernel = {"name": "python3", "display_name": "Python 3 (ipykernel)", "language": "python"}
        made = new_notebook(cells=cells, metadata={"kernelspec": kernel})
        nbformat.write(made, tmp_path / "small.ipynb")
        return tmp_path, "small.ipynb"

    return write


def test_a_click_in_the_browser_reaches_python_and_the_answer_comes_back(
    page, open_workbook, run_all, console_errors, shot, notebook
):
    source, name = notebook(COUNTER, "counter = Counter()\ncounter", ANSWER)
    open_workbook(page, name, source)
    run_all(page)
    button = page.get_by_role("button", name="strokes:")
    expect(button).to_have_text("strokes: 0")
    button.click()
    button.click()
    expect(button).to_have_text("strokes: 2")
    expect(page.get_by_text("Python saw 2")).to_be_visible()
    assert shot(page, "harness").read_bytes().startswith(b"\x89PNG")
    assert console_errors(page) == []


def test_a_cell_that_raises_is_reported(page, open_workbook, run_all, notebook):
    source, name = notebook("1 + 1", "raise ValueError('the bail is bent')", "2 + 2")
    open_workbook(page, name, source)
    with pytest.raises(AssertionError, match="ValueError: the bail is bent"):
        run_all(page)


def test_an_error_in_the_browser_is_reported(
    page, open_workbook, run_all, console_errors, notebook
):
    broken = COUNTER.replace("show();\n        el", "throw Error('no such lever');\n        el")
    assert broken != COUNTER
    source, name = notebook(broken, "Counter()")
    open_workbook(page, name, source)
    run_all(page)
    expect(page.get_by_text("no such lever").first).to_be_visible()
    assert any("no such lever" in error for error in console_errors(page))


def test_a_test_sees_files_that_the_notebook_writes_and_spoils_no_original(
    page, open_workbook, run_all, notebook
):
    source, name = notebook("open('log.csv', 'w').write('sent,printed')")
    folder = open_workbook(page, name, source)
    run_all(page)
    assert (folder / "log.csv").read_text() == "sent,printed"
    assert [path.name for path in source.iterdir()] == [name]
    # In its next test the same notebook is as new.
    assert not (open_workbook(page, name, source) / "log.csv").exists()


def test_a_page_needs_no_jupyterlab(page, console_errors):
    page.set_content("<script>throw Error('loose end')</script><p>Port of Saltmere</p>")
    expect(page.get_by_text("Port of Saltmere")).to_be_visible()
    assert any("loose end" in error for error in console_errors(page))


def test_the_reader_s_own_jupyter_settings_play_no_part(page, open_workbook, run_all, notebook):
    source, name = notebook("import os, jupyter_core.paths as p\nprint(p.jupyter_config_dir())")
    folder = open_workbook(page, name, source)
    run_all(page)
    shown = page.locator(".jp-OutputArea-output").first.inner_text().strip()
    assert Path(shown).is_relative_to(folder.parents[1])
    assert not Path(shown).is_relative_to(Path.home())
