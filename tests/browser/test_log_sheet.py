"""The log is written at a typist's speed, Python being slow or gone, and nothing typed is lost."""

import random

from playwright.sync_api import Page, expect


def run_code(page: Page, code: str) -> None:
    """Keep the kernel of the open workbook busy with some code, without waiting for it."""
    page.evaluate(
        """async (code) => {
            const sessions = globalThis.jupyterapp.serviceManager.sessions;
            const [running] = [...sessions.running()];
            const session = sessions.connectTo({ model: running });
            session.kernel.requestExecute({ code });
        }""",
        code,
    )


def pairs(n: int) -> list[tuple[str, str]]:
    rng = random.Random(1)
    return [(rng.choice("ABCDEFGHIJKLM"), rng.choice("NOPQRSTUVWXYZ")) for _ in range(n)]


def shown(page: Page) -> list[str]:
    return page.locator(".ls-line").evaluate_all(
        "all => all.map(e => e.getAttribute('aria-label'))"
    )


def told(some: list[tuple[str, str]]) -> list[str]:
    return [f"entry {n}: {a} sent, {b} printed" for n, (a, b) in enumerate(some, start=1)]


def test_sixty_pairs_typed_without_a_pause_while_python_is_busy(
    page: Page, open_workbook, run_all, console_errors, shot
):
    page.set_viewport_size({"width": 1366, "height": 768})
    folder = open_workbook(page, "03_bench.ipynb")
    run_all(page)
    written = pairs(60)
    page.get_by_placeholder("A, CR, 4/1").click()
    run_code(page, "import time; time.sleep(2)")
    for sent, printed in written:
        page.keyboard.type(sent, delay=40)
        page.keyboard.press("Tab", delay=40)
        page.keyboard.type(printed, delay=40)
        page.keyboard.press("Enter", delay=40)
    expect(page.get_by_placeholder("A, CR, 4/1")).to_be_focused()
    expect(page.locator(".ls-line")).to_have_count(60)
    expect(page.locator(".ls-coming")).to_have_count(0)
    assert shown(page) == told(written)
    expect(page.locator(".ml-summary")).to_contain_text("60 entries")
    shot(page, "log_sheet_sixty")
    assert list(folder.rglob("bench-saltmere.json"))

    # Emptied by accident, and taken back.
    page.get_by_role("button", name="Empty log").click()
    expect(page.locator(".ls-line")).to_have_count(0)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".ls-line")).to_have_count(60)
    assert console_errors(page) == []


def test_what_was_typed_is_there_after_python_was_killed_and_the_page_loaded_anew(
    page: Page, open_workbook, run_all, shot
):
    folder = open_workbook(page, "03_bench.ipynb")
    run_all(page)
    written = pairs(6)
    page.get_by_placeholder("A, CR, 4/1").click()
    for n, (sent, printed) in enumerate(written):
        if n == 3:
            run_code(page, "import os, signal; os.kill(os.getpid(), signal.SIGKILL)")
        page.keyboard.type(sent)
        page.keyboard.press("Tab")
        page.keyboard.type(printed)
        page.keyboard.press("Enter")
    page.wait_for_timeout(3000)
    page.reload()
    page.wait_for_function(
        "path => globalThis.jupyterapp?.shell.currentWidget?.context?.path === path"
        " && jupyterapp.shell.currentWidget.sessionContext.isReady"
        " && jupyterapp.shell.currentWidget.sessionContext.session.kernel.status === 'idle'",
        arg=f"{folder.name}/03_bench.ipynb",
    )
    try:
        run_all(page)
    except (
        AssertionError
    ):  # Python was not back yet: whoever sees cells that did not run presses again
        run_all(page)
    expect(page.locator(".ls-line")).to_have_count(6)
    assert shown(page) == told(written)


def test_a_slip_is_questioned_and_a_line_is_mended(page: Page, open_workbook, run_all, shot):
    open_workbook(page, "03_bench.ipynb")
    run_all(page)
    sent, printed = page.get_by_placeholder("A, CR, 4/1"), page.get_by_placeholder("A, nothing")
    sent.fill("THE")
    printed.fill("T½E")
    printed.press("Enter")
    expect(page.get_by_text("has no '½'")).to_be_visible()
    shot(page, "log_sheet_question")
    page.get_by_role("button", name="it cannot be read").click()
    expect(page.get_by_label("entry 2: H sent, unreadable printed")).to_be_visible()
    page.get_by_label("entry 3: E sent, E printed").click()
    page.get_by_label("Printed in this line").fill("U")
    page.get_by_label("Oil", exact=True).select_option("cold")
    page.get_by_role("button", name="Change").click()
    expect(page.get_by_label("entry 3: E sent, U printed, cold")).to_be_visible()
    with page.expect_download() as download:
        page.get_by_role("button", name="Save log").click()
    assert download.value.suggested_filename == "saltmere_log.csv"
    page.set_viewport_size({"width": 390, "height": 844})
    shot(page, "log_sheet_phone")
