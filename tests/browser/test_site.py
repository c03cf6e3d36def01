"""The site in a real browser: straight in, to the end of each workbook, and without a network.

The site is built and served from a sub-path; nothing else can be reached.  Building needs the npm
registry and PyPI; where they cannot be reached these tests are skipped, except where CI is set.
"""

import base64
import hashlib
import re
import threading
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer

import pytest
from playwright.sync_api import expect

from mechlogic.site.build import CACHE, SiteError, build

from .conftest import in_ci

PLACE = "/club/course/"
WORKBOOKS = ("00", "01", "03", "08")


class Handler(SimpleHTTPRequestHandler):
    """A static server with the site in a sub-folder, like Python's own otherwise."""

    def translate_path(self, path):
        if not path.startswith(PLACE):
            return "/nowhere"
        return super().translate_path("/" + path.removeprefix(PLACE))

    def log_message(self, *_):
        """Say nothing."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    target = tmp_path_factory.mktemp("public") / "site"
    try:
        return build(target, CACHE, only=(*WORKBOOKS, "wind"))
    except SiteError as error:
        if in_ci() or "could not be fetched" not in str(error):
            raise
        pytest.skip(str(error))


@pytest.fixture
def served(folder):
    """The address of the site, and a way to stop its server."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Handler, directory=str(folder)))
    threading.Thread(target=server.serve_forever, daemon=True).start()

    def stop():
        server.shutdown()
        server.server_close()

    yield f"http://127.0.0.1:{server.server_port}{PLACE}", stop
    stop()


@pytest.fixture
def visitor(page, served):
    """A page that keeps every address it asks for."""
    page.set_default_timeout(60_000)
    page.asked = []
    page.context.on("request", lambda request: page.asked.append(request.url))
    return page


def ready(page, address):
    page.goto(address)
    page.locator("body[data-ready]").wait_for()
    assert page.locator("#python").text_content() == ""


def elsewhere(page, address):
    home = (address.removesuffix(PLACE), "blob:", "data:")
    return [one for one in page.asked if not one.startswith(home)]


def test_every_workbook_runs_to_its_end_and_asks_for_nothing_elsewhere(
    visitor, served, folder, console_errors, shot
):
    address, _ = served
    for path in sorted(folder.glob("[0-9][0-9]_*.html")):
        visitor.goto(address + path.name)
        visitor.locator("body[data-built]").wait_for()  # pictures stand there before Python does
        n_built = visitor.locator("svg").count()
        if path.stem.startswith("00"):  # the reader does not wait, and loses nothing by that
            visitor.locator("#cell-0 [data-bit='2']").click()
            expect(visitor.locator("#cell-0 .cell.facing")).to_have_attribute("data-glyph", "S")
        visitor.locator("body[data-ready]").wait_for()
        if path.stem.startswith("00"):
            expect(visitor.locator("#cell-0 .cell.facing")).to_have_attribute("data-glyph", "S")
            visitor.evaluate("scroll(0, 0)")
        assert visitor.evaluate("scrollY") == 0, "the page stands at its top"
        assert visitor.locator("svg").count() >= n_built
        failed = visitor.locator(".shown .note").all_text_contents()
        wanted = visitor.locator("main > .note").all_text_contents()
        assert [
            text for text in failed if not re.search("was built without|builds on one above", text)
        ] == []
        assert bool(wanted) or not failed, "what is missing is said at the head of the page"
        shot(visitor, f"site_{path.stem}")
    assert console_errors(visitor) == []
    assert elsewhere(visitor, address) == []
    assert len(visitor.asked) > 50


def bring(browser, file, address):
    """Load saved work in another browser; how many questions of the first workbook it knows."""
    context = browser.new_context()
    page = context.new_page()
    page.on("dialog", lambda dialog: dialog.accept())
    ready(page, address + "00_start_here.html")
    with page.expect_navigation():
        page.get_by_label("Load saved work").set_input_files(
            {"name": "work.zip", "mimeType": "application/zip", "buffer": file.read_bytes()}
        )
    page.locator("body[data-ready]").wait_for()
    row = page.locator("#cell-5 tr", has_text="Start here").text_content()
    context.close()
    return int(re.search(r"(\d+) of", row)[1])


def test_the_planted_fault_is_found_on_the_bench_and_all_is_there_again_without_a_network(
    visitor, browser, served, console_errors, shot
):
    address, stop = served
    ready(visitor, address + "bench.html")
    visitor.get_by_role("combobox", name="Log").select_option("cold morning")
    first = visitor.locator(".ml-suspected details").first
    expect(first).to_contain_text("middle stop lever")
    expect(first).to_contain_text("slow to return")
    expect(visitor.locator("#python")).to_be_empty()  # nothing is missing
    shot(visitor, "site_bench")

    ready(visitor, address + "00_start_here.html")
    question = visitor.locator("#cell-1")
    question.get_by_label("E", exact=True).check()
    question.get_by_role("button", name="Check").click()
    expect(question).to_contain_text("Bar 1 pushes the middle and the right stop lever")
    with visitor.expect_download() as download:
        visitor.get_by_role("button", name="Save my work to a file").click()
    assert bring(browser, download.value.path(), address) == 1
    visitor.evaluate("navigator.serviceWorker.ready.then(() => null)")

    stop()
    ready(visitor, address + "00_start_here.html")
    expect(visitor.locator("#cell-5")).to_contain_text(re.compile(r"1 of \d"))
    ready(visitor, address + "bench.html")  # the log is on the bench again, and what follows
    expect(visitor.locator(".ml-suspected details").first).to_contain_text("middle stop lever")
    assert console_errors(visitor) == []
    assert elsewhere(visitor, address) == []


