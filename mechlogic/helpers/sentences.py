"""Small helps for putting words together."""

from collections.abc import Iterable
from fractions import Fraction


def listed(items: Iterable[str], last: str = "and") -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    words = list(items)
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def figure(number: Fraction | float) -> str:
    """A number for a sentence, in six figures at most."""
    return f"{float(number):g}"
