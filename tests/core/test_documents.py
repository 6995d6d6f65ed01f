"""Records go through plain documents and come back as they were."""

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from burn_examples import TESTED
from pourwright.core.burns.change import Fingerprint
from pourwright.core.documents import BadDocument, document_of, record_of
from pourwright.core.planning.model import Bounds, LineAnswer, Plan, Problem, Session


@settings(max_examples=15, suppress_health_check=[HealthCheck.too_slow])
@given(st.builds(Problem))
def test_a_problem_comes_back_as_it_was(problem):
    through_text = json.loads(json.dumps(document_of(problem)))
    assert record_of(Problem, through_text) == problem


@settings(max_examples=15, suppress_health_check=[HealthCheck.too_slow])
@given(st.builds(Plan))
def test_a_plan_comes_back_as_it_was(plan):
    assert record_of(Plan, json.loads(json.dumps(document_of(plan)))) == plan


def test_a_fingerprint_comes_back_as_it_was():
    assert record_of(Fingerprint, json.loads(json.dumps(document_of(TESTED)))) == TESTED


def test_what_an_older_document_lacks_takes_its_default():
    found = record_of(Session, {"key": "a", "on": "2026-03-02", "start_s": 0, "length_s": 60})
    assert (found.people, found.melters) == (1, None)


@pytest.mark.parametrize(
    ("kind", "document"),
    [
        (Session, {"key": "a", "on": "2 March", "start_s": 0, "length_s": 60}),
        (Session, {"key": "a", "on": "2026-03-02", "start_s": "0", "length_s": 60}),
        (Session, {"key": "a"}),
        (Session, {"key": "a", "day": 3}),
        (LineAnswer, {"line": "a", "on_time": True, "late": 0, "ready_on": None}),
        (Bounds, []),
    ],
)
def test_what_is_no_record_is_refused(kind, document):
    with pytest.raises(BadDocument):
        record_of(kind, document)
