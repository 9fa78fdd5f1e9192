"""Documents in which one value is wrong, place by place."""

import copy
import math
import tomllib
from collections.abc import Iterator
from typing import Any

WRONG = [True, -1, 10**30, math.inf, "wall", "", [], {"x": 1}]
Place = tuple[str | int, ...]


def with_wrong_value(text: str, wrong: object) -> Iterator[tuple[Place, str]]:
    """Each place in a TOML document, and the document with the wrong value there."""
    document = tomllib.loads(text)
    for at in _places(document):
        changed = copy.deepcopy(document)
        inner: Any = changed
        for key in at[:-1]:
            inner = inner[key]
        inner[at[-1]] = wrong
        yield at, "\n".join(f"{key} = {_toml(value)}" for key, value in changed.items())


def _places(tree: object, at: Place = ()) -> Iterator[Place]:
    if at:
        yield at
    inner = tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    for key, value in inner:
        yield from _places(value, (*at, key))


def _toml(value: object) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_toml(k)} = {_toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return f'"{value}"' if isinstance(value, str) else str(value).lower()
