"""The record box: what was tried, found and done goes in, a file and a report come out."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any, Protocol

import ipywidgets as w

from mechlogic.acceptance.testcards import smallest_sequence
from mechlogic.acceptance.trial import judged, text_of
from mechlogic.bench import pages, report
from mechlogic.bench.diagnosis import Diagnosis
from mechlogic.bench.log_editor import LogEditor
from mechlogic.bench.record import (
    MAX_MINUTES,
    CheckMade,
    Finding,
    Note,
    Record,
    actions,
    suspicions,
)
from mechlogic.bench.record_file import (
    RecordBook,
    RecordConflict,
    RecordError,
    file_name,
    histories,
)
from mechlogic.bench.store import Which
from mechlogic.bench.story import fault_label
from mechlogic.explaining.words import parts_in_order
from mechlogic.helpers.paper import STYLE
from mechlogic.model.faults import faults_of
from mechlogic.model.logbook import Logbook
from mechlogic.model.machine import Machine
from mechlogic.widgets.acceptance_box import AcceptanceBox
from mechlogic.widgets.buttons import WorkButton
from mechlogic.widgets.screen import Screen, button, page, refused, row, said, styled
from mechlogic.widgets.turns import in_turn

WIDE = {"width": "auto"}  # not one Layout for all: hiding one would hide every one
LINE = {"width": "auto", "max_width": "46em"}
NARROW = {"width": "230px"}

NEW = "a new entry"
"""What is written down corrects nothing."""


class Bench(Protocol):
    """What the box needs of a bench, such as a LogBench: its log and what that says."""

    acceptance: AcceptanceBox
    diagnosis: Diagnosis

    @property
    def logbook(self) -> Logbook:
        """The log on the bench."""
        ...

    def go_on(self, log: LogEditor) -> None:
        """Add the lines of another log to the log."""
        ...


class RecordBox(Screen):
    """The record of a repair: every entry is saved at once, to a file of your own.

    Args:
        machine: The machine that is being repaired.
        folder: Where the records are kept; it is made if there is none.
        bench: Where the log is copied from, for example a LogBench.
        today: Says which day it is, as a first guess; the day can be changed in the box.
        which: Serial number and owner: each machine of a kind has its own records.

    Attributes:
        book: The open record and its file, or None.
    """

    def __init__(
        self,
        machine: Machine,
        folder: str | Path = "records",
        bench: Bench | None = None,
        today: Callable[[], date] = date.today,
        which: Which | None = None,
    ) -> None:
        self.machine, self.folder, self.bench = machine, Path(folder), bench
        self.which = which or Which(machine.name)
        self.book: RecordBook | None = None
        self._seen: list[Path] | None = None  # the files among which was looked
        self._instead: dict[str, w.Dropdown] = {}  # what an item corrects, by its field in a record
        self._said, self._page = page(), page()
        self._today, self._guess = today, today()
        self._day = w.DatePicker(value=self._guess, description="Day", layout=NARROW)
        self._entries = w.VBox(
            [self._day, self._tabs(), self._exports(), self._page],
            layout=w.Layout(**WIDE),  # its own: it is hidden while no record is open
        )
        style = styled(pages.STYLE, STYLE)
        super().__init__([style, self._shelf(), self._said, self._entries], layout=WIDE)
        self._show()

    # -- opening ----------------------------------------------------------------------------------

    def _shelf(self) -> w.Widget:
        chooser = self._chooser = w.Dropdown(description="Records", layout=NARROW)
        name = w.Text(placeholder="What the repair is about", layout=NARROW)
        restorer = w.Text(placeholder="Restorer", layout=NARROW)

        def open_one() -> str:
            if not chooser.value:
                raise ValueError("No record is chosen. Choose one from the list first.")
            self.book = RecordBook(chooser.value)
            return f"{self.book.path.name} is open."

        def start_one() -> str:
            self.folder.mkdir(parents=True, exist_ok=True)
            record = Record.opening(
                self.machine,
                name.value,
                self._on(),
                restorer.value,
                self.which.serial,
                self.which.owner,
            )
            path = self.folder / file_name(name.value)
            self.book = RecordBook.create(path, record)
            name.value = ""
            return f"{path.name} is begun. Every entry is saved at once."

        open_ = button("Open", lambda: self._try(open_one))
        start = button("Start a new record", lambda: self._try(start_one))
        return row(chooser, open_, name, restorer, start)

    # -- writing down -----------------------------------------------------------------------------

    def _tabs(self) -> w.Widget:
        tabs = {
            "Log": self._log_tab(),
            "Check": self._check_tab(),
            "Found": self._finding_tab(),
            "Remedy": self._words_tab("What was done about it", Record.adding_remedy, "remedies"),
            "Acceptance": self._acceptance_tab(),
            "Note": self._words_tab("Anything else", Record.adding_note, "notes"),
        }
        return w.Tab(children=list(tabs.values()), titles=tuple(tabs), layout=WIDE)

    def _log_tab(self) -> w.Widget:
        def add(record: Record) -> Record:
            if self.bench is None:
                raise ValueError("No bench is connected. Give one when you make the box.")
            longer = record.adding_log(self.bench.logbook)
            if longer == record:
                raise ValueError("The bench has no entry that the record lacks.")
            return longer.adding_suspects(*suspicions(self.bench.diagnosis, self._on()))

        copy = button("Copy the log and its suspects", lambda: self._write(add))
        copy.disabled = self.bench is None
        return row(copy)

    def _check_tab(self) -> w.Widget:
        done = w.Dropdown(options=actions(self.machine), description="Done", layout=NARROW)
        advised = w.Text(placeholder="What was advised, if anything", layout=LINE)
        outcome = w.Textarea(placeholder="What came of it", layout=LINE)
        minutes = w.BoundedFloatText(min=0, max=MAX_MINUTES, description="Minutes", layout=NARROW)

        def add(record: Record) -> Record:
            check = CheckMade(
                self._on(), done.value, advised.value, outcome.value, float(minutes.value)
            )
            return record.adding_check(check)

        boxes = [row(done, minutes), advised, outcome]
        return self._form(boxes, add, [advised, outcome, minutes], "checks")

    def _finding_tab(self) -> w.Widget:
        parts = [(self.machine.label(name), name) for name in parts_in_order(self.machine)]
        part = w.Dropdown(options=[("no part on the list", ""), *parts], description="Part")
        fault = w.Dropdown(description="is", disabled=True)
        text = w.Textarea(placeholder="What was found, in your own words", layout=LINE)

        @self.in_turn
        def offer(_: object) -> None:
            known = faults_of(self.machine.mechanism, part.value) if part.value else ()
            fault.options = [(fault_label(self.machine, each), each) for each in known]
            fault.disabled = not known

        def add(record: Record) -> Record:
            faults = (fault.value,) if fault.value else ()
            return record.adding_finding(Finding(self._on(), faults, text.value))

        part.observe(offer, "value")
        return self._form([row(part, fault), text], add, [text], "findings")

    def _acceptance_tab(self) -> w.Widget:
        sent = w.Textarea(placeholder="The text that was sent", layout=LINE)
        printed = w.Textarea(
            placeholder="What stands on the paper, line by line",
            layout=LINE,
        )
        remark = w.Text(placeholder="Remark on the test", layout=LINE)
        take = WorkButton(
            "Put the acceptance text in",
            "Working it out …",
            lambda: setattr(sent, "value", self._acceptance_text()),
            self._say_problems,
        )
        failed: list[LogEditor] = []

        def add(record: Record) -> Record:
            test, log = judged(self.machine, self._on(), sent.value, printed.value, remark.value)
            failed[:] = [log] if test.result == "failed" else []
            return record.adding_acceptance(test)

        def go_on() -> None:
            if self.bench is not None and failed:
                self.bench.go_on(failed.pop())

        for box in (sent, printed):
            box.add_class("ml-monospace")
        boxes = [sent, printed, remark]
        return self._form([take, *boxes], add, boxes, "acceptances", go_on)

    def _acceptance_text(self) -> str:
        known = self.bench.acceptance.card if self.bench is not None else None
        return text_of(known or smallest_sequence(self.machine))

    def _words_tab(
        self, hint: str, adding: Callable[[Record, Note], Record], kept: str
    ) -> w.Widget:
        text = w.Textarea(placeholder=hint, layout=LINE)
        return self._form(
            [text], lambda record: adding(record, Note(self._on(), text.value)), [text], kept
        )

    def _form(
        self,
        boxes: list[w.Widget],
        add: Callable[[Record], Record],
        cleared: list[w.Widget],
        kept: str,
        then: Callable[[], None] = lambda: None,
    ) -> w.Widget:
        """Boxes and a button that writes them down; they are cleared once that is safe.

        Args:
            boxes: The boxes.
            add: Adds one item to a record.
            cleared: The boxes to clear.
            kept: The field of a record to which *add* adds.
            then: Called once that is safe, before the boxes are cleared.
        """
        instead = self._instead[kept] = w.Dropdown(
            options=[(NEW, 0)], description="This is", layout=LINE
        )

        def add_or_correct(record: Record) -> Record:
            longer = add(record)
            *before, item = getattr(longer, kept)
            items: dict[str, Any] = {kept: (*before, replace(item, corrects=instead.value))}
            return replace(longer, **items)

        @self.in_turn
        def write() -> None:
            if self._write(add_or_correct):
                then()
                for box in cleared:
                    box.value = 0 if isinstance(box, w.BoundedFloatText) else ""
                instead.value = 0

        return w.VBox([*boxes, row(button("Write it down", write), instead)])

    def _write(self, add: Callable[[Record], Record]) -> bool:
        @self.in_turn
        def write() -> str:
            book = self._open_book()
            book.save(add(book.record))
            return f"Saved in {book.path.name}."

        return self._try(write)

    # -- reports ----------------------------------------------------------------------------------

    def _exports(self) -> w.Widget:
        web = button("Report as a web page", lambda: self._try(lambda: self._export(".html")))
        pdf = button("Report as PDF", lambda: self._try(lambda: self._export(".pdf")))
        close = button(
            "Close the record today",
            lambda: self._write(lambda record: record.closing(self._on())),
        )
        close.tooltip = "Puts down the day above as the last; you can still add to it"
        return row(web, pdf, close)

    def _export(self, suffix: str) -> str:
        book = self._open_book()
        path = book.path.with_suffix(suffix)
        size = "A4" if suffix == ".pdf" else ""
        report.report_page(book.record, self.machine, book.path.name, size).save(path)
        return f"The report is in {path}."

    # -- saying -----------------------------------------------------------------------------------

    def _on(self) -> date:
        if self._day.value == self._guess:  # nobody chose it, and it may be tomorrow by now
            self._day.value = self._guess = self._today()
        day = self._day.value
        if not isinstance(day, date):
            raise ValueError("There is no day. Choose the day first.")
        return day

    def _open_book(self) -> RecordBook:
        if self.book is None:
            raise ValueError("No record is open. Open one, or start a new one, above.")
        return self.book

    def _say_problems(self, *problems: object) -> None:
        self._say(said("problems", list(map(str, problems))))

    def _say(self, html: str) -> None:
        self._said.value = said("live", html)

    @in_turn
    def _try(self, do: Callable[[], str]) -> bool:
        """Do something and say what came of it; whether what was entered is safe on the disk."""
        safe = True
        try:
            self._say(said("sentence", do()))
        except RecordError as error:
            safe = isinstance(error, RecordConflict)
            self._say_problems(*error.problems)
        except (OSError, ValueError) as error:
            safe = False
            self._say(refused(error, self.folder))
        self._show()
        return safe

    def _look(self) -> None:
        """See which records of this machine there are, and choose the one that is open.

        Those that cannot be read stand last: whoever opens one is told why.
        """
        files = sorted(self.folder.glob("*.json")) if self.folder.is_dir() else []
        chosen = self.book.path if self.book else self._chooser.value
        if files != self._seen:
            self._seen = files
            read, problems = histories(self.folder)
            key = self.which.kind, self.which.serial, self.which.owner
            spoilt = dict.fromkeys(Path(problem.source) for problem in problems)
            found = [*read.get(key, ()), *spoilt]
            self._chooser.options = [("choose a record …", ""), *((p.name, p) for p in found)]
        offered = {path for _, path in self._chooser.options}
        self._chooser.value = chosen if chosen in offered else ""

    def _show(self) -> None:
        """Show the open record as the page that it will be."""
        self._look()
        self._entries.layout.display = "" if self.book else "none"
        if self.book:
            for kept, instead in self._instead.items():
                items, chosen = getattr(self.book.record, kept), instead.value
                numbers = range(1, len(items) + 1)
                instead.options = [(NEW, 0), *((f"a correction of number {n}", n) for n in numbers)]
                instead.value = chosen if chosen <= len(items) else 0
            try:
                whole = report.report_of(self.book.record, self.machine, self.book.path.name)
            except ValueError as error:  # the record of a machine with another code
                self._page.value = said("page", said("problems", [str(error)]))
                return
            self._page.value = report.body(report.one_page(whole))
