"""The log as it is written: keys are taken in the browser, and Python is told in order.

The browser sends what was done in batches, keeps each until it is said to be safe, and gathers
meanwhile. So nobody has to wait for a diagnosis, and nothing typed is lost if Python is restarted.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from mechlogic.bench.evidence import Evidence
from mechlogic.bench.log_editor import LogEditor
from mechlogic.helpers.refusal import Refusal
from mechlogic.model.codes import Code
from mechlogic.model.logbook import gap_of
from mechlogic.widgets.scripts import script
from mechlogic.widgets.turns import in_turn

SHOWN = 200
"""So many lines of a log are shown, the last ones, unless all are asked for."""

Op = Mapping[str, Any]
"""Something done in the browser: ``do`` says what, the rest with what."""


def keys_of(code: Code) -> list[list[str]]:
    """The names of all characters, for keys on a phone: letters, digits and signs, all others."""
    names = dict.fromkeys(name for name in (*code.names, *code.figures) if name)
    letters = sorted(name for name in names if len(name) == 1 and name.isupper())
    signs = sorted(name for name in names if len(name) == 1 and not name.isalpha())
    signs.sort(key=str.isdigit, reverse=True)
    others = [name for name in names if name not in {*letters, *signs}]
    return [group for group in (letters, signs, others) if group]


class LogSheet(anywidget.AnyWidget):
    """Entry boxes, and the lines of the log.

    Args:
        done: Called with the log after what was done; it keeps the log. It returns the log that is
            kept, with what another tab has added to it, and what there is to say.
        after: Called once what was done is safe.
        asked: Called for what is no change of the log, such as ``"save_log"``; what it returns is
            said.
        key: The name under which the browser keeps what is on its way.

    Attributes:
        editor: The log.
    """

    _esm = script("log_sheet.js")
    _css = (Path(__file__).parent / "log_sheet.css").read_text(encoding="utf-8")
    state = traitlets.Dict().tag(sync=True)
    acked = traitlets.Dict().tag(sync=True)

    def __init__(
        self,
        editor: LogEditor,
        done: Callable[[LogEditor], tuple[LogEditor, str]],
        after: Callable[[], None],
        asked: Callable[[str], str],
        key: str = "",
    ) -> None:
        self.editor, self._done, self._after, self._asked = editor, done, after, asked
        self._key = key or editor.machine.name
        self._all = False
        self._safe: dict[str, int] = {}
        super().__init__()
        self.show(editor)
        self.on_msg(self._told)

    def show(self, editor: LogEditor, says: str = "") -> None:
        """Show a log."""
        self.editor = editor
        questions = {question.line: question for question in reversed(editor.questions)}
        evidence = Evidence(editor.machine, editor.log)
        numbers = editor.numbers
        wrong = {numbers[t] for t in evidence.wrong} - questions.keys()
        first = 0 if self._all else max(0, len(editor) - SHOWN)
        lines = []
        for number, line in enumerate(editor.lines[first:], start=first + 1):
            asked = questions.get(number)
            question = asked and {
                "column": asked.column,
                "says": asked.says,
                "choices": [[choice.text, choice.says] for choice in asked.choices],
            }
            shown = {"n": number, "wrong": number in wrong, "question": question}
            lines.append(asdict(line) | shown)
        self.state = {
            "key": self._key,
            "first": first,
            "lines": lines,
            "undo": editor.done[-1].says if editor.done else "",
            "redo": editor.undone[-1].says if editor.undone else "",
            "says": says,
            "keys": keys_of(editor.machine.code),
        }

    def say_trouble(self, words: str) -> None:
        """Say that something failed, in the place of what was said before."""
        if words:
            self.show(self.editor, words)

    @in_turn
    def _told(self, _: object, batch: Mapping[str, Any], __: object) -> None:
        """Do what the browser tells, once, and say that it is safe; or that it fails again."""
        client, seq = str(batch["client"]), int(batch["seq"])
        try:
            if self._safe.get(client, 0) < seq:
                self.apply(batch["ops"])
                self._safe[client] = seq
        except Exception:
            self.acked = {"client": client, "seq": seq}
            raise
        self.acked = {"client": client, "seq": seq}
        self._after()

    def apply(self, ops: Sequence[Op]) -> None:
        """Do what was done in the browser, one after the other."""
        editor, said = self.editor, []
        for op in ops:
            try:
                editor, says = self._one(editor, op)
            except Refusal as error:
                says = str(error)
            if says:
                said.append(says)
        if editor is not self.editor:
            editor, trouble = self._done(editor)
            said += [trouble] if trouble else []
        self.show(editor, " ".join(said))

    def _one(self, editor: LogEditor, op: Op) -> tuple[LogEditor, str]:
        """The editor after one thing that was done, and what there is to say of it."""
        match op["do"]:
            case "write":
                marks = {"driven": op["driven"], "gap": gap_of(op["gap"])}
                return editor.write(op["sent"], op["printed"], **marks), ""
            case "insert":
                return editor.insert(op["number"], op["sent"], op["printed"]), ""
            case "change":
                return editor.change(op["number"], **op["changes"]), ""
            case "remove":
                return editor.remove(op["number"]), ""
            case "move":
                return editor.move(op["number"], op["to"]), ""
            case "answer":
                return editor.answer(op["number"], op["column"], op["text"]), ""
            case "paste":
                longer, pasted = editor.paste(op["text"])
                return longer, " ".join((pasted.says, *map(str, pasted.refused)))
            case "clear":
                return editor.clear(), "The log is empty. Undo brings it back."
            case "undo":
                return editor.undo(), ""
            case "redo":
                return editor.redo(), ""
            case "show_all":
                self._all = True
                return editor, ""
            case other:
                return editor, self._asked(str(other))
