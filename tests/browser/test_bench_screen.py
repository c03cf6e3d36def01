"""The bench as a whole: the suspect in the mechanism; a restarted Python is said on the page."""

import re

import pytest
from playwright.sync_api import Page, expect


def test_the_suspect_is_shown_and_a_restarted_python_is_said(
    page: Page, open_workbook, run_all, shot
):
    page.set_viewport_size({"width": 1366, "height": 768})
    open_workbook(page, "03_bench.ipynb")
    run_all(page)
    bench = page.locator(".ml-bench")
    bench.get_by_label("Log", exact=True).select_option("cold morning")
    bench.get_by_role("tab", name="Mechanism").click()
    expect(bench.locator(".mv-stage svg").first).to_be_visible()
    assert bench.locator(".mv-stage svg").first.bounding_box()["width"] > 200
    expect(bench.get_by_role("status").filter(has_text="Shown with this")).to_be_visible()
    bench.evaluate("node => node.scrollIntoView()")
    shot(page, "bench_mechanism")
    page.set_viewport_size({"width": 1366, "height": 768})
    bench.get_by_role("tab", name="Record").click()
    bench.evaluate("node => node.scrollIntoView()")
    shot(page, "bench_record")
    page.evaluate(
        "() => jupyterapp.shell.currentWidget.sessionContext.session.kernel.restart()",
    )
    said = "node => getComputedStyle(node, '::before').content"
    page.wait_for_function(
        "() => getComputedStyle(document.querySelector('.ml-bench'), '::before')"
        ".content.includes('Python was restarted')"
    )
    assert "log is safe" in bench.evaluate(said)
    shot(page, "bench_restarted")


PLAYED = """() => {
    const name = document.querySelector('.ml-bench .mv-part-name');
    globalThis.seen = [];
    new MutationObserver(() => globalThis.seen.push(name.textContent))
        .observe(name, { childList: true, characterData: true, subtree: true });
}"""


@pytest.mark.parametrize("size", [(1366, 768), (390, 844)], ids=["wide", "phone"])
def test_a_suspect_is_explained_entry_by_entry_in_motion(
    page: Page, open_workbook, run_all, console_errors, shot, size
):
    page.emulate_media(reduced_motion="no-preference")
    page.set_viewport_size({"width": size[0], "height": size[1]})
    open_workbook(page, "03_bench.ipynb")
    page.evaluate("jupyterapp.shell.collapseLeft()")
    run_all(page)
    bench = page.locator(".ml-bench")
    bench.get_by_label("Log", exact=True).select_option("cold morning")
    show = bench.locator(".ml-suspects > li").first.get_by_role("button", name="Show in")
    show.click()
    said = bench.locator(".ml-shown")
    expect(said).to_contain_text("Misprint 1 of 7.")
    further = bench.get_by_role("button", name="Next misprint")
    expect(further).to_be_focused()
    paper = bench.locator(".mv-print .mv-said")
    expect(paper).to_have_count(2)  # the entry before has been played
    expect(bench.locator(".mv-part-name")).to_have_text("5 Return")
    page.evaluate(PLAYED)
    for number in (2, 3):
        page.keyboard.press("Enter")
        expect(said).to_contain_text(f"Misprint {number} of 7. Entry")
        told = r"Entry \d+: when (\S+) comes after (\S+), .* and (\S+) is printed"
        entry, before, wrong = re.search(told, said.text_content()).groups()
        expect(paper).to_have_count(2)
        expect(paper.first).to_contain_text(f"sent {before}, printed")
        expect(paper.last).to_contain_text(f"sent {entry}, printed {wrong}; misprint")
        expect(bench.locator(".mv-part-name")).to_have_text("5 Return")
        shot(page, f"bench_motion_{size[0]}_{number}")
    phases = page.evaluate("() => globalThis.seen")
    assert [name for name in phases if name in ("1 Set", "5 Return")] == ["1 Set", "5 Return"] * 4
    expect(further).to_be_in_viewport(ratio=1)
    expect(bench.locator(".mv-picture svg")).to_be_in_viewport(ratio=0.5)
    assert console_errors(page) == []
