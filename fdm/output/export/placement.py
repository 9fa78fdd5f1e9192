"""Places for sensors, and the least and most of answers over ranges, as plain data."""

from dataclasses import asdict
from typing import Any

from fdm.solving.placement import Place, Placement
from fdm.solving.ranges import Between
from fdm.solving.result import plain_data


def placement_dict(found: Placement) -> dict[str, Any]:
    """What is asked, what the sensor misreads now, and the best places: `in` each part, `on` its surface by air, or on
    its `front` and `back`; and each air. Places are in the file's unit."""
    parts: dict[str, Any] = {}
    for p in found.solid:
        of_part = parts.setdefault(p.part, {})
        if p.where == "on":
            of_part.setdefault("on", {})[p.air] = _place_dict(p)
        else:
            of_part[p.where] = _place_dict(p)
    now, band = found.now or (None, None)
    out: dict[str, Any] = plain_data(
        {
            "should_read": found.should_read,
            "within": found.within,
            "bare": found.probe is None,
            "unit": found.unit,
            "ranges": found.ranges,
            "now": {"misreading": now, "band": band},
            "parts": parts,
            "airs": {p.air: _place_dict(p) for p in found.best if p.where == "air"},
        }
    )
    return out


def _place_dict(p: Place) -> dict[str, Any]:
    left_out = ("part", "where", "air") if p.where != "air" else ("part", "where", "air", "x", "y", "slope")
    return {key: value for key, value in asdict(p).items() if key not in left_out}


def between_dict(found: Between) -> dict[str, Any]:
    """`ranges {terminal: [low, high]}`, `warnings` of these, and `answers {path: words unit least most}`: each end with
    its value, its band, and where in the ranges it is."""
    answers = {}
    for (q, *least), (_, *most) in zip(found.least, found.most):
        ends = {
            key: {"value": value, "band": band, "at": found.where(q.path, key == "most")}
            for key, (value, band) in (("least", least), ("most", most))
        }
        answers[q.name] = {"words": q.words, "unit": q.unit} | ends
    out: dict[str, Any] = plain_data({"ranges": found.ranges, "warnings": found.warnings, "answers": answers})
    return out
