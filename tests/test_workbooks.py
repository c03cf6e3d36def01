"""Workbooks are committed clean, so that a change to one shows what its author changed.

That every cell runs, and prints what it is stored as printing, is checked by nbval: plain
`pytest` collects each cell of the numbered workbooks as a test (see pyproject.toml).
nbval compares a cell's outputs only if the cell has an execution count, so a cell with stored
outputs carries the count that a fresh run gives it, and every other cell carries none.
"""

from collections.abc import Iterator
from pathlib import Path

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output

WORKBOOKS = Path(__file__).parent.parent / "workbooks"
LONGEST_CELL = 12  # lines; more than that belongs in the library
KERNEL = {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"}
CELL_METADATA = {"tags", "jupyter"}  # anything else is a trace of somebody's session
FOLDED = {"source_hidden": True}  # for a cell that only starts a widget


def complaints(notebook: nbformat.NotebookNode) -> Iterator[str]:
    """Yield what is not clean about a notebook, in plain words."""
    ids = {cell.get("id") for cell in notebook.cells}
    if None in ids or len(ids) < len(notebook.cells):
        yield "each cell needs an id of its own: save it as notebook format 4.5"
        return
    try:
        nbformat.validate(notebook)
    except nbformat.ValidationError as error:
        yield f"not a valid notebook: {error.message}"
        return
    yield from _metadata_complaints(notebook.metadata)
    place = 0
    for number, cell in enumerate(notebook.cells, start=1):
        place += cell.cell_type == "code"
        for complaint in _cell_complaints(cell, place):
            yield f"cell {number}: {complaint}"


def _metadata_complaints(metadata: nbformat.NotebookNode) -> Iterator[str]:
    if extra := set(metadata) - {"kernelspec", "language_info"}:
        yield f"notebook metadata to remove: {sorted(extra)}"
    if metadata.get("kernelspec", KERNEL) != KERNEL:
        yield f"the kernel must be {KERNEL}"
    if "version" in metadata.get("language_info", {}):
        yield "language_info records one machine's Python version"


def _cell_complaints(cell: nbformat.NotebookNode, place: int) -> Iterator[str]:
    if extra := set(cell.metadata) - CELL_METADATA:
        yield f"cell metadata to remove: {sorted(extra)}"
    if cell.metadata.get("jupyter", FOLDED) != FOLDED:
        yield f"metadata 'jupyter' may only be {FOLDED}"
    if cell.cell_type != "code":
        return
    if (length := len(cell.source.splitlines())) > LONGEST_CELL:
        yield f"{length} lines of code, at most {LONGEST_CELL}"
    if cell.execution_count != (place if cell.outputs else None):
        wanted = f"{place}, its place among the code cells" if cell.outputs else "null"
        yield f"execution count {cell.execution_count}, should be {wanted}"
    for output in cell.outputs:
        if not _is_plain_text(output):
            yield f"stored {output.output_type} output that is not plain text"
        elif output.get("execution_count", place) != place:
            yield f"output's execution count {output.execution_count}, should be {place}"


def _is_plain_text(output: nbformat.NotebookNode) -> bool:
    if output.output_type == "stream":
        return output.name == "stdout"
    return output.output_type == "execute_result" and set(output.data) == {"text/plain"}


def as_it_stands(path: Path) -> nbformat.NotebookNode:
    """The notebook as it is stored: nbformat.read would mend some of what we look for."""
    return nbformat.v4.reads(path.read_text(encoding="utf-8"))


def test_every_workbook_is_clean():
    found = {
        path.name: list(complaints(as_it_stands(path)))
        for path in sorted(WORKBOOKS.glob("[0-9][0-9]_*.ipynb"))
    }
    assert {name: list_ for name, list_ in found.items() if list_} == {}


# The inspection itself, tried on one clean notebook and on the same notebook soiled.


def clean_notebook() -> nbformat.NotebookNode:
    printed = new_output("stream", name="stdout", text="4 heights\n")
    shown = new_output("execute_result", {"text/plain": "4"}, execution_count=3)
    return new_notebook(
        metadata={"kernelspec": dict(KERNEL), "language_info": {"name": "python"}},
        cells=[
            new_markdown_cell("# Four heights"),
            new_code_cell("widget", metadata={"jupyter": dict(FOLDED)}),
            new_code_cell("print('4 heights')", outputs=[printed], execution_count=2),
            new_code_cell("2 * 2", outputs=[shown], execution_count=3, metadata={"tags": ["a"]}),
        ],
    )


def test_a_clean_notebook_draws_no_complaint():
    assert list(complaints(clean_notebook())) == []


def soil_with_a_stray_count(notebook):
    notebook.cells[1].execution_count = 1


def soil_with_a_stale_count(notebook):
    notebook.cells[2].execution_count = 17


def soil_with_a_stale_result_count(notebook):
    notebook.cells[3].outputs[0].execution_count = 17


def soil_with_an_output_that_nobody_would_compare(notebook):
    notebook.cells[2].execution_count = None


def soil_with_a_picture(notebook):
    picture = new_output("display_data", {"image/png": "aGk=", "text/plain": "<Figure>"})
    notebook.cells[2].outputs = [picture]


def soil_with_a_warning(notebook):
    notebook.cells[2].outputs[0].name = "stderr"


def soil_with_an_error(notebook):
    notebook.cells[2].outputs = [new_output("error", ename="E", evalue="e", traceback=[])]


def soil_with_program_text(notebook):
    notebook.cells[1].source = "x = 1\n" * (LONGEST_CELL + 1)


def soil_with_timings(notebook):
    notebook.cells[1].metadata["execution"] = {"iopub.status.busy": "2026-01-01T00:00:00Z"}


def soil_with_folded_outputs(notebook):
    notebook.cells[1].metadata["jupyter"] = {"outputs_hidden": True}


def soil_with_a_python_version(notebook):
    notebook.metadata.language_info["version"] = "3.11.7"


def soil_with_a_private_kernel(notebook):
    notebook.metadata.kernelspec["name"] = "my-kernel"


def soil_with_widget_state(notebook):
    notebook.metadata["widgets"] = {"application/vnd.jupyter.widget-state+json": {}}


def soil_with_a_missing_id(notebook):
    del notebook.cells[1]["id"]


def soil_with_a_repeated_id(notebook):
    notebook.cells[1]["id"] = notebook.cells[2]["id"]


def soil_with_a_cell_of_no_kind(notebook):
    notebook.cells[0]["cell_type"] = "scribble"


def soil_with_an_old_format(notebook):
    notebook.nbformat_minor = 4
    for cell in notebook.cells:
        del cell["id"]


SOILED = [function for name, function in sorted(globals().items()) if name.startswith("soil_")]


@pytest.mark.parametrize("soil", SOILED, ids=lambda function: function.__name__)
def test_a_soiled_notebook_draws_a_complaint(soil):
    notebook = clean_notebook()
    soil(notebook)
    assert len(list(complaints(notebook))) >= 1
