"""Documents that once made sense, with a few things about them changed."""

import copy
import math
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from tests.fuzz.grammar import Document, edge_numbers, strange, toml, words

GEOMETRIES = Path(__file__).parents[2] / "geometries"
DEMOS = {path.stem: tomllib.loads(path.read_text("utf-8")) for path in GEOMETRIES.glob("*.toml")}
PLATE: Document = {  # ten lines that make a whole file
    "unit": "mm",
    "depth": 100,
    "let": {"base": 4},
    "environment": [{"name": "air", "temperature": 25, "film": {"value": 10, "uncertainty": 2}}],
    "part": [{"name": "plate", "material": "aluminium 6063-T5", "rectangle": {"x": [0, 120], "y": [0, "base"]}}],
    "border": {"top": "air"},
    "source": [{"name": "module", "segment": {"x": [40, 80], "y": 0}, "heat": 6}],
    "sensor": [{"name": "probe", "at": [10, 0], "should_read": "module"}],
    "spreading": [{"part": "plate"}],
}
Place = tuple[dict[str, Any] | list[Any], Any]  # what holds a value, and its key or number there


def places(value: Any) -> Iterator[Place]:
    """Every place in a document."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield value, key
        yield from places(inner)


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


@st.composite
def changed(draw: st.DrawFn, original: Document, most: int = 2) -> Document:
    """The document with one to `most` changes."""
    document = copy.deepcopy(original)
    for _ in range(draw(st.integers(1, most))):
        change = draw(
            st.sampled_from(
                [scale, scale, scale, scale_named, replace, retype, remove, rename, double, swap, squeeze, rename_all]
            )
        )
        change(draw, document)
    return document


def _pick(draw: st.DrawFn, found: list[Place]) -> Place | None:
    return draw(st.sampled_from(found)) if found else None


def _numbers(document: Any) -> list[Place]:
    return [(holder, key) for holder, key in places(document) if _is_number(holder[key])]


def scale(draw: st.DrawFn, document: Document) -> None:
    """A number times a power of ten."""
    if place := _pick(draw, _numbers(document)):
        holder, key = place
        try:
            holder[key] = holder[key] * 10.0 ** draw(st.sampled_from([-1, 1, -3, 3, -6, 6, -15, 15, -300, 300]))
        except OverflowError:
            holder[key] = math.inf


def scale_named(draw: st.DrawFn, document: Document) -> None:
    """A named number times a factor."""
    if place := _pick(draw, _numbers(document.get("let", {}))):
        holder, key = place
        holder[key] = holder[key] * draw(st.sampled_from([0.5, 2, 0.1, 10, 0.01, 1.0000001]))


def replace(draw: st.DrawFn, document: Document) -> None:
    """A number by zero, a negative one, one that is not finite, .."""
    if place := _pick(draw, _numbers(document)):
        holder, key = place
        holder[key] = draw(edge_numbers)


def retype(draw: st.DrawFn, document: Document) -> None:
    """Anything by something else."""
    if place := _pick(draw, list(places(document))):
        holder, key = place
        holder[key] = draw(strange)


def remove(draw: st.DrawFn, document: Document) -> None:
    if place := _pick(draw, list(places(document))):
        holder, key = place
        del holder[key]


def rename(draw: st.DrawFn, document: Document) -> None:
    """A key by another one, new or of the same table."""
    if place := _pick(draw, [(h, k) for h, k in places(document) if isinstance(h, dict)]):
        holder, key = place
        assert isinstance(holder, dict)
        new = draw(st.one_of(words, st.sampled_from(sorted(holder))))
        holder[new] = holder.pop(key)


def double(draw: st.DrawFn, document: Document) -> None:
    """One of a list twice."""
    if place := _pick(draw, [(h, k) for h, k in places(document) if isinstance(h, list)]):
        holder, key = place
        assert isinstance(holder, list)
        holder.insert(draw(st.integers(0, len(holder))), copy.deepcopy(holder[key]))


def swap(draw: st.DrawFn, document: Document) -> None:
    """Two of a list in each other's place: parts laid in another order, a stretch turned around."""
    if place := _pick(draw, [(h, k) for h, k in places(document) if isinstance(h, list) and k]):
        holder, key = place
        holder[key], holder[key - 1] = holder[key - 1], holder[key]


def squeeze(draw: st.DrawFn, document: Document) -> None:
    """A shape or segment moved, shrunk to a foil, or stretched, along x or y."""
    found = [(h, k) for h, k in places(document) if k in ("x", "y") and isinstance(h[k], list) and len(h[k]) == 2]
    if place := _pick(draw, found):
        holder, key = place
        low, high = holder[key]
        by = draw(st.sampled_from([1, -1, 0.1, 0.01, 1e-3, 1e-6, 1e-9, 30, -30, 300, 3e4, -3e4]))
        match draw(st.sampled_from(["move", "shrink", "stretch"])):
            case "move":
                holder[key] = [f"({low}) + {by}", f"({high}) + {by}"]
            case "shrink":
                holder[key] = [low, f"({low}) + {abs(by)}"]
            case _:
                holder[key] = [low, f"({high}) + {by}"]


def rename_all(draw: st.DrawFn, document: Document) -> None:
    """A name by another of any characters, wherever it stands."""
    old = _pick(draw, [(h, k) for h, k in places(document) if k == "name" and isinstance(h[k], str)])
    if old:
        name, new = old[0][old[1]], draw(words)
        for holder, key in list(places(document)):
            if isinstance(holder[key], str) and holder[key] == name:
                holder[key] = new


@st.composite
def torn(draw: st.DrawFn, document: Document) -> str:
    """Its text with a line doubled or lost, or some characters changed."""
    lines = toml(document).splitlines()
    k = draw(st.integers(0, len(lines) - 1))
    match draw(st.integers(0, 2)):
        case 0:
            lines.insert(k, lines[k])
        case 1:
            del lines[k]
        case _:
            at = draw(st.integers(0, len(lines[k])))
            lines[k] = lines[k][:at] + draw(words) + lines[k][at + 1 :]
    return "\n".join(lines) + "\n"
