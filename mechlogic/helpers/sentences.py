"""Small helps for putting words together."""

from collections.abc import Iterable
from fractions import Fraction


def listed(items: Iterable[str], last: str = "and") -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    words = list(items)
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def counted(n: int, one: str, many: str) -> str:
    """``no entries``, ``1 entry``, ``2 entries``."""
    return f"{n or 'no'} {one if n == 1 else many}"


def figure(number: Fraction | float) -> str:
    """A number for a sentence, in six figures at most."""
    return f"{float(number):g}"
