"""Taking turns: what a screen does for one click is done before it begins the next.

A notebook may answer clicks in another thread than the one that runs its cells.  Without turns, a
log that is chosen while a machine is still being put on the bench would have half its page written
by the one and half by the other.
"""

from collections.abc import Callable
from functools import wraps
from threading import RLock
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
R = TypeVar("R")

_TURN = RLock()  # taken again by whoever has it: one callback may set off another


def in_turn(callback: Callable[P, R]) -> Callable[P, R]:
    """The same callback, which waits until every other that is so marked has come to its end."""

    @wraps(callback)
    def waits(*args: P.args, **kwargs: P.kwargs) -> R:
        with _TURN:
            return callback(*args, **kwargs)

    return waits
