"""How soon the site answers, and what it fetches for that.  Run by hand; nothing is asserted.

    python -m mechlogic site /tmp/site
    python tests/bench/measure_site.py /tmp/site

Headless Chromium opens the bench from a server on this computer: cold, with nothing kept, and
warm, once the service worker has all of it.  A time runs from the moment the address is given to
the frame that shows it; bytes are those of the answers' bodies until then.  Then the bench on a
phone of 390 px with a log of sixty, seven of them misprints: from a key that is pressed until the
next box is marked, and until the new ranking is drawn; the processor as it is, and slowed
four times by the browser.  That
slows the page only; Python has a thread of its own, which the browser cannot slow, so what Python
takes of a ranking is four times as long on so slow a phone.

Aims: prose 2 s, picture 3 s, kernel 12 s cold and 5 s warm, first diagnosis 1 s after that; under
15 MB to the bench, folder under 45 MB; key to mark 40 ms, new ranking 0.5 s.
"""

import sys
import threading
import time
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parents[2]))
from playwright.sync_api import Browser, Page, sync_playwright

from tests.browser.conftest import CHROMIUM_FLAGS, chromium

STEPS = {
    "prose": "h1",
    "picture without Python": "body[data-built] svg",
    "kernel": "body[data-ready]",
}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
TIMES = 10

# From a key to the frame in which a condition first holds.
TIMED = """([press, holds]) => new Promise((done) => {
    const keys = [...document.querySelectorAll(".ls-pad button")];
    const key = keys.find((one) => one.textContent === press);
    const was = document.querySelector(".ml-summary")?.textContent;
    const start = performance.now();
    const look = () => {
        const marked = document.querySelector(".ls-entry input").value !== "";
        const ranked = document.querySelector(".ml-summary").textContent !== was;
        if (holds === "marked" ? marked : ranked) {
            requestAnimationFrame(() => setTimeout(() => done(performance.now() - start)));
        } else requestAnimationFrame(look);
    };
    key.click();
    look();
})"""


class Server(SimpleHTTPRequestHandler):
    """Python's own server, counting what it sends."""

    sent = 0

    def copyfile(self, source, outputfile):
        data = source.read()
        Server.sent += len(data)
        outputfile.write(data)

    def log_message(self, *_):
        """Say nothing."""


def opened(page: Page, address: str, way: str) -> None:
    """Open the bench, and say when each thing was there and after how many bytes."""
    Server.sent, start = 0, time.perf_counter()

    def say(what: str) -> None:
        print(f"{way:6}{what:26}{time.perf_counter() - start:6.2f} s{Server.sent / 1e6:8.2f} MB")

    page.goto(address, wait_until="commit")
    for what, selector in STEPS.items():
        page.locator(selector).first.wait_for(state="attached")
        say(what)
    page.get_by_role("combobox", name="Log").select_option("cold morning")
    page.locator(".ml-suspected .ml-suspects").first.wait_for()
    say("first diagnosis")


def on_a_phone(browser: Browser, address: str) -> None:
    """A log of sixty, key by key, at the processor's own speed and slowed."""
    page = browser.new_context(**PHONE).new_page()
    page.set_default_timeout(120_000)
    page.goto(address)
    page.locator("body[data-ready]").wait_for()
    page.get_by_role("combobox", name="Log").select_option("cold morning")
    page.locator(".ml-summary", has_text="misprints").wait_for()
    entries = page.locator(".ls-line").count()
    page.get_by_text("Paste many lines").click()
    page.get_by_label("Lines to add").fill("E\tE\n" * (60 - entries))
    page.get_by_role("button", name="Add these lines").click()
    page.locator(".ml-summary", has_text="60 entries").wait_for()
    devtools = page.context.new_cdp_session(page)
    for slowed in (1, 4):
        devtools.send("Emulation.setCPUThrottlingRate", {"rate": slowed})
        keys, rankings = [], []
        for _ in range(TIMES):
            keys.append(page.evaluate(TIMED, ["E", "marked"]))
            rankings.append(page.evaluate(TIMED, ["✓ right", "ranked"]))
        for what, found in (("key to mark", keys), ("new ranking", rankings)):
            print(f"phone, slowed {slowed} times: {what:12}{median(found):7.0f} ms median")
            print(f"{'':36}{max(found):7.0f} ms longest")
    page.context.close()


def main() -> None:
    """Measure the site in a folder."""
    folder = Path(sys.argv[1])
    size = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
    print(f"folder {size / 1e6:.1f} MB")
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Server, directory=str(folder)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    address = f"http://127.0.0.1:{server.server_port}/bench.html"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=CHROMIUM_FLAGS)
        context = browser.new_context()
        page = context.new_page()
        page.set_default_timeout(120_000)
        opened(page, address, "cold")
        page.evaluate("navigator.serviceWorker.ready.then(() => null)")
        page.close()
        page = context.new_page()
        opened(page, address, "warm")
        context.close()
        on_a_phone(browser, address)
        browser.close()
    server.shutdown()


if __name__ == "__main__":
    main()
