"""Charts say what the diagnosis and the tolerances say."""

import numpy as np
import pytest

import mechlogic
from mechlogic.drawing.charts import at_the_hammer, chance_by_entry
from mechlogic.fit.hammer import HammerError
from mechlogic.fit.tolerance import build

WIND = mechlogic.load("wind")


def test_the_last_chance_of_each_curve_is_that_of_the_diagnosis():
    log = mechlogic.from_lines("NESWNE", "NENWNE", WIND.code)
    (axes,) = chance_by_entry(WIND, log).axes
    suspects = mechlogic.diagnose(WIND, log).suspects
    for line, suspect in zip(axes.get_lines(), suspects, strict=False):
        assert list(line.get_xdata()) == [1, 2, 3, 4, 5, 6]
        assert line.get_ydata()[-1] == pytest.approx(suspect.probability)
    assert len({line.get_marker() for line in axes.get_lines()}) == len(axes.get_lines())


def test_the_share_between_the_dashed_lines_is_that_of_good_prints():
    (axes,) = at_the_hammer(WIND, 4000).axes
    low, high = (line.get_xdata()[0] for line in axes.get_lines())
    heights = np.array([bar.get_height() for bar in axes.patches])
    middles = np.array([bar.get_x() + bar.get_width() / 2 for bar in axes.patches])
    within = heights[(low <= middles) & (middles <= high)].sum() / heights.sum()
    assert within == pytest.approx(np.mean(build(WIND, 4000).clean), abs=0.01)


def test_a_machine_without_type_has_no_such_chart():
    with pytest.raises(HammerError):
        at_the_hammer(mechlogic.load("sluice"))
