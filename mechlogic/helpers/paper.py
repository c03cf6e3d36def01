"""Pages to look at and to print: HTML that stands alone, and PDF by a browser's own print."""

import os
import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

from mechlogic.helpers import safe_file
from mechlogic.helpers.refusal import Refusal
from mechlogic.helpers.templates import FOLDER, render

SIZES = ("A4", "Letter")
"""Papers that a page can be made for."""

STYLE = (FOLDER / "paper.css").read_text(encoding="utf-8")
"""The style sheet of all that is printed; it touches nothing else on a page."""

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")
"""Programs that print a page to PDF by themselves; MECHLOGIC_CHROMIUM names another."""

MOST_SECONDS = 120
"""A browser that takes longer to print is stopped."""


@dataclass(frozen=True)
class Page:
    """A page that a notebook shows as it is, and that is saved as HTML or as PDF.

    Attributes:
        title: What the page is called.
        body: What stands on it: HTML from a template, which has escaped every text in it.
        size: The paper, one of :data:`SIZES`; empty if the page fits any.
    """

    title: str
    body: str
    size: str = ""

    @property
    def html(self) -> str:
        """The page as HTML that is complete in itself: no scripts, nothing fetched."""
        return render("paper.html", page=self, style=STYLE)

    def _repr_html_(self) -> str:
        return render("paper_here.html", page=self, style=STYLE)

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write the page to a file, whole or not at all: HTML, or PDF if its name ends so.

        Raises:
            ValueError: If the name ends otherwise.
            Refusal: If a PDF is asked for and no browser prints it.
            OSError: If it cannot be written; what was there is then as it was.
        """
        kind = Path(path).suffix.lower()
        if kind not in (".html", ".pdf"):
            raise ValueError(f"a page is .html or .pdf, not {kind!r}. Change the file's name")
        safe_file.write_whole(path, self.html.encode() if kind == ".html" else pdf(self.html))


def pdf(html: str) -> bytes:
    """A page of HTML as PDF, as a browser prints it.

    Raises:
        Refusal: If there is no such browser, or it fails.
    """
    mend = "Save the page as .html, open that in any browser and print it there"
    named = os.environ.get("MECHLOGIC_CHROMIUM")
    program = next(filter(None, map(shutil.which, [named] if named else BROWSERS)), None)
    if program is None:
        raise Refusal("no browser was found that makes a PDF by itself", mend)
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        source, made = Path(folder, "page.html"), Path(folder, "page.pdf")
        source.write_text(html, encoding="utf-8")
        options = ["--headless", "--disable-gpu", "--no-pdf-header-footer", "--no-first-run"]
        options += [f"--user-data-dir={folder}/profile", f"--print-to-pdf={made}"]
        if getattr(os, "geteuid", lambda: 1)() == 0:  # the administrator's browser has no sandbox
            options.append("--no-sandbox")
        try:
            subprocess.run(
                [program, *options, source.as_uri()],
                capture_output=True,
                timeout=MOST_SECONDS,
                check=True,
            )
            return made.read_bytes()
        except (OSError, subprocess.SubprocessError) as error:
            raise Refusal(f"{program} did not print the page", mend) from error
