"""A reader's desk for tests: JupyterLab on copies of the workbooks, in a real browser.

A test asks for what it needs by name:

    def test_the_light_comes_on(page, open_workbook, run_all, console_errors, shot):
        folder = open_workbook(page, "00_start_here.ipynb")  # a fresh copy, in a kernel of its own
        run_all(page)                                        # raises if a cell does
        page.get_by_role("button", name="Light").click()
        shot(page, "light")                                  # a picture to look at afterwards
        assert console_errors(page) == []

Tests that need no JupyterLab take `page` alone. The browser is Debian's chromium, or Chromium or
Google Chrome as found on the PATH, or the program that MECHLOGIC_CHROMIUM names. Without one these
tests are skipped, except where CI is set: there a missing browser is a failure. Pictures go to the
folder that MECHLOGIC_SHOTS names, or to a temporary one, given at the end of the run.

The waits below have limits only so that a hang is reported; nothing here measures speed.
"""

import json
import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, expect, sync_playwright

WORKBOOKS = Path(__file__).parents[2] / "workbooks"
PATIENCE = 45  # seconds
expect.set_options(timeout=PATIENCE * 1000)

# Quiet (no updates, sync or telemetry), and content with a container's few privileges.
CHROMIUM_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

# The reader's own settings play no part, and JupyterLab fetches no news.
LAB_SETTINGS = {
    "apputils-extension/notification": {"checkForUpdates": False, "fetchNews": "false"},
}
LAB_OPTIONS = [
    "--no-browser",
    "--allow-root",
    "--ServerApp.ip=127.0.0.1",
    "--ServerApp.port_retries=0",
    "--IdentityProvider.token=",  # reached from this machine only, for as long as the tests run
    "--LabApp.news_url=None",
    "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
    "--LabApp.extension_manager=readonly",
    "--LabApp.expose_app_in_browser=True",  # so that we can ask it what its kernel is doing
]

SHOTS = pytest.StashKey[list[Path]]()
ERRORS: dict[Page, list[str]] = {}


@dataclass(frozen=True)
class Lab:
    """A running JupyterLab: where it is, and the folder it shows."""

    url: str
    folder: Path
    numbers: Iterator[int] = field(default_factory=lambda: count(1))

    def copy(self, source: Path) -> str:
        """Copy a folder of notebooks to a new folder, and name that."""
        name = f"copy{next(self.numbers)}"
        ignored = shutil.ignore_patterns(".ipynb_checkpoints", "__pycache__", "progress.jsonl")
        shutil.copytree(source, self.folder / name, ignore=ignored)
        return name


def in_ci() -> bool:
    return os.environ.get("CI", "").lower() not in ("", "0", "false")


