"""Work that is interrupted or fails leaves a button that can be pressed again, and says why."""

import pytest

from mechlogic.helpers.refusal import TooMuch
from mechlogic.widgets.buttons import WorkButton


@pytest.mark.parametrize("ends", [KeyboardInterrupt(), TooMuch("too many", "try less"), None])
def test_a_button_can_be_pressed_again_however_its_work_ends(ends):
    said, seen = [], []

    def work():
        seen.append((button.disabled, button.description))
        if ends:
            raise ends

    button = WorkButton("Look further", "Looking …", work, said.append)
    button.click()
    button.click()
    assert seen == [(True, "Looking …")] * 2
    assert (button.disabled, button.description) == (False, "Look further")
    assert len(said) == (2 if ends else 0) and all(said)


def test_a_mistake_is_said_and_is_not_hidden():
    said = []

    def work():
        raise RuntimeError("a mistake")

    button = WorkButton("Look further", "Looking …", work, said.append)
    with pytest.raises(RuntimeError):
        button._pressed()
    assert "a mistake" in said[0] and not button.disabled
