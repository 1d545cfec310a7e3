"""Which question would help: what an answer saves is worked out from how likely it is."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.shipped import knowledge

from lapwise.engine.case import Case
from lapwise.engine.diagnosis import Session
from lapwise.engine.diagnosis.unknowns import foreseen


def test_asking_alone_moves_no_belief() -> None:
    p = np.array([0.6, 0.3, 0.1])
    joint = foreseen(p, [np.array([2.3, 0.0, 0.0]), np.array([0.0, -1.4, 0.0]), np.zeros(3)])
    assert joint.sum(axis=0) == pytest.approx(p)
    assert (joint > 0).all()


def test_an_answer_counts_as_it_is_to_be_expected() -> None:
    rare = foreseen(np.array([0.99, 0.01]), [np.array([0.0, 2.3]), np.zeros(2)]).sum(axis=1)
    assert rare[0] == pytest.approx(0.5, abs=0.01)
    usual = foreseen(np.array([0.01, 0.99]), [np.array([0.0, 2.3]), np.zeros(2)]).sum(axis=1)
    assert usual[0] > 0.9


@pytest.mark.parametrize("symptom", ["stays-dull", "pits", "orange-peel", "skates"])
def test_no_question_saves_more_than_most_of_the_way(symptom: str) -> None:
    answer = Session(knowledge()).answer(Case(symptoms=(symptom,)))
    assert answer.unknown_that_would_help
    assert all(u.value_minutes < answer.expected_minutes / 4 for u in answer.unknown_that_would_help)
