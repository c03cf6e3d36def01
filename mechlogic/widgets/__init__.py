"""Live pictures and questions for notebooks: thin, traits in, picture and words out.

The names below are loaded only when they are asked for, so that
:mod:`mechlogic.widgets.frames`, which needs no notebook, can be used without one.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from mechlogic.widgets.club_box import ClubBox
    from mechlogic.widgets.describe_box import DescribeBox, RolesBox
    from mechlogic.widgets.error_map import ErrorMap
    from mechlogic.widgets.fault_bench import FaultBench
    from mechlogic.widgets.line_box import LineBox
    from mechlogic.widgets.log_bench import LogBench
    from mechlogic.widgets.machine_view import MachineView
    from mechlogic.widgets.oil_and_time import OilAndTime
    from mechlogic.widgets.part_way import PartWay
    from mechlogic.widgets.practice import Practice
    from mechlogic.widgets.progress_list import Progress
    from mechlogic.widgets.questions import choice, short_answer
    from mechlogic.widgets.record_box import RecordBox
    from mechlogic.widgets.sealed_box import SealedBox
    from mechlogic.widgets.where_logic_breaks import WhereLogicBreaks

__all__ = [
    "ClubBox",
    "DescribeBox",
    "ErrorMap",
    "FaultBench",
    "LineBox",
    "LogBench",
    "MachineView",
    "OilAndTime",
    "PartWay",
    "Practice",
    "Progress",
    "RecordBox",
    "RolesBox",
    "SealedBox",
    "WhereLogicBreaks",
    "choice",
    "short_answer",
]

_HOME = {
    "ClubBox": "club_box",
    "DescribeBox": "describe_box",
    "ErrorMap": "error_map",
    "FaultBench": "fault_bench",
    "LineBox": "line_box",
    "LogBench": "log_bench",
    "MachineView": "machine_view",
    "OilAndTime": "oil_and_time",
    "PartWay": "part_way",
    "Practice": "practice",
    "Progress": "progress_list",
    "RecordBox": "record_box",
    "RolesBox": "describe_box",
    "SealedBox": "sealed_box",
    "WhereLogicBreaks": "where_logic_breaks",
    "choice": "questions",
    "short_answer": "questions",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    import_module(f"{__name__}.cells").watch()
    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
