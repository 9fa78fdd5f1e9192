"""Expressions in named numbers: what they are worth, and that hostile text gives one clear error."""

import itertools
import math

import pytest

from fdm.errors import InputError
from fdm.section.expressions import evaluate, resolve


@pytest.mark.parametrize(
    "text, value",
    [
        ("wall - 2", 28),
        ("2 + 3 * 4 ** 2", 50),
        ("-2 ** 2", -4),
        ("2 ** 3 ** 2", 512),
        ("(2 + 3) * -(4 - 5)", 5),
        ("+wall / 4", 7.5),
        ("min(wall, 6, 8) + max(1, wall)", 36),
        ("sqrt(wall + 6)", 6),
        ("2 * pi", 2 * math.pi),
        ("  wall\n + 1 ", 31),
        ("1e-3", 1e-3),
        ("7 / 2", 3.5),
    ],
)
def test_value(text, value):
    assert evaluate(text, {"wall": 30.0}) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(
    "text, message",
    [
        ("", "no expression"),
        ("wall +", "no expression"),
        ("wall width", "no expression"),
        ("1\x00", "no expression"),
        ("wal + 1", "uses 'wal', .* did you mean 'wall'"),
        ("nan", "uses 'nan'"),
        ("inf", "has inf in quotes; write it without them"),
        ("sqr(4)", "calls 'sqr', .* did you mean 'sqrt'"),
        ("wall(2)", "calls 'wall'"),
        ("sqrt(1, 2)", "sqrt takes one"),
        ("min()", "at least one"),
        ("1 / 0", "divides by zero"),
        ("1 / (wall - 30)", "divides by zero"),
        ("9**9**9", "no finite real value"),
        ("1e308 * 10", "no finite real value"),
        ("1 / 1e999", "no finite real value"),
        ("9" * 400, "no finite real value"),
        ("(-1)**0.5", "no finite real value"),
        ("sqrt(-1)", "no finite real value"),
        ("0 ** -1", "no finite real value"),
        ("2 ^ 3", "do not know"),
        ("7 // 2", "do not know"),
        ("True", "do not know"),
        ("2j", "do not know"),
        ("'wall'", "do not know"),
        ("wall.real", "do not know"),
        ("[1][0]", "do not know"),
        ("(lambda: 1)()", "do not know"),
        ("1 if wall else 2", "do not know"),
        ("min(*wall)", "do not know"),
        ("min(1, key=wall)", "do not know"),
        ("__import__('os').getcwd()", "do not know"),
        pytest.param("1 + " * 100_000 + "1", "400001 characters is too long", id="long"),
        pytest.param("-" * 10**6 + "1", "too long", id="longer"),
        ("(" * 240 + "1" + ")" * 240, "no expression"),
    ],
)
def test_refused(text, message):
    with pytest.raises(InputError, match=message):
        evaluate(text, {"wall": 30.0})


def test_deep_nesting_within_the_limit_is_a_value_or_an_error():
    for text in ("-" * 498 + "1", "1+" * 249 + "1", "1**" * 160 + "1", "min(" * 90 + "1" + ")" * 90):
        assert len(text) <= 500
        assert math.isfinite(evaluate(text, {}))


def test_names_resolve_in_any_order():
    let = resolve({"c": "a + b", "b": "2 * a", "a": 3, "d": 1.5})
    assert let == {"c": 9, "b": 6, "a": 3, "d": 1.5}
    assert list(let) == ["c", "b", "a", "d"]


def test_a_long_chain_resolves():
    let = {f"n{i}": f"n{i + 1} + 1" for i in range(5000)} | {"n5000": 0}
    assert resolve(let)["n0"] == 5000


def test_a_circle_is_spelled_out():
    with pytest.raises(InputError) as error:
        resolve({"free": 1, "a": "b + free", "b": "c * 2", "c": "a"})
    circle = str(error.value).removeprefix("let: ").split(" goes ")[0].split(" -> ")
    assert circle[0] == circle[-1] and sorted(circle[1:]) == ["a", "b", "c"]
    follows = {"a": "b", "b": "c", "c": "a"}
    assert all(follows[x] == y for x, y in itertools.pairwise(circle))


def test_a_name_in_terms_of_itself_is_a_circle():
    with pytest.raises(InputError, match="let: a -> a goes in a circle"):
        resolve({"a": "a + 1"})


@pytest.mark.parametrize("name", ["min", "max", "sqrt", "pi"])
def test_names_with_a_meaning_are_refused(name):
    with pytest.raises(InputError, match=f"let: '{name}' has a meaning of its own"):
        resolve({name: 1})


@pytest.mark.parametrize("name", ["", "wall width", "2nd", "a-b", "if", "None", "\u00b5"])
def test_names_that_are_no_identifiers_are_refused(name):
    with pytest.raises(InputError, match="let: .* cannot be a name"):
        resolve({name: 1})


@pytest.mark.parametrize(
    "value, message",
    [
        (True, "let, a: is true or false"),
        ([1], "let, a: is a list"),
        ({"b": 1}, "let, a: is a table"),
        (math.inf, "let, a: inf is not finite"),
        (math.nan, "let, a: nan is not finite"),
        (10**400, "let, a: inf is not finite"),
        pytest.param(1 << 100_000, "let, a: inf is not finite", id="too many digits to print"),
        ("1 +", "let, a: '1 \\+' is no expression"),
        ("waal", "let, a: 'waal' uses 'waal', .* did you mean 'wall'"),
    ],
)
def test_values_that_are_no_numbers_are_refused(value, message):
    with pytest.raises(InputError, match=message):
        resolve({"wall": 30, "a": value})
