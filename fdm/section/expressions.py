"""Numbers of a file given as expressions in the names of [let]: parsed with `ast`, never executed.

Expressions know `+ - * / ** ( )`, `min max sqrt pi` and the names of [let]. All arithmetic is in floats, so no
text, however hostile, costs more than its length.
"""

import ast
import keyword
import math
import operator
import re
import warnings
from collections.abc import Mapping
from functools import lru_cache
from graphlib import CycleError, TopologicalSorter
from numbers import Real
from unicodedata import is_normalized

from fdm.errors import InputError, nearest

KNOWN = "+ - * / ** ( ) min max sqrt pi and the names in [let]"
FUNCTIONS = ("max", "min", "sqrt")
OPERATORS = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: math.pow,
}
LONGEST = 500  # characters: far above any use, and low enough that nesting cannot exhaust the stack


def evaluate(text: str, names: Mapping[str, float]) -> float:
    """The value of an expression.

    Raises InputError where the text is no expression, uses an unknown name, or has no finite real value.

    >>> evaluate("max(wall - 2, 6) / 4", {"wall": 30})
    7.0
    """
    tree = _parsed(text)
    try:
        return _value(tree, {**names, "pi": math.pi})
    except InputError as error:
        raise InputError(f"{text!r} {error}{_slip(text)}") from None
    except ZeroDivisionError:
        raise InputError(f"{text!r} divides by zero; give a divisor that is not 0") from None
    except (OverflowError, ValueError):  # too large a power; a root or power that is complex
        raise InputError(f"{text!r} has no finite real value; give an expression that has one") from None
    except RecursionError:
        raise InputError(f"{text!r} is nested too deeply; give intermediate results a name in [let]") from None


def as_number(value: object, names: Mapping[str, float]) -> float:
    """A finite float from a number or an expression; InputError otherwise."""
    if isinstance(value, str):
        return evaluate(value, names)
    if isinstance(value, bool) or not isinstance(value, Real):
        raise InputError(f"is {kind(value)}; give a number or an expression")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise InputError(f"{number!r} is not finite; give a finite number")
    return number


def resolve(let: Mapping[str, float | str]) -> dict[str, float]:
    """The values of named numbers that may be given in terms of one another, in any order.

    Raises InputError where a name is not an identifier or has a meaning already, a value is not a number, or names
    depend on each other in a circle.

    >>> resolve({"block": "wall - 2", "wall": 30})
    {'block': 28.0, 'wall': 30.0}
    """
    for name in let:
        if not (name.isidentifier() and is_normalized("NFKC", name)) or keyword.iskeyword(name):
            raise InputError(f"let: {name!r} cannot be a name; start with a letter, then use letters, digits and _")
        if name in (*FUNCTIONS, "pi"):
            raise InputError(f"let: {name!r} has a meaning of its own in expressions; choose another name")
    uses: dict[str, list[str]] = {}
    for name, value in let.items():
        try:
            uses[name] = _names(_parsed(value)) if isinstance(value, str) else []
            for used in uses[name]:
                if used not in let:
                    raise InputError(f"{value!r} uses {used!r}, which is not in [let]; {nearest(used, let)}")
        except InputError as error:
            raise InputError(f"let, {name}: {error}") from None
    try:
        order = list(TopologicalSorter(uses).static_order())
    except CycleError as error:
        circle = " -> ".join(reversed(error.args[1]))
        raise InputError(f"let: {circle} goes in a circle; give one of these names a number") from None
    known: dict[str, float] = {}
    for name in order:
        try:
            known[name] = as_number(let[name], known)
        except InputError as error:
            raise InputError(f"let, {name}: {error}") from None
    return {name: known[name] for name in let}


def names_used(text: str) -> frozenset[str]:
    """The named numbers that an expression uses; InputError where it is none.

    >>> sorted(names_used("max(wall - 2, post) / pi"))
    ['post', 'wall']
    """
    return frozenset(_names(_parsed(text)))


def kind(value: object) -> str:
    """What a value of a TOML file is, in words.

    >>> kind([1, 2]), kind({})
    ('a list', 'a table')
    """
    words = {bool: "true or false", int: "a number", float: "a number", str: "text", list: "a list", dict: "a table"}
    return words.get(type(value), f"a {type(value).__name__}")


@lru_cache(maxsize=1000)  # a file may be read again and again with other numbers
def _parsed(text: str) -> ast.expr:
    if len(text) > LONGEST:
        raise InputError(
            f"an expression of {len(text)} characters is too long; give at most {LONGEST}, and the rest names in [let]"
        )
    try:
        with warnings.catch_warnings(action="ignore"):  # the parser's advice on Python
            return ast.parse(" ".join(text.split()), mode="eval").body
    except (SyntaxError, ValueError, MemoryError, RecursionError):
        raise InputError(f"{text!r} is no expression; expressions know {KNOWN}{_slip(text)}") from None


def _slip(text: str) -> str:
    """What to write instead in a text that is no expression, where that can be told; else empty."""
    if re.search(r"\d,\d", text) and not re.search("min|max", text):
        return "; decimals take a point, as in 4.5"
    if "^" in text:
        return "; a power is written **"
    return "; leave units out" if re.fullmatch(r"\s*[+-]?[\d.]+\s*(?:[^\W\d_]|[%°])[^+*()]*", text) else ""


def _names(tree: ast.expr) -> list[str]:
    """The named numbers that an expression uses."""
    called = {node.func for node in ast.walk(tree) if isinstance(node, ast.Call)}
    return [n.id for n in ast.walk(tree) if isinstance(n, ast.Name) and n not in called and n.id != "pi"]


def _value(node: ast.expr, names: Mapping[str, float]) -> float:
    match node:
        case ast.Constant(value=int() | float() as number) if not isinstance(number, bool):
            value = float(number)
        case ast.Name(id=name):
            if name == "inf":
                raise InputError("has inf in quotes; write it without them")
            if name not in names:
                raise InputError(f"uses {name!r}, which is not in [let]; {nearest(name, names)}")
            value = names[name]
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            value = -_value(operand, names)
        case ast.UnaryOp(op=ast.UAdd(), operand=operand):
            value = _value(operand, names)
        case ast.BinOp(left=left, op=op, right=right) if type(op) in OPERATORS:
            value = OPERATORS[type(op)](_value(left, names), _value(right, names))
        case ast.Call(func=ast.Name(id=name), args=args, keywords=[]):
            if name not in FUNCTIONS:
                raise InputError(f"calls {name!r}, which is no known function; {nearest(name, FUNCTIONS)}")
            if not args or (name == "sqrt" and len(args) > 1):
                raise InputError(f"gives {name} {len(args)} numbers; sqrt takes one, min and max at least one")
            values = [_value(a, names) for a in args]
            value = math.sqrt(values[0]) if name == "sqrt" else min(values) if name == "min" else max(values)
        case _:
            raise InputError(f"holds something that expressions do not know; they know {KNOWN}")
    if not math.isfinite(value):
        raise OverflowError
    return value
