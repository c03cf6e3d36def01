"""Live pictures and questions for notebooks: thin, traits in, picture and words out.

The names below are loaded only when they are asked for, so that
:mod:`mechlogic.widgets.frames`, which needs no notebook, can be used without one.
"""

import re
from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from mechlogic.widgets.claim_box import ClaimBox
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
    from mechlogic.widgets.rack_trial import RackTrial
    from mechlogic.widgets.record_box import RecordBox
    from mechlogic.widgets.sealed_box import SealedBox
    from mechlogic.widgets.where_logic_breaks import WhereLogicBreaks

__all__ = [
    "ClaimBox",
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
    "RackTrial",
    "RecordBox",
    "RolesBox",
    "SealedBox",
    "WhereLogicBreaks",
    "choice",
    "short_answer",
]

_HOME = {
    "Progress": "progress_list",
    "RolesBox": "describe_box",
    "choice": "questions",
    "short_answer": "questions",
}
"""Where a name is at home, if that is not the file called after it: ClubBox in club_box."""


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    import_module(f"{__name__}.cells").watch()
    home = _HOME.get(name) or re.sub("(?<=[a-z])(?=[A-Z])", "_", name).lower()
    return getattr(import_module(f"{__name__}.{home}"), name)
