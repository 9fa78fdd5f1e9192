"""A few documents of each kind, the same in every run; `python -m tests.fuzz` tries as many as there is time for."""

import tomllib
import warnings

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from fdm import InputError
from tests.fuzz import properties
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


def at_fault(*_):
    raise InputError("long " * 1000)


def of_no_meaning(*_):
    raise ZeroDivisionError


def warned(*_):
    warnings.warn("invalid value encountered", RuntimeWarning, stacklevel=1)
    return 1.0


def endless(*_):
    while True:
        pass


@pytest.mark.parametrize(
    "wrong, fault",
    [
        (lambda *_: float("nan"), properties.Broken),
        (at_fault, properties.Broken),
        (of_no_meaning, ZeroDivisionError),
        (warned, RuntimeWarning),
        (endless, properties.Broken),
    ],
)
def test_what_is_wrong_is_noticed(monkeypatch, wrong, fault):
    monkeypatch.setattr(properties, "evaluate", wrong)
    monkeypatch.setattr(properties, "SECONDS", 0.05)
    with pytest.raises(fault):
        properties.expression("1")
