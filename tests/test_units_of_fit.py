"""Every public quantity of the millimetre modules says its unit, by name or docstring."""

import dataclasses
import importlib
import inspect
import re

import pytest

MODULES = [
    "model.dimensions", "fit.linkage", "fit.hammer", "fit.tolerance", "fit.adjustment",
    "fit.fit_pages", "widgets.error_map", "widgets.where_logic_breaks",
]  # fmt: skip
UNIT = re.compile(
    r"\b(mm|degrees?|ms|px|minutes|ratio|counts?|units?|shares?|0 to 1|[Cc]odes?|windows|seed)\b"
)
SUFFIX = re.compile(r"_(mm|deg|ms|px)$")
NUMBERS = re.compile(r"\b(float|Fraction|Number|Numbers|int)\b")


def own(module, kind):
    """The public things of a kind that a module itself defines."""
    return [
        (name, thing)
        for name, thing in vars(module).items()
        if not name.startswith("_") and kind(thing) and thing.__module__ == module.__name__
    ]


def entry(doc: str, name: str) -> str:
    """What a docstring says under a name: the name's line, and the indented lines below it."""
    found = re.search(rf"^ *(?:\w+, )*{name}(?:, \w+)*: (.*(?:\n {{5,}}\S.*)*)", doc, re.MULTILINE)
    return found[1] if found else ""


def silent(module) -> list[str]:
    """Quantities of a module that do not say their unit."""
    found = []
    for name, value in vars(module).items():
        if name.isupper() and isinstance(value, int | float) and not SUFFIX.search(name.lower()):
            source = inspect.getsource(module)
            said = re.search(rf'^{name}\b[^\n]*\n"""([^"]*)"""', source, re.MULTILINE)
            if said and not UNIT.search(said[1]):
                found.append(name)
    for name, function in own(module, inspect.isfunction):
        hints = " ".join(map(str, inspect.get_annotations(function).values()))
        if NUMBERS.search(hints) and not (
            SUFFIX.search(name) or UNIT.search(inspect.getdoc(function) or "")
        ):
            found.append(name)
    for name, kind in own(module, inspect.isclass):
        for field in dataclasses.fields(kind) if dataclasses.is_dataclass(kind) else ():
            said = entry(inspect.getdoc(kind) or "", field.name)
            is_number = NUMBERS.search(str(field.type))
            if is_number and not (SUFFIX.search(field.name) or UNIT.search(said)):
                found.append(f"{name}.{field.name}")
    return found


@pytest.mark.parametrize("name", MODULES)
def test_every_public_quantity_has_a_unit_in_its_name_or_its_docstring(name: str):
    assert silent(importlib.import_module(f"mechlogic.{name}")) == []


def test_the_inspection_finds_a_quantity_without_a_unit(tmp_path, monkeypatch):
    source = '''
from dataclasses import dataclass

DEPTH = 3.0
"""How deep it goes."""

@dataclass
class Lever:
    """A lever.

    Attributes:
        arm: Its arm.
        way_mm: Its way.
        turn: Its turn, in degrees.
    """

    arm: float
    way_mm: float
    turn: float

def reach(arm: float) -> float:
    """How far it reaches."""
    return arm
'''
    (tmp_path / "unmeasured.py").write_text(source, encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    assert silent(importlib.import_module("unmeasured")) == ["DEPTH", "reach", "Lever.arm"]