def test_a_phone_is_wide_enough(browser, served, tmp_path):
    address, _ = served
    context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True)
    page = context.new_page()
    for name in ("index.html", "bench.html", "00_start_here.html"):
        page.goto(address + name)
        if name != "index.html":
            page.locator("body[data-built]").wait_for()
        assert page.evaluate("document.documentElement.scrollWidth") <= 360, name
    context.close()


def test_one_thumb_writes_a_log_on_a_phone_and_sees_the_suspect_in_its_picture(
    browser, served, shot
):
    """Two keys are an entry, keys stay in reach, and nothing is wider than the screen."""
    address, _ = served
    for width, height in ((360, 640), (430, 932)):
        context = browser.new_context(
            viewport={"width": width, "height": height}, has_touch=True, is_mobile=True
        )
        page = context.new_page()
        page.set_default_timeout(60_000)
        ready(page, address + "bench.html")
        keys = page.get_by_role("group", name="Keys for sent, then printed")

        def tap(name, keys=keys):
            keys.get_by_role("button", name=name, exact=True).tap()

        page.get_by_role("combobox", name="Log").select_option("cold morning")
        expect(page.locator(".ml-where .part.faulty").first).to_be_attached()
        lines = page.locator(".ls-line")
        n = lines.count()
        for name in ("A", "B", "A", "It printed what was sent", "E", "nothing"):
            tap(name)
        told = [f"entry {n + 1}: A sent, B", f"entry {n + 2}: A sent, A", f"entry {n + 3}: E sent"]
        for number, says in enumerate(told, start=n):
            expect(lines.nth(number)).to_have_attribute("aria-label", re.compile(says))
        tap("T")
        tap("Clear, or undo the last entry")  # what is begun, and then the entry before it
        expect(lines).to_have_count(n + 3)
        tap("Clear, or undo the last entry")
        expect(lines).to_have_count(n + 2)
        expect(page.locator(".ls-coming")).to_have_count(0)
        tap("Keys 0 …")
        tap("7")
        expect(page.get_by_role("textbox", name="Sent")).to_have_value("7")
        page.locator(".ml-suspected").scroll_into_view_if_needed()
        box = keys.bounding_box()
        assert box["y"] + box["height"] <= height, "the keys stay in reach"
        assert all(
            button.bounding_box()["height"] >= 44
            for button in keys.get_by_role("button").all()
            if button.is_visible()
        )
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        shot(page, f"site_phone_{width}")
        tap("hide keys")
        expect(keys.get_by_role("button", name="7", exact=True)).to_be_hidden()
        context.close()


def test_an_update_that_is_half_copied_is_not_taken(visitor, served, folder):
    """While a new version is being copied, the old one is read on: whole."""
    address, _ = served
    ready(visitor, address + "00_start_here.html")
    visitor.evaluate("navigator.serviceWorker.ready.then(() => null)")
    worker, style = folder / "offline.js", (folder / "site.css").read_bytes()
    old = worker.read_bytes()
    coming = re.sub(rb'"site.css": "sha256-....', b'"site.css": "sha256-AAAA', old)  # not there yet
    try:
        worker.write_bytes(coming.replace(b'"version": "', b'"version": "2'))
        state = visitor.evaluate("""async () => {
          const registration = await navigator.serviceWorker.getRegistration();
          await registration.update();
          const coming = registration.installing;
          if (!coming) return "none came";
          return new Promise((done) => {
            coming.onstatechange = () => done(coming.state);
          });
        }""")
        assert state == "redundant"
        visitor.reload()
        got = visitor.evaluate("fetch('site.css').then((answer) => answer.text())")
        assert got.encode() == style
    finally:
        worker.write_bytes(old)


def test_twenty_visitors_at_once_get_every_file_whole(served, folder):
    address, _ = served
    listed = re.findall(r'"([\w./-]+)": "sha256-([^"]+)"', (folder / "offline.js").read_text())

    def visit(_):
        for name, sha in listed:
            with urllib.request.urlopen(address + name) as answer:
                found = base64.b64encode(hashlib.sha256(answer.read()).digest()).decode()
            assert found == sha, name
        return len(listed)

    with ThreadPoolExecutor(20) as visitors:
        counts = list(visitors.map(visit, range(20)))
    assert counts == [len(listed)] * 20
    assert len(listed) > 25
