"""The bench as a whole: the suspect in the mechanism; a restarted Python is said on the page."""

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
    expect(bench.get_by_role("alert").filter(has_text="likeliest suspect")).to_be_visible()
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
