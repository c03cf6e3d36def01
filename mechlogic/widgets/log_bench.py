"""The bench: a log of misprints goes in, suspects and the next check come out, on one page."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial
from math import comb
from pathlib import Path
from typing import Any

import ipywidgets as w

from mechlogic.bench import pages
from mechlogic.bench.advice import next_check
from mechlogic.bench.checks import USUAL_MINUTES, options
from mechlogic.bench.diagnosis import ENOUGH, Diagnosis, Suspect, diagnose
from mechlogic.bench.evidence import Evidence
from mechlogic.bench.log_editor import LogEditor, LogRefused
from mechlogic.bench.plan import plan
from mechlogic.bench.search import look_further
from mechlogic.bench.store import Store, Which
from mechlogic.bench.story import fault_label, hypothesis_label
from mechlogic.bench.verdict import judge
from mechlogic.describing.description import DescriptionError, decode
from mechlogic.describing.writing import write
from mechlogic.drawing import scene_at
from mechlogic.drawing.print_out import bench_page
from mechlogic.explaining.words import parts_in_order
from mechlogic.helpers.reading import FileRefused
from mechlogic.helpers.safe_file import mend_for
from mechlogic.helpers.storage import Folder, InMapping
from mechlogic.helpers.templates import render
from mechlogic.machines import load, names, own
from mechlogic.machines.case_file import Case, decode_case, format_case
from mechlogic.model.faults import FaultError, faults_of, single_faults
from mechlogic.model.logbook import (
    Logbook,
    LogbookError,
    decode_logbook,
    machine_of,
    read_logbook,
)
from mechlogic.model.machine import Machine
from mechlogic.widgets.acceptance_box import AcceptanceBox
from mechlogic.widgets.buttons import WorkButton
from mechlogic.widgets.fault_bench import FaultBench
from mechlogic.widgets.full_screen import FullScreen
from mechlogic.widgets.log_sheet import LogSheet
from mechlogic.widgets.machine_view import MachineView
from mechlogic.widgets.record_box import RecordBox
from mechlogic.widgets.screen import (
    Screen,
    button,
    page,
    replace_children,
    said,
    say,
    styled,
)
from mechlogic.widgets.turns import in_turn

WIDE = {"width": "auto"}
"""As wide as the page.  Not 100 %: with its margins that is too wide, and brings a scrollbar."""

STYLE = (Path(__file__).parent / "log_bench.css").read_text(encoding="utf-8")
"""How the parts of the bench lie, so that all of it is seen at once."""

MOST_UNASKED = 100_000
"""So many pairs of faults are looked through without being asked: a few seconds at first."""

MOST_FAULTS = 2
"""How many faults at once are looked for, when the bench looks further."""

AS_WIDE = {"width": "auto"}
"""For buttons: as wide as their words."""

MINUTES_OF = {"type": "a key", "hand": "a hand turn", "source": "a new source"}
"""What the kinds of effort are called beside their costs."""


ROW = {"flex_flow": "row wrap", "flex": "none"}
"""Boxes side by side, and below each other where there is no room."""


MECHANISM = "Mechanism"
"""The tab with the live picture, which is made when it is first looked at."""

NO_SUSPECT = "No possible cause to show: the machine is shown in good order."


class LogBench(Screen):
    """A log, who explains it, what to do next, your own hypothesis, the acceptance, the record.

    Args:
        machine: The machine that the logs were taken on.
        logs: Folder with sample logs as CSV files, or a list of such files.
        any_machine: Whether the reader may put another machine on the bench.
        records: Folder in which the records of repairs are kept.
        storage: Folder in which the log on the bench is kept as it is typed; None for memory only.
    """

    def __init__(
        self,
        machine: Machine,
        logs: str | Path | Iterable[Path] = "logs",
        any_machine: bool = False,
        records: str | Path = "records",
        storage: str | Path | None = "bench",
    ) -> None:
        self._store = Store(InMapping({}) if storage is None else Folder(storage))
        self._paths = _csv_files(logs)
        self._first, self._records = machine, Path(records)
        self._patients: list[w.VBox] = []
        # What stays where it is when the machine is changed, so that it keeps the keyboard's focus.
        self._log_choice = w.HBox(layout=ROW)
        self._machines: w.Dropdown | None = None
        choice = self._machine_choice(machine) if any_machine else []
        self._sisters = {"serial": _line("Serial number"), "owner": _line("Owner")}
        for box in self._sisters.values():
            box.observe(self._turn_to_sister, "value")
        top = w.HBox([*choice, *self._sisters.values(), self._log_choice, FullScreen()], layout=ROW)
        self._fixed = [styled(pages.STYLE, STYLE), top]
        super().__init__(layout=WIDE)
        self.add_class("ml-bench")
        self._shield.observe(self._pick, "pressed")
        self.put_on(machine)

    @in_turn
    def put_on(self, machine: Machine) -> None:
        """Put a machine on the bench; everything on it then works for that one."""
        self.machine = machine
        which = self._store.last(machine.name)
        self._offer_sisters(which)
        self.kept = self._store.bench(machine, which.serial, which.owner)
        self.sheet = LogSheet(
            self.kept.editor, self._keep, self._diagnose, self._save, which.file_name
        )
        self._problems, self._wheel, self._where = page(), page(), page()
        self._mechanism = w.VBox(layout={"padding": "0 0 0 10px"})  # room for its outermost button
        self._summary, self._advice, self._suspects = page(), page(), page()
        self._told = page()
        self._shown: Suspect | None = None
        self._verdict, self._options, self._bounds = page(), page(), page()
        self._misreadings = w.Dropdown(
            options=[("none", 0), ("up to 1", 1), ("up to 2", 2)],
            value=1,
            description="Misread entries",
            tooltip="How many entries may have been misread",
            style={"description_width": "auto"},
            layout=AS_WIDE,
        )
        self._minutes: dict[str, float] = {}
        replace_children(self._log_choice, self._chooser())
        suspects = w.VBox([self._bounds, self._suspects, self._where, self._further_row()])
        suspects.add_class("ml-suspected")
        columns = w.HBox([suspects, self._tabs()])
        columns.add_class("ml-columns")
        self.put(
            [
                *self._fixed,
                self._problems,
                self.sheet,
                self._summary,
                self._advice,
                columns,
            ]
        )
        self._diagnose()
        if self.kept.trouble:
            say(self._problems, pages.problem_list([self.kept.trouble]))
        self._patients = [one for one in self._patients if one.comm is not None]  # not closed
        for patient in self._patients:
            replace_children(patient, self._picture())

    def _tabs(self) -> w.Widget:
        self.acceptance = AcceptanceBox(self.machine, self._hand_over)
        tabs = {
            "Type map": self._wheel,
            MECHANISM: self._mechanism_box(),
            "Every check": self._options_box(),
            "My hypothesis": self._hypothesis_box(),
            "Acceptance": self.acceptance,
            "Record": RecordBox(self.machine, self._records, self, which=self.kept.which),
        }
        box = self._tab_box = w.Tab(children=list(tabs.values()), titles=tuple(tabs))

        @self.in_turn
        def show_mechanism(change: dict[str, int]) -> None:
            if box.titles[change["new"]] == MECHANISM and not self._mechanism.children:
                self._mechanism.children = (MachineView(self.machine),)
                self._mark(self._shown)

        box.observe(show_mechanism, "selected_index")
        return box

    def _mechanism_box(self) -> w.Widget:
        self._next = button("Next misprint ▶", self._play_next)
        self._next.tooltip = "The picture plays the entry before it, and then the misprint"
        box = w.VBox([self._next, self._told, self._mechanism])
        box.add_class("ml-mechanism")
        return box

    def _mark(self, suspect: Suspect | None) -> None:
        """Show a suspect in the mechanism, if it was looked at, and in a picture.

        A narrow page has the picture below the suspects, a wide one the mechanism beside them.
        """
        self._shown, self._played = suspect, 0
        faults = suspect.members[0] if suspect else ()
        parts = [fault.part for fault in faults]
        seen = ""
        if parts:
            label = hypothesis_label(self.machine, faults)
            seen = said("where", scene_at(self.machine, {}, parts), label)
        say(self._where, seen)
        for view in self._mechanism.children:
            view.faults = faults
            view.picked = faults[0].part if faults else ""
        told = pages.to_be_seen(self.diagnosis, suspect) if suspect else NO_SUSPECT
        say(self._told, said("shown", told))
        self._next.disabled = suspect is None or not self.diagnosis.evidence.wrong

    @in_turn
    def _pick(self, change: dict[str, list[Any]]) -> None:
        """Show the suspect whose button was pressed, in motion."""
        for suspect in self.diagnosis.considered:
            if hypothesis_label(self.machine, suspect.members[0]) == change["new"][0]:
                self._mark(suspect)
                self._tab_box.selected_index = self._tab_box.titles.index(MECHANISM)
                self._play_next()
                self._next.focus()

    @in_turn
    def _play_next(self) -> None:
        """Play the next misprint of the log; after the last one, the first again."""
        suspect, evidence = self._shown, self.diagnosis.evidence
        if suspect is None or not evidence.wrong:
            return
        number = self._played % len(evidence.wrong)
        self._played = number + 1
        say(self._told, said("shown", pages.to_be_seen(self.diagnosis, suspect, number)))
        for view in self._mechanism.children:
            if view.faults == suspect.members[0]:  # and it was not refused
                view.replay(evidence, suspect.accounts[0], evidence.wrong[number])

    @property
    def logbook(self) -> Logbook:
        """The log on the bench, as far as nothing about it is questioned."""
        return self.kept.editor.log

    @in_turn
    def show(self, log: Logbook) -> None:
        """Put a log in the place of the one on the bench; that can be undone."""
        editor = self.kept.editor.load(log)
        self.sheet.show(*self._keep(editor))
        self._diagnose()

    @in_turn
    def go_on(self, log: LogEditor) -> None:
        """Add the lines of another log to the one on the bench; that can be undone."""
        self.sheet.show(*self._keep(self.kept.editor.join(log)))
        self._diagnose()

    def _keep(self, editor: LogEditor) -> tuple[LogEditor, str]:
        """Keep the log; the log that is kept, and what there is to say if that is not safe."""
        self.kept.put(editor=editor)
        return self.kept.editor, self.kept.trouble

    @in_turn
    def _diagnose(self) -> None:
        """Everything that follows from the log; where the list is hardly enough, more is tried."""
        self._explain(diagnose(self.machine, self.logbook))
        hardly = self.diagnosis.enough < ENOUGH or not self.diagnosis.suspects
        if self.logbook.entries and hardly:
            n_faults = len(single_faults(self.machine.mechanism))
            if comb(n_faults, MOST_FAULTS) <= MOST_UNASKED:
                self.look_further()

    def _save(self, asked: str) -> str:
        """Hand the log or the whole case over to be saved; what was saved, in words."""
        which = self.kept.which
        if asked == "save_log":
            name, data = "log.csv", self.kept.editor.csv().encode("utf-8-sig")
        elif asked == "print_out":
            said_of = ", ".join(filter(None, (which.serial, which.owner)))
            name, data = "print_out.html", bench_page(self.diagnosis, said_of).html.encode()
        else:
            logs = {"bench": self.kept.editor.to_save}
            name, data = "case.zip", format_case(Case(self.machine, which, logs=logs))
        name = f"{which.kind}_{name}"
        self._hand_over(name, data)
        return f"{name} is saved where your browser puts what it loads."

    def _hand_over(self, name: str, data: bytes) -> None:
        """Give a file to the browser, which saves it where it puts what it loads."""
        self.sheet.send({"file": name}, [data])

    @in_turn
    def look_further(self) -> None:
        """Hold the log against two faults at once, and faults that come and go.

        As many entries may have been misread as the restorer says beside the button.
        """
        misreadings = self._misreadings.value
        self._explain(look_further(self.machine, self.logbook, MOST_FAULTS, misreadings))
        if self.logbook.entries:
            say(self._bounds, pages.searched(self.diagnosis, MOST_FAULTS, misreadings))

    def _explain(self, diagnosis: Diagnosis) -> None:
        self.diagnosis = diagnosis
        log, evidence = self.logbook, diagnosis.evidence
        say(self._problems, "")
        say(self._wheel, pages.wheel_map(evidence))
        say(self._verdict, "")
        say(self._bounds, "")
        if not log.entries:
            say(self._summary, "<p>Choose a log above, or write down what you sent and saw.</p>")
            say(self._advice, "")
            say(self._suspects, "<p>No entries yet.</p>")
            say(self._options, "")
            self._mark(None)
            return
        say(self._summary, pages.log_summary(diagnosis))
        say(self._suspects, pages.suspect_list(diagnosis, show=True))
        self._weigh()
        self._mark(next(iter(diagnosis.suspects), None))

    @in_turn
    def _weigh(self) -> None:
        """Weigh every check, with the minutes that the restorer gave."""
        check = next_check(self.diagnosis)
        found = options(self.diagnosis, self._minutes, check)
        say(self._advice, pages.advice(self.diagnosis, check, found))
        steps = render("plan.html", plan=plan(self.diagnosis, self._minutes))
        say(self._options, steps + pages.options_table(found))

    def _further_row(self) -> w.Widget:
        look = WorkButton(
            "Look further",
            "Looking …",
            self.look_further,
            lambda trouble: say(self._problems, pages.problem_list([trouble])),
            "Two faults at once, faults that come and go",
        )
        return w.HBox([look, self._misreadings], layout=ROW)

    # -- choosing a machine -----------------------------------------------------------------------

    @in_turn
    def _turn_to_sister(self, _: object) -> None:
        """Put the machine of that number and owner on the bench, with its own log and records."""
        serial, owner = (box.value.strip() for box in self._sisters.values())
        try:
            which = Which(self.machine.name, serial, owner)
        except ValueError as error:
            self._offer_sisters(self.kept.which)
            say(self._problems, pages.problem_list([error]))
            return
        if which != self.kept.which:
            self._store.choose(which)
            self.put_on(self.machine)

    def _offer_sisters(self, which: Which) -> None:
        """Show which machine of its kind is on the bench, and offer those that have been."""
        known = [one for one in self._store.machines() if one.kind == which.kind]
        for name, box in self._sisters.items():
            box.unobserve(self._turn_to_sister, "value")
            box.options = sorted({getattr(one, name) for one in known} - {""})
            box.value = getattr(which, name)
            box.observe(self._turn_to_sister, "value")

    def _machine_choice(self, machine: Machine) -> list[w.Widget]:
        on_bench = {machine.name: machine}  # one of each: much is worked out only once
        chooser = self._machines = w.Dropdown(description="Machine", layout=w.Layout(width="275px"))
        chooser.style.description_width = "auto"
        upload = w.FileUpload(accept=".toml,.zip", description="Machine file", layout=AS_WIDE)
        upload.tooltip = "A machine that is described in a file, or a case that was saved"

        @self.in_turn
        def offer(chosen: str) -> None:
            chooser.options = [
                (f"{one.title} (my own)" if name.startswith("my own ") else one.title, name)
                for name, one in on_bench.items()
            ]
            chooser.value = chosen

        @self.in_turn
        def choose(change: dict[str, str]) -> None:
            self.put_on(on_bench[change["new"]])

        @self.in_turn
        def bring(_: object) -> None:
            for file in upload.value:
                try:
                    brought, data, case = _brought(file.name, bytes(file.content))
                except (DescriptionError, FileRefused) as error:
                    say(self._problems, pages.problem_list(error.problems))
                    continue
                ships = brought.name in names() and write(load(brought.name)) == write(brought)
                name = brought.name if ships else f"my own {brought.name}"
                other = case and name in on_bench and write(on_bench[name]) != write(brought)
                if not ships:
                    on_bench[name] = brought
                chooser.unobserve(choose, "value")
                offer(name)
                chooser.observe(choose, "value")
                if case:
                    self._store.choose(replace(case.which, kind=brought.name))
                self.put_on(on_bench[name])
                trouble = self._unpack(case) if case else []
                if other:
                    trouble.append("another machine of this name is kept, and is left as it was.")
                try:
                    if not ships and not other:
                        own.keep(self._store.storage, data, file.name)
                except OSError as error:
                    trouble += [f"this machine is not kept ({error.strerror}). {mend_for(error)}."]
                if trouble:
                    say(self._problems, pages.problem_list(trouble))
            upload.value = ()  # so that the same file, mended, can be loaded again

        for name in names():
            on_bench.setdefault(name, load(name))
        for name, one in own.kept_machines(self._store.storage)[0].items():
            on_bench[f"my own {name}"] = one
        offer(machine.name)
        chooser.observe(choose, "value")
        upload.observe(bring, "value")
        return [chooser, upload]

    def _unpack(self, case: Case) -> list[str]:
        """Add the logs of a case to the log of its machine; what else is in it, in words."""
        for log in case.logs.values():
            if not self.logbook.entries:
                self.show(log)
            elif log.entries != self.logbook.entries:  # of a case that was saved here
                self.go_on(LogEditor(self.machine).load(log))
        count = {"records": len(case.records), "pictures": len(case.pictures)}
        more = [f"{number} {what}" for what, number in count.items() if number]
        told = f"The case also holds {' and '.join(more)}. They stay in its file, which is a ZIP."
        return [told] if more else []

    def patient(self) -> w.Widget:
        """A picture of the machine on the bench, whichever it is, to be given faults."""
        self._patients.append(w.VBox(self._picture()))
        return self._patients[-1]

    def _picture(self) -> list[w.Widget]:
        view = MachineView(self.machine)
        return [view, FaultBench(view)]

    # -- choosing a log ---------------------------------------------------------------------------

    def _chooser(self) -> list[w.Widget]:
        paths = (path for path in self._paths if self._is_for_this(path))
        choices = [("choose a log …", ""), *((path.stem.replace("_", " "), path) for path in paths)]
        chooser = self._menu = w.Dropdown(
            options=choices, description="Log", layout=w.Layout(width="205px")
        )
        chooser.style.description_width = "auto"
        upload = w.FileUpload(accept=".csv", multiple=False, description="Log file", layout=AS_WIDE)

        @self.in_turn
        def choose(change: dict[str, object]) -> None:
            path = change["new"]
            if isinstance(path, Path):
                self._try(partial(read_logbook, path, self.machine.code))

        @self.in_turn
        def load(change: dict[str, object]) -> None:
            for file in upload.value:
                chooser.value = ""
                data, machine = bytes(file.content), self.machine
                self._turn_to(machine_of(data))
                self._try(partial(decode_logbook, data, file.name, self.machine.code))
                if self.machine is not machine:
                    return  # the bench has another button now
            upload.value = ()  # so that the same file, mended, can be loaded again

        chooser.observe(choose, "value")
        upload.observe(load, "value")
        return [chooser, upload]

    def _is_for_this(self, path: Path) -> bool:
        """Whether a log was taken on the machine on the bench.

        A log that begins with the name of a machine is of that one; all others are of the machine
        that was first on the bench.
        """
        begins = path.stem.split("_")[0]
        if begins in names() or begins == self.machine.name:
            return begins == self.machine.name
        return self.machine is self._first

    def _try(self, read: Callable[[], Logbook]) -> None:
        try:
            self.show(read())
        except LogbookError as error:
            say(self._problems, pages.problem_list(error.problems))
        except LogRefused as error:
            say(self._problems, pages.problem_list([error]))

    def _turn_to(self, name: str) -> None:
        """Put the machine that a log names on the bench, if it is offered."""
        if self._machines is not None and name not in ("", self.machine.name):
            offered = {key for _, key in self._machines.options}
            for key in (f"my own {name}", name):
                if key in offered:
                    self._machines.value = key
                    return

    # -- every check and its cost -----------------------------------------------------------------

    def _options_box(self) -> w.Widget:
        kinds = USUAL_MINUTES | {k: float(v) for k, v in self.machine.efforts.items()}

        @self.in_turn
        def change(kind: str, event: dict[str, float]) -> None:
            self._minutes[kind] = event["new"]
            if self.logbook.entries:
                self._weigh()

        boxes = []
        for kind, cost in kinds.items():
            box = w.BoundedFloatText(
                value=cost, min=0.05, max=10_000, description=MINUTES_OF.get(kind, f"{kind} off")
            )
            box.layout.width, box.style.description_width = "150px", "auto"
            box.observe(partial(change, kind), "value")
            boxes.append(box)
        costs = w.HBox(boxes, layout=ROW)
        return w.VBox([w.HTML("Minutes that each kind of check costs you:"), costs, self._options])

    # -- a hypothesis of one's own ----------------------------------------------------------------

    def _hypothesis_box(self) -> w.Widget:
        names = [(self.machine.label(name), name) for name in parts_in_order(self.machine)]
        part = w.Dropdown(options=names, description="Part", layout=w.Layout(width="210px"))
        fault = w.Dropdown(description="is", layout=w.Layout(width="160px"))
        for box in (part, fault):
            box.style.description_width = "auto"
        ask = w.Button(description="Test against the log", button_style="primary", layout=AS_WIDE)

        @self.in_turn
        def offer(_: object) -> None:
            fault.options = [
                (fault_label(self.machine, each), each)
                for each in faults_of(self.machine.mechanism, part.value)
            ]
            fault.index = 0

        @self.in_turn
        def answer(_: object) -> None:
            self.kept.put(hypothesis=[fault.value])
            try:
                found = judge(self.machine, self.logbook, [fault.value])
            except FaultError as error:
                say(self._verdict, pages.problem_list([error]))
                return
            evidence = Evidence(self.machine, self.logbook)
            strip = pages.log_strip(evidence, found.contradictions)
            say(self._verdict, strip + pages.verdict(self.machine, evidence, found))

        part.observe(offer, "value")
        ask.on_click(answer)
        offer(None)
        for thought in self.kept.hypothesis[:1]:  # what it was the last time
            if thought.part in (name for _, name in part.options):
                part.value = thought.part
                if thought in (each for _, each in fault.options):
                    fault.value = thought
        row = w.HBox([part, fault, ask], layout=ROW)
        return w.VBox([row, self._verdict])


def _csv_files(logs: str | Path | Iterable[Path]) -> list[Path]:
    return sorted(Path(logs).glob("*.csv")) if isinstance(logs, str | Path) else list(logs)


def _brought(name: str, data: bytes) -> tuple[Machine, bytes, Case | None]:
    """What a file holds: a machine, its description, and the case that it is part of, if any."""
    if not name.lower().endswith(".zip"):
        return decode(data, name), data, None
    case = decode_case(data, name)
    return case.machine, write(case.machine).encode(), case


def _line(words: str) -> w.Combobox:
    """A line of text that offers what was written there before."""
    return w.Combobox(
        placeholder=words, tooltip=words, continuous_update=False, layout=w.Layout(width="120px")
    )
