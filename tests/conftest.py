"""Settings for every test: repeatable, without a display, the slow ones last."""

import os
import sys
from pathlib import Path

import pytest
from hypothesis import settings

BROWSER = Path(__file__).parent / "browser"

os.environ["MPLBACKEND"] = "Agg"  # no windows; the workbooks' kernels inherit it
# As pyproject.toml's filterwarnings here. Not PYTHONWARNINGS: a kernel warns while it starts.
os.environ["PYTHONSTARTUP"] = str(Path(__file__).with_name("kernel_startup.py"))

# How long an example takes says nothing about whether it is right.
settings.register_profile("mechlogic", deadline=None)
# For a night's search: python -m pytest --hypothesis-profile=long
settings.register_profile("long", deadline=None, max_examples=10_000)
settings.load_profile("mechlogic")

# Notebooks that tests keep for themselves are not workbooks.
collect_ignore_glob = ["*.ipynb"]


PRINTER = """\
#!{python}
import sys
from pathlib import Path
from urllib.request import url2pathname
made = next(word for word in sys.argv if word.startswith("--print-to-pdf="))
page = Path(url2pathname(sys.argv[-1].removeprefix("file://")))
Path(made.partition("=")[2]).write_bytes(b"%PDF of " + page.read_bytes())
"""


@pytest.fixture
def a_browser(tmp_path_factory, monkeypatch) -> None:
    """A program that is asked as a browser is, and puts the page itself into the PDF."""
    program = tmp_path_factory.mktemp("browser") / "prints"
    program.write_text(PRINTER.format(python=sys.executable), "utf-8")
    program.chmod(0o755)
    monkeypatch.setenv("MECHLOGIC_CHROMIUM", str(program))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    # Browser tests go last: quick failures show first, and Playwright keeps an event loop
    # running in this thread, which would get in the way of the workbooks' kernels.  Of them the
    # longest two go first, so that no worker is left with a long file when the other has done.
    longest = {"test_site.py": 0, "test_workbooks.py": 1}
    items.sort(
        key=lambda item: (BROWSER in item.path.parents, longest.get(item.path.name, len(longest)))
    )