def chromium() -> str | None:
    """Where the browser is, if there is one."""
    named = os.environ.get("MECHLOGIC_CHROMIUM")
    names = [named] if named else ["chromium", "chromium-browser", "google-chrome"]
    return next(filter(None, map(shutil.which, names)), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    executable = chromium()
    if executable is None:
        report = pytest.fail if in_ci() else pytest.skip
        report("no Chromium found: install it, or name its program in MECHLOGIC_CHROMIUM")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=executable, args=CHROMIUM_FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A fresh browser window that remembers every error it is told of."""
    # Without motion, so that what a click changes is changed at once.
    context = browser.new_context(viewport={"width": 1400, "height": 1000}, reduced_motion="reduce")
    context.set_default_timeout(PATIENCE * 1000)
    page = context.new_page()
    errors = ERRORS[page] = []

    def note(message: ConsoleMessage) -> None:
        if message.type == "error":
            errors.append(f"{message.text} ({message.location.get('url', '')})")

    page.on("console", note)
    page.on("pageerror", lambda error: errors.append(error.stack or error.message))
    yield page
    page.evaluate("globalThis.jupyterapp?.serviceManager.sessions.shutdownAll()")
    context.close()
    del ERRORS[page]


@pytest.fixture(scope="session")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    home, folder = tmp_path_factory.mktemp("home"), tmp_path_factory.mktemp("desk")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    log = home / "jupyterlab.log"
    command = [sys.executable, "-m", "jupyterlab", *LAB_OPTIONS]
    command += [f"--ServerApp.port={port}", f"--ServerApp.root_dir={folder}"]
    with log.open("wb") as output:
        server = subprocess.Popen(
            command, cwd=folder, env=_own_home(home), stdout=output, stderr=subprocess.STDOUT
        )
        try:
            _await_answer(f"http://127.0.0.1:{port}/api", server, log)
            yield Lab(f"http://127.0.0.1:{port}", folder)
        finally:
            server.terminate()
            try:
                server.wait(timeout=30)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()


def _own_home(home: Path) -> dict[str, str]:
    """An environment in which Jupyter finds no settings but those written here."""
    for name, settings in LAB_SETTINGS.items():
        path = home / "config/lab/user-settings/@jupyterlab" / f"{name}.jupyterlab-settings"
        path.parent.mkdir(parents=True)
        path.write_text(json.dumps(settings))
    foreign = ("JUPYTER", "IPYTHON", "MPLCONFIGDIR", "PYTHONSTARTUP")
    environment = {k: v for k, v in os.environ.items() if not k.startswith(foreign)}
    return environment | {
        "HOME": str(home),
        "USERPROFILE": str(home),  # HOME, in Windows
        "JUPYTER_CONFIG_DIR": str(home / "config"),
        "JUPYTER_DATA_DIR": str(home / "data"),
        "JUPYTER_RUNTIME_DIR": str(home / "runtime"),
    }


def _await_answer(url: str, server: subprocess.Popen[bytes], log: Path) -> None:
    # No proxy: the server is on this machine.
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    give_up = time.monotonic() + PATIENCE
    while server.poll() is None and time.monotonic() < give_up:
        try:
            opener.open(url, timeout=5).close()
        except (urllib.error.URLError, OSError):
            time.sleep(0.2)
        else:
            return
    pytest.fail(f"JupyterLab did not start; it said:\n{log.read_text(errors='replace')[-4000:]}")


# What we ask of the page. `panel` is the notebook in front, as JupyterLab's own code sees it.
READY = """path => {
    const panel = globalThis.jupyterapp?.shell.currentWidget;
    return panel?.context?.path === path && panel.context.isReady
        && panel.sessionContext.isReady && panel.sessionContext.session?.kernel?.status === 'idle';
}"""
RUN_ALL = """async () => {
    await jupyterapp.commands.execute('notebook:run-all-cells');
    const panel = jupyterapp.shell.currentWidget;
    const cells = Array.from(panel.context.model.cells, cell => cell.toJSON());
    return cells.filter(c => c.cell_type === 'code' && [c.source].flat().join('').trim());
}"""
IDLE = "() => jupyterapp.shell.currentWidget.sessionContext.session.kernel.status === 'idle'"


@pytest.fixture
def open_workbook(lab: Lab) -> Callable[..., Path]:
    """Give `open_workbook(page, name, source=WORKBOOKS)`.

    It opens a copy of one notebook, in a copy of its folder, waits for the kernel, and returns
    the copied folder.
    """

    def open_workbook(page: Page, name: str, source: Path = WORKBOOKS) -> Path:
        copy = lab.copy(source)
        # A workspace of its own: no tabs left over from another test.
        page.goto(f"{lab.url}/lab/workspaces/{copy}/tree/{copy}/{name}")
        page.wait_for_function(READY, arg=f"{copy}/{name}")
        return lab.folder / copy

    return open_workbook


@pytest.fixture
def run_all() -> Callable[[Page], None]:
    """Give `run_all(page)`: run every cell, wait for the kernel, raise what a cell raised."""

    def run_all(page: Page) -> None:
        cells = page.evaluate(RUN_ALL)
        assert cells, "the notebook has no code to run"
        failed = [
            f"{''.join(cell['source'])}\n{output['ename']}: {output['evalue']}"
            for cell in cells
            for output in cell["outputs"]
            if output["output_type"] == "error"
        ]
        assert failed == [], f"a cell raised an error:\n{failed[0]}"
        unrun = ["".join(cell["source"]) for cell in cells if cell["execution_count"] is None]
        assert unrun == [], f"a cell did not run:\n{unrun[0]}"
        page.wait_for_function(IDLE)

    return run_all


@pytest.fixture
def console_errors() -> Callable[[Page], list[str]]:
    """Give `console_errors(page)`: every error that the page has reported so far."""
    return lambda page: list(ERRORS[page])


@pytest.fixture
def shot(pytestconfig: pytest.Config) -> Callable[[Page, str], Path]:
    """Give `shot(page, name)`: keep a picture of the window for a person to look at."""
    return lambda page, name: _keep_picture(pytestconfig, page, name)


def _keep_picture(config: pytest.Config, page: Page, name: str) -> Path:
    shots = config.stash.setdefault(SHOTS, [])
    if shots:
        folder = shots[0].parent
    else:
        folder = Path(os.environ.get("MECHLOGIC_SHOTS") or tempfile.mkdtemp(prefix="mechlogic-"))
        folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{re.sub(r'[^A-Za-z0-9_-]+', '_', name)}.png"
    page.screenshot(path=path)
    shots.append(path)
    return path


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]):
    """Keep a picture of what a failed test was looking at."""
    report = yield
    page = getattr(item, "funcargs", {}).get("page")
    if report.when == "call" and report.failed and page in ERRORS:
        _keep_picture(item.config, page, f"failed_{item.name}")
    return report


def pytest_terminal_summary(terminalreporter, config: pytest.Config) -> None:
    if shots := config.stash.get(SHOTS, []):
        terminalreporter.write_line(f"{len(shots)} pictures are in {shots[0].parent}")
