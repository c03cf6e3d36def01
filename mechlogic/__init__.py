"""Teach, prove and diagnose mechanical code decoders.

>>> import mechlogic
>>> machine = mechlogic.load("saltmere")
>>> machine.good_print("A")
'A'

A mechanism is described once, as parts and the laws that join them.  Everything else is a reading
of that description: the table of all codes, the formulas, the words, the picture, the faults.
"""

from mechlogic.bench.advice import Check, next_check
from mechlogic.bench.diagnosis import Diagnosis, Suspect, classes, diagnose
from mechlogic.bench.plan import Plan, plan
from mechlogic.bench.search import look_further
from mechlogic.bench.verdict import Verdict, judge
from mechlogic.describing.description import DescriptionError
from mechlogic.explaining.words import explain
from mechlogic.machines import load
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import MODES, Fault, FaultError, single_faults
from mechlogic.model.logbook import (
    NOTHING,
    UNREADABLE,
    Entry,
    Logbook,
    LogbookError,
    from_lines,
    parse_logbook,
    read_logbook,
    write_logbook,
)
from mechlogic.model.machine import Machine
from mechlogic.model.steps import prints
from mechlogic.notebook import show_in_notebooks

__version__ = "0.1.0"

show_in_notebooks()

__all__ = [
    "MODES",
    "NOTHING",
    "UNREADABLE",
    "Behaviour",
    "Check",
    "DescriptionError",
    "Diagnosis",
    "Entry",
    "Fault",
    "FaultError",
    "Logbook",
    "LogbookError",
    "Machine",
    "Plan",
    "Suspect",
    "Verdict",
    "classes",
    "diagnose",
    "explain",
    "from_lines",
    "judge",
    "load",
    "look_further",
    "next_check",
    "parse_logbook",
    "plan",
    "prints",
    "read_logbook",
    "single_faults",
    "write_logbook",
]
