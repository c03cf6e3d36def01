"""Answers that are kept with the thing they are about, and go when it goes.

What is worked out for a machine would otherwise hold that machine in memory for good.
"""

from collections.abc import Callable
from functools import lru_cache, partial, wraps
from typing import Any, Concatenate, ParamSpec, TypeVar

Owner = TypeVar("Owner")
P = ParamSpec("P")
R = TypeVar("R")

Function = Callable[Concatenate[Owner, P], R]


def kept(most: int | None) -> Callable[[Function[Owner, P, R]], Function[Owner, P, R]]:
    """A cache for a function of a machine, or of anything else that is never changed.

    Like :func:`functools.lru_cache`, but the answers are kept in the function's first argument:
    two owners never share an answer, and an owner that nobody holds any more takes all of its
    answers with it.

    Args:
        most: How many answers are kept for one owner; None for all.
    """

    def decorate(function: Function[Owner, P, R]) -> Function[Owner, P, R]:
        @wraps(function)
        def answer(owner: Owner, /, *args: P.args, **kwargs: P.kwargs) -> R:
            caches: dict[Any, Any] = vars(owner).setdefault("_kept", {})
            if function not in caches:
                caches.setdefault(function, lru_cache(most)(partial(function, owner)))
            found: R = caches[function](*args, **kwargs)
            return found

        return answer

    return decorate
