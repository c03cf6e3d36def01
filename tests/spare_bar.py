"""A code bar that nothing senses, for tests of what no print can show."""

from dataclasses import replace
from fractions import Fraction

from mechlogic.model.laws import Bit
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import Mechanism, Part


def with_spare_bar(machine: Machine, parity: str = "even") -> Machine:
    """A machine of seven bits with one bar more, for the bit behind those of its code."""
    spare = Part("bar8", Bit(8, Fraction(4)), label="spare bar")
    return replace(machine, mechanism=Mechanism([*machine.mechanism, spare]), parity=parity)
