"""Every public quantity of the modules about time carries its unit, in name and in words."""

import inspect
import re
from dataclasses import fields, is_dataclass

import pytest

from mechlogic.model import mechanism, motion
from mechlogic.time import oil, startstop, timing

MODULES = (motion, oil, timing, startstop)

UNITS = {  # the end of a name -> what its description must say
    "_n_per_mm": r"N/mm|spring's rate|Rate of (its|the) spring",
    "_ns_per_m": r"N·s/m",
    "_mm2_per_s": r"mm²/s",
    "_g_per_cm3": r"g/cm³",
    "_g_mm2": r"g·mm²",
    "_mm2": r"mm²",
    "_mm": r"\bmm\b",
    "_ms": r"\bms\b",
    "_degc": r"degrees C",
    "_g": r"\bg\b",
    "_n": r"\bN\b|Force of the spring",
    "_in_k": r"\bK\b",
    "characters_per_s": r"characters? .*second",
    "_share": r"[Ss]hare",
    "_units": r"units",
    "baud": r"baud|Units a second",
}
"""Longest first, so that a spring's rate is not taken for a force."""

WITHOUT_A_UNIT = {  # ratios and numbers of things, and what their description must say
    "thickness": r"How many times",
    "thickened": r"[Hh]ow many times",
    "wear": r"How many times",
    "damping_ratio": r"multiple",
    "units": r"[Uu]nits",
    "bits": r"[Bb]its",
    "bit": r"\bbit",
    "speed_error": r"share",
    "centre": r"share",
    "bit_margin": r"share of a unit",
    "margin": r"share of a unit",
    "weakest_bit": r"bit",
    "bits_at_risk": r"bits",
    "speed_limits": r"shares",
    "slowest_for_rest": r"share",
}
NUMBERS = re.compile(r"\b(float|int|Fraction)\b")


def entries(docstring):
    """The entries of the Attributes, Args and Returns of a docstring, by name."""
    found = {}
    for name, text in re.findall(
        r"^ +(\w+): (.*?)(?=^ +\w+: |^\s*$|\Z)", docstring or "", re.MULTILINE | re.DOTALL
    ):
        found[name] = " ".join(text.split())
    return found


def quantities():
    """(where, name, words) of each number that the modules take, hold or give."""
    for module in MODULES:
        for name, thing in vars(module).items():
            if name.startswith("_") or getattr(thing, "__module__", "") != module.__name__:
                continue
            where = f"{module.__name__}.{name}"
            if inspect.isclass(thing):
                yield from of_class(where, thing)
            elif inspect.isfunction(thing):
                yield from of_function(where, thing, {})


def of_class(where, thing):
    words = entries(thing.__doc__)
    if is_dataclass(thing):
        for field in fields(thing):
            if NUMBERS.search(str(field.type)):
                yield where, field.name, words.get(field.name, "")
    for name, member in vars(thing).items():
        if name.startswith("_"):
            continue
        if isinstance(member, property):
            if NUMBERS.search(str(inspect.signature(member.fget).return_annotation)):
                yield where, name, member.__doc__ or ""
        elif inspect.isfunction(member):
            yield from of_function(f"{where}.{name}", member, words)


def of_function(where, function, words):
    doc = function.__doc__ or ""
    words = {**words, **entries(doc)}
    signature = inspect.signature(function)
    for name, parameter in signature.parameters.items():
        if NUMBERS.search(str(parameter.annotation)):
            yield where, name, f"{words.get(name, '')} {doc.splitlines()[0] if doc else ''}"
    returns = str(signature.return_annotation)
    if NUMBERS.search(returns) and "Stroke" not in returns:
        yield where, function.__name__, doc


def rule_for(name):
    if name in WITHOUT_A_UNIT:
        return WITHOUT_A_UNIT[name]
    return next((words for end, words in UNITS.items() if name.endswith(end)), None)


FOUND = list(quantities())


@pytest.mark.parametrize(
    ("where", "name", "words"), FOUND, ids=[f"{where}:{name}" for where, name, _ in FOUND]
)
def test_a_quantity_carries_its_unit_in_name_and_words(where, name, words):
    rule = rule_for(name)
    assert rule, f"{where}: {name} has no unit in its name"
    if "As for" in words:  # it is said at the function that is named there
        return
    assert re.search(rule, " ".join(words.split())), f"{where}: {name} does not say its unit"


def test_the_test_sees_the_quantities():
    names = {name for _, name, _ in FOUND}
    assert {"mass_g", "time_ms", "within_mm", "coldest_degc", "bounce_ms", "baud"} <= names
    assert len(FOUND) > 80


def test_a_quantity_without_a_unit_is_seen():
    def speed(spring: float) -> float:
        """How fast it is."""
        return spring

    found = list(of_function("here", speed, {}))
    assert [name for _, name, _ in found] == ["spring", "speed"]
    assert [rule_for(name) for _, name, _ in found] == [None, None]


def test_constants_carry_their_unit_too():
    for module in (oil, timing):
        numbers = [n for n, v in vars(module).items() if n.isupper() and isinstance(v, float)]
        assert numbers
        assert all(name.endswith(("_DEGC", "_K")) for name in numbers)


def test_parts_say_how_long_their_contacts_bounce_in_ms():
    words = entries(mechanism.Part.__doc__)
    assert re.search(UNITS["_ms"], words["bounce_ms"])
