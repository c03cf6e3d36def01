"""No title or button is cut and no word is broken, on a laptop and on a phone."""

import pytest
from playwright.sync_api import Page, expect

# What the reader sees of the screens at this moment: what stands out of its box, and broken words.
# What is hidden, drawn, or in a list that is made to be moved sideways is left out.
AMISS = r"""() => {
    const left = (e) => !e.checkVisibility()
        || e.closest('svg, .mv-said, legend, .mv-strip, option');
    const named = ':is(button, label, h3, h4, summary, select, input, th, td, p, .lm-TabBar-tab)';
    const found = [];
    for (const e of document.querySelectorAll(`.jp-OutputArea-output ${named}`)) {
        if (left(e) || !e.offsetWidth) continue;
        const words = (e.textContent || e.placeholder || '').slice(0, 30);
        const says = `${e.tagName} ${e.className} ${words}`;
        if (!e.matches('input, select') && e.scrollWidth > e.clientWidth + 1
            && getComputedStyle(e).display !== 'inline') found.push(`inside: ${says}`);
        const { right } = e.getBoundingClientRect();
        for (let box = e.parentElement; box; box = box.parentElement) {
            if (getComputedStyle(box).overflowX !== 'visible'
                && right > box.getBoundingClientRect().right + 1) found.push(`outside: ${says}`);
        }
    }
    for (const root of document.querySelectorAll('.jp-OutputArea-output')) {
        const texts = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
        for (let text = texts.nextNode(); text; text = texts.nextNode()) {
            if (left(text.parentElement) || text.parentElement.closest('style')) continue;
            for (const word of text.data.matchAll(/\p{L}{3,}/gu)) {
                const range = document.createRange();
                range.setStart(text, word.index);
                range.setEnd(text, word.index + word[0].length);
                const tops = new Set([...range.getClientRects()].map((r) => Math.round(r.top)));
                if (tops.size > 1) found.push(`broken: ${word[0]} in ${text.data.slice(0, 30)}`);
            }
        }
    }
    return found;
}"""
PAPER = "document.querySelector('.jp-WindowedPanel-outer')"


@pytest.mark.parametrize("size", [(1366, 768), (390, 844)], ids=["laptop", "phone"])
def test_no_title_or_button_is_cut_and_no_word_is_broken(
    page: Page, open_workbook, run_all, shot, size
):
    page.set_viewport_size({"width": size[0], "height": size[1]})
    open_workbook(page, "03_bench.ipynb")
    page.evaluate("jupyterapp.shell.collapseLeft()")
    run_all(page)
    amiss = set()
    page.evaluate(f"{PAPER}.scrollTop = 0")
    bench = page.locator(".ml-bench")
    bench.get_by_label("Log", exact=True).select_option("cold morning")
    expect(bench.locator(".ml-suspects > li")).to_have_count(5)
    for tab in bench.get_by_role("tab").all():
        tab.click()
        amiss.update(page.evaluate(AMISS))
        shot(page, f"cut_{size[0]}_{tab.text_content()}")
    top, end = 0, 1
    while top < end:  # what is not on the screen is not in the page
        page.evaluate(f"{PAPER}.scrollTop = {top}")
        page.wait_for_timeout(200)
        amiss.update(page.evaluate(AMISS))
        end, high = page.evaluate(f"[{PAPER}.scrollHeight, {PAPER}.clientHeight]")
        top += high - 20
    assert sorted(amiss) == []
