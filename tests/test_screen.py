"""A screen that shows other boxes closes those that were there before."""

from ipywidgets.widgets.widget import _instances

import mechlogic
from mechlogic.widgets import LogBench, Practice

WIND = mechlogic.load("wind")


def test_a_machine_put_on_again_leaves_no_widget_behind():
    bench = LogBench(WIND, (), storage=None)
    before = len(_instances)
    for _ in range(3):
        bench.put_on(WIND)
    assert len(_instances) == before


def test_other_exercises_leave_no_widget_behind():
    practice = Practice(WIND, ("who",))
    before = len(_instances)
    practice.number.value += 1
    assert len(_instances) == before
