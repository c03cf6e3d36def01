"""A refusal says what is wrong and what to do about it, also after it has been sent elsewhere."""

import pickle

import pytest

from mechlogic.describing.compare import CompareError
from mechlogic.describing.roles import RolesError
from mechlogic.fit.adjustment import AdjustmentError
from mechlogic.fit.hammer import HammerError
from mechlogic.helpers.refusal import Refusal
from mechlogic.model.codes import CodeError
from mechlogic.time.timing import TimingError

KINDS = [Refusal, AdjustmentError, CodeError, CompareError, HammerError, RolesError, TimingError]


@pytest.mark.parametrize("kind", KINDS)
def test_the_message_is_what_is_wrong_and_what_to_do(kind):
    said = kind("the shaft does not turn", "Take the lock off.")
    assert str(said) == "the shaft does not turn. Take the lock off."
    assert (said.what, said.mend) == ("the shaft does not turn", "Take the lock off.")
    assert isinstance(said, ValueError)


@pytest.mark.parametrize("kind", KINDS)
def test_a_refusal_is_the_same_in_another_process(kind):
    said = pickle.loads(pickle.dumps(kind("the shaft does not turn", "Take the lock off.")))
    assert type(said) is kind
    assert (said.what, said.mend) == ("the shaft does not turn", "Take the lock off.")
