"""Questions for the reader of a workbook: an answer is checked, hints come one by one.

The answers should follow from the machine, so that a question stays right when the machine is
changed:

>>> from mechlogic import load
>>> machine = load("saltmere")
>>> code = machine.code.parse("B")
>>> question = short_answer(
...     "What does it print for B?",
...     lambda answer: answer == machine.good_print(code),
...     because="All its parts are in order.",
... )
>>> question.answer("C")
False
>>> question.verdict
'Not yet.'
>>> question.answer(" B ")
True

Where workbooks lie in the folder that a notebook runs in, a question that was answered is kept
there, and has a tick at the next sitting (see :mod:`mechlogic.teaching.progress`).
"""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from random import Random
from typing import Any

import anywidget
import traitlets

from mechlogic.teaching import progress
from mechlogic.widgets.scripts import script
from mechlogic.widgets.turns import in_turn

HERE = Path(__file__).parent
LONGEST_ANSWER = 1000
"""Characters of an answer that are looked at."""

Check = Callable[[str], bool | str]
"""Says whether an answer is right.

It may return a sentence instead of False, to say what is wrong; and it may raise ValueError for
an answer that it cannot read, for example a word where a number is wanted.
"""


class Question(anywidget.AnyWidget):
    """A question; make one with :func:`choice` or :func:`short_answer`.

    Attributes:
        state: ``"open"``, ``"wrong"``, ``"right"`` or ``"shown"``.
        verdict: What was said about the last answer.
        key: What it is kept under once it is answered.
        answered_before: Whether it was answered at an earlier sitting.
        trouble: Why it could not be checked or kept, if so.
    """

    _esm = script("questions.js")
    _css = (HERE / "questions.css").read_text(encoding="utf-8")

    prompt = traitlets.Unicode().tag(sync=True)
    options = traitlets.List(traitlets.Unicode()).tag(sync=True)
    state = traitlets.Unicode("open").tag(sync=True)
    verdict = traitlets.Unicode().tag(sync=True)
    because = traitlets.Unicode().tag(sync=True)
    hints = traitlets.List(traitlets.Unicode()).tag(sync=True)
    hints_left = traitlets.Int().tag(sync=True)
    answered_before = traitlets.Bool(False).tag(sync=True)
    trouble = traitlets.Unicode().tag(sync=True)

    def __init__(
        self,
        prompt: str,
        options: Sequence[str],
        check: Check,
        hints: Sequence[str],
        because: str,
        key: str = "",
    ) -> None:
        super().__init__(prompt=prompt, options=list(options), hints_left=len(hints))
        self._check, self._hints, self._because = check, tuple(hints), because
        self.key = key or progress.key_of(prompt)
        self._kept = progress.beside()
        if self._kept is not None:
            self.answered_before = progress.in_done(self.key, self._kept.done)
        self.on_msg(self._asked)

    @in_turn
    def answer(self, answer: str) -> bool:
        """Answer the question; returns whether that is right."""
        answer = answer.strip()[:LONGEST_ANSWER]
        if not answer:
            self.verdict = "Give an answer first."
            return False
        found: bool | str
        try:
            found = self._check(answer)
        except ValueError:
            found = "That is not an answer of the kind that is asked for."
        right = found is True
        with self.hold_sync():
            if right:
                self.state, self.verdict, self.because = "right", "Right.", self._because
                self._keep()
            else:
                self.state = "wrong"
                self.verdict = found if isinstance(found, str) and found else "Not yet."
        return right

    def _keep(self) -> None:
        """Keep that it was answered; say so if that cannot be done, and go on."""
        if self._kept is None:
            return
        try:
            self._kept.note(self.key)
            self.trouble = ""
        except progress.ProgressError as error:
            self.trouble = f"This answer is not kept: {error}"

    def say_trouble(self, words: str) -> None:
        """Say that something failed, in the place of what was said before."""
        if words:
            self.verdict, self.trouble = "", words

    def hint(self) -> None:
        """Show the next hint, if one is left."""
        if self.hints_left:
            with self.hold_sync():
                self.hints = list(self._hints[: len(self.hints) + 1])
                self.hints_left -= 1

    def reveal(self) -> None:
        """Show the explanation without a right answer."""
        with self.hold_sync():
            self.because = self._because
            self.state = "shown"
            self.verdict = ""

    @in_turn
    def _asked(self, _: object, content: Any, buffers: object) -> None:
        self.trouble = ""
        match content:
            case {"ask": "check", "answer": str(answer)}:
                self.answer(answer)
            case {"ask": "hint"}:
                self.hint()
            case {"ask": "reveal"}:
                self.reveal()


def choice(
    prompt: str,
    options: Sequence[str],
    right: str | Check,
    hint: str | Sequence[str] = (),
    because: str = "",
    key: str = "",
    takes: Mapping[str, str] | None = None,
) -> Question:
    """A question with a few answers to choose from, shown in an order that tells nothing.

    Args:
        prompt: The question.
        options: The answers on offer.
        right: The right one, or a check that says whether an answer is right.
        hint: One hint or several, the gentlest first.
        because: The explanation, shown after a right answer or when all hints are used up.
        key: What it is kept under, if its prompt is not always the same: ``"09/first"``.
        takes: For a wrong answer, a sentence on what it would take for it to be right.

    Raises:
        ValueError: If there are not at least two options, all different, or if it cannot be
            answered because none of them is right.
    """
    if len(set(options)) != len(options) or len(options) < 2:
        raise ValueError("Give two or more options, no two of them the same.")
    check: Check = right if callable(right) else lambda answer: answer == right
    if not any(check(option.strip()) is True for option in options):
        raise ValueError(f"None of the options is right: {', '.join(options)}.")

    def told(answer: str) -> bool | str:
        found = check(answer)
        why = (takes or {}).get(answer, "")
        return f"Not yet. {why}" if found is False and why else found

    shuffled = Random(prompt).sample(list(options), len(options))
    return Question(prompt, shuffled, told, _listed(hint), because, key)


def short_answer(
    prompt: str,
    check: Check,
    hint: str | Sequence[str] = (),
    because: str = "",
    key: str = "",
) -> Question:
    """A question that is answered with a word, a character or a number.

    Args:
        prompt: The question.
        check: Says whether an answer is right; blanks round the answer are taken away before.
        hint: One hint or several, the gentlest first.
        because: The explanation, shown after a right answer or when all hints are used up.
        key: What it is kept under, if its prompt is not always the same: ``"09/first"``.
    """
    return Question(prompt, (), check, _listed(hint), because, key)


def _listed(hint: str | Sequence[str]) -> tuple[str, ...]:
    return (hint,) if isinstance(hint, str) else tuple(hint)
