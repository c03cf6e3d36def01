"""Taking turns: what a screen does for one click is done before it begins the next.

A notebook may answer clicks in another thread than the one that runs its cells.  Without turns, a
log that is chosen while a machine is still being put on the bench would have half its page written
by the one and half by the other.

A callback that fails ends in silence: the notebook puts its error where no reader looks.  So the
screen that it belongs to says what happened.
"""

from collections.abc import Callable
from functools import wraps
from threading import RLock
from typing import Any, ParamSpec, Protocol, TypeVar

P = ParamSpec("P")
R = TypeVar("R")

_TURN = RLock()  # taken again by whoever has it: one callback may set off another

GO_ON = "What was written before is kept. Try again, or run this cell again."


class Says(Protocol):
    """What has a place to say that something failed, such as a Screen."""

    def say_trouble(self, words: str) -> None:
        """Say it; nothing if *words* is empty."""
        ...


def in_turn(callback: Callable[P, R], screen: Says | None = None) -> Callable[P, R]:
    """The same callback, which waits until every other that is so marked has come to its end.

    Args:
        callback: A method of a screen, or any function.
        screen: Told what happened if the callback fails or is interrupted.  If left out, it is the
            object that the method belongs to, provided that it has a ``say_trouble``.
    """

    @wraps(callback)
    def waits(*args: P.args, **kwargs: P.kwargs) -> R:
        owner: Any = screen or (args[0] if args else None)
        say: Callable[[str], None] = getattr(owner, "say_trouble", lambda _: None)
        with _TURN:
            try:
                done = callback(*args, **kwargs)
            except KeyboardInterrupt:
                say(f"It was interrupted. {GO_ON}")
                raise
            except Exception as error:
                say(f"It failed ({type(error).__name__}: {error}). {GO_ON}")
                raise
            say("")
            return done

    return waits
