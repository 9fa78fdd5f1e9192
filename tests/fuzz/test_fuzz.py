"""A few documents of each kind, the same in every run; `python -m tests.fuzz` tries as many as there is time for."""

import tomllib

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from tests.fuzz.grammar import toml
from tests.fuzz.kinds import KINDS
from tests.fuzz.mutations import DEMOS

ONE_IN = 5  # of a batch


@pytest.mark.parametrize("name", KINDS)
def test_is_refused_or_answered_soundly(name):
    kind = KINDS[name]

    @settings(max_examples=max(kind.share // ONE_IN, 2), derandomize=True, deadline=None, database=None,
              suppress_health_check=list(HealthCheck), phases=[Phase.generate])  # fmt: skip
    @given(kind.documents)
    def trial(document):
        kind.check(document)

    trial()


@pytest.mark.parametrize("name", DEMOS)
def test_demos_are_written_as_they_are_read(name):
    assert tomllib.loads(toml(DEMOS[name])) == DEMOS[name]
