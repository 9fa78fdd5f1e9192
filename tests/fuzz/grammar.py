"""Documents drawn by chance from the grammar of each kind of input: nearly all that they may hold, and now and then
what they may not.

A document is a dictionary as `tomllib` returns it; `toml` writes it. Drawings lie on a lattice of 5 mm, so that edges
meet, cover each other and end on each other often.
"""

import datetime
import json
import math
import re
from typing import Any

from hypothesis import strategies as st

from fdm.section.films import FLOWS, SURFACE

Document = dict[str, Any]

SOLIDS = ("aluminium 6063-T5", "copper", "XPS foam", "PVC", "own")
AIRS = ("in", "out", "water")
DATE = datetime.date(2024, 2, 29)

words = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
edge_numbers = st.sampled_from(
    [0, -1, 1e-12, -1e-12, 1e12, 1e300, -1e300, 1e-300, 5e-324, math.inf, -math.inf, math.nan, 10**400, 0.1 + 0.2]
)
strange = st.one_of(
    edge_numbers, words, st.sampled_from([True, [], {}, [1], [[1, 2]], {"value": 1}, DATE, "1/0", "size", "((("]),
)  # fmt: skip


def rarely(odd: st.SearchStrategy[Any], usual: st.SearchStrategy[Any], one_in: int = 60) -> st.SearchStrategy[Any]:
    return st.integers(1, one_in).flatmap(lambda k: odd if k == one_in else usual)


def numbers(low: float, high: float) -> st.SearchStrategy[Any]:
    """Mostly a number of a few digits, even in its logarithm; also uncertain ones, and what is no number."""
    usual = st.floats(math.log10(low), math.log10(high)).map(lambda x: float(f"{10**x:.3g}"))
    uncertain = st.one_of(
        usual.map(lambda v: {"value": v, "uncertainty": v / 10}), usual.map(lambda v: {"between": [v, 2 * v]})
    )
    return rarely(strange, rarely(uncertain, usual, 15))


temperatures = rarely(strange, st.integers(-40, 120))
lattice = rarely(
    strange, rarely(st.floats(-10, 110).map(lambda x: round(x, 3)), st.integers(0, 20).map(lambda k: 5 * k), 8)
)


def stretch(most: int = 20) -> st.SearchStrategy[list[Any]]:
    """[low, high] on the lattice, sometimes as thin as a foil, rarely turned around."""
    even = st.tuples(st.integers(0, most - 1), st.integers(1, most)).map(lambda k: [5 * k[0], 5 * (k[0] + k[1])])
    foil = st.tuples(st.integers(0, most), st.sampled_from([1, 0.1, 0.01, 1e-3, 1e-6])).map(
        lambda k: [5 * k[0], 5 * k[0] + k[1]]
    )
    return rarely(st.lists(lattice, max_size=3), rarely(foil, even, 6))


rectangles = st.fixed_dictionaries({"x": stretch(), "y": stretch()}).map(lambda r: {"rectangle": r})
discs = st.fixed_dictionaries({"centre": st.tuples(lattice, lattice).map(list), "radius": numbers(1, 40)}).map(
    lambda d: {"disc": d}
)
polygons = st.lists(st.tuples(lattice, lattice).map(list), min_size=3, max_size=6).map(
    lambda p: {"polygon": {"points": p}}
)
shapes = st.one_of(rectangles, rectangles, rectangles, discs, polygons)


@st.composite
def films(draw: st.DrawFn) -> Document:
    """A film by a relation: the keys of a flow that it needs, and now and then any other."""
    flow = draw(rarely(strange, st.sampled_from(sorted(FLOWS))))
    optional = [*FLOWS[flow], *SURFACE] if isinstance(flow, str) and flow in FLOWS else ["speed"]
    needed = {
        "still": ("gap", "thickness", "height", "length", *draw(st.sampled_from([("warmer",), ()]))),
        "channels": ("pitch", "thickness", "height", "length", "width", draw(st.sampled_from(["fan", "speed"]))),
        "impinging": ("count", "thickness", "height", "length", "width", "volume_flow"),
        "plate": ("length", "speed"),
        "indoor": ("heat",),
    }
    keys = [*needed.get(str(flow), ()), *draw(st.lists(st.sampled_from(optional), max_size=1))]
    values = {
        "face": st.sampled_from(["vertical", "up", "down"]),
        "along": st.sampled_from(["vertical", "horizontal"]),
        "heat": st.sampled_from(["up", "horizontal", "down"]),
        "count": st.integers(1, 30),
        "warmer": st.integers(-40, 80),
        "thickness": numbers(0.1, 5),
        "width": numbers(20, 400),
        "emissivity": st.floats(0.01, 1),
        "open": st.booleans(),
        "undisturbed": st.booleans(),
        "fan": st.one_of(
            st.fixed_dictionaries({"free_flow": numbers(1, 300), "shut_off": numbers(1, 300)}),
            st.fixed_dictionaries({"curve": st.lists(st.tuples(numbers(1, 99), numbers(1, 99)).map(list), max_size=4)}),
        ),
    }
    return {"flow": flow} | {k: draw(rarely(strange, values.get(k, numbers(1, 100)))) for k in dict.fromkeys(keys)}


def named(prefix: str, count: int) -> list[str]:
    return [f"{prefix} {k}" for k in range(1, count + 1)]


@st.composite
def sections(draw: st.DrawFn) -> Document:
    """A section in any view."""
    view = draw(rarely(strange, st.sampled_from(["section", "section", "axisymmetric", "plate"])))
    airs = AIRS[: draw(st.integers(1, 3))]
    film = rarely(films(), rarely(st.just(math.inf), numbers(1, 1000), 20), 8)
    parts = [draw(_parts(name, view, airs)) for name in ["base", *named("part", draw(st.integers(0, 5)))]]
    height = draw(st.sampled_from([10, 50, 100]))
    parts[0] = {"name": "base", "material": "PVC", "rectangle": {"x": [0, 100], "y": [0, height]}}
    if view == "plate":
        parts[0] |= {"thickness": draw(numbers(0.1, 20)), "front": airs[0]}
    document: Document = {"unit": draw(rarely(strange, st.sampled_from(["mm", "mm", "cm", "m"]))), "view": view}
    if view == "section":
        document["depth"] = draw(numbers(1, 1000))
    document["let"] = {
        "size": draw(numbers(1, 100)),
        "half": draw(st.sampled_from(["size / 2", "min(size, 3)", "size ** 2"])),
    }
    line = st.fixed_dictionaries(
        {"value": numbers(1e-2, 1e2), "at": temperatures, "per_kelvin": rarely(strange, st.floats(-1e-3, 1e-3), 10)}
    )
    pairs = st.lists(st.tuples(temperatures, numbers(1e-2, 1e2)).map(list), max_size=3)
    by_temperature = st.one_of(line, pairs, st.just([[-20, 0.03], [40, 0.04]]), st.just({"x": 1, "y": 100}))
    document["material"] = {"own": {"conductivity": draw(rarely(by_temperature, numbers(1e-3, 1e3), 4))}}
    if draw(st.booleans()):
        document["down"] = draw(rarely(strange, st.sampled_from(["bottom", "left", "depth"])))
    moisture = st.sampled_from([{}, {}, {"humidity": draw(numbers(1, 100))}, {"dew_point": draw(numbers(0.1, 20))}])
    document["environment"] = [
        {"name": a, "temperature": draw(temperatures), "film": draw(film)} | draw(moisture) for a in airs
    ]
    document["part"] = parts
    sides = ["right", "bottom", "top"] + ["left"] * (view != "axisymmetric")
    chosen = draw(st.lists(st.sampled_from(sides), unique=True, max_size=4))
    document["border"] = {side: draw(st.sampled_from(airs)) for side in dict.fromkeys(["bottom", *chosen])}
    solid = [p["name"] for p in parts if "material" in p]
    _ask(draw, document, solid, airs)
    if view == "plate" and draw(st.integers(0, 3)):
        _faces(draw, document, solid, airs)
    return document


@st.composite
def _parts(draw: st.DrawFn, name: str, view: str, airs: tuple[str, ...]) -> Document:
    part = {"name": name} | draw(shapes)
    match draw(st.integers(0, 6)):
        case 0:
            part["void"] = True
        case 6 if view != "plate":
            part["gap"] = draw(
                rarely(strange, st.sampled_from([True, {}, {"emissivity": [0.9, 0.05]}, {"along": "y"}]))
            )
        case 1:
            part["environment"] = draw(st.sampled_from(airs))
        case _:
            part["material"] = draw(rarely(strange, st.sampled_from(SOLIDS)))
            if view == "plate":
                part["thickness"] = draw(numbers(0.1, 20))
                if draw(st.booleans()):
                    part["back"] = draw(st.sampled_from(airs))
            elif name != "base" and draw(st.integers(0, 3)) == 3:
                part |= draw(_depths)
    if draw(st.integers(0, 5)) == 5:
        part["repeat"] = {"count": draw(rarely(strange, st.integers(1, 8))), "step": [draw(lattice), draw(lattice)]}
    return part


_depths = st.one_of(
    numbers(0.1, 200).map(lambda d: {"depth": d}),
    st.just({"round": True}),
    st.tuples(numbers(0.1, 20), rarely(strange, st.integers(1, 9))).map(lambda d: {"depth": d[0], "count": d[1]}),
)


def _ask(draw: st.DrawFn, document: Document, solid: list[str], airs: tuple[str, ...]) -> None:
    """Joints, sources, sensors, spreading and bridges, mostly of parts that exist."""
    names = rarely(words, st.sampled_from(solid))
    some = st.integers(0, 2)
    if len(solid) > 1:
        pairs = st.lists(names, min_size=2, max_size=2, unique=True)
        document["joint"] = [
            {"between": p, "resistance": draw(numbers(1e-6, 1e-2))}
            for p in draw(st.lists(pairs, max_size=2, unique_by=lambda p: tuple(sorted(p))))
        ]
    sources = [{"name": name} | draw(_places(names)) | draw(_given) for name in named("source", draw(some))]
    document["source"] = sources
    of_parts, at_points = names.map(lambda n: {"part": n}), st.tuples(lattice, lattice).map(lambda p: {"at": list(p)})
    sensors = [{"name": name} | draw(rarely(of_parts, at_points, 4)) for name in named("sensor", draw(some))]
    for sensor in sensors:
        if draw(st.booleans()):
            sensor["should_read"] = draw(rarely(strange, st.sampled_from([*airs, *(s["name"] for s in sources), 7])))
        if draw(st.integers(0, 3)) == 3:
            sensor |= draw(_probes(airs))
    document["sensor"] = sensors
    if any("heat" in s for s in sources) and draw(st.booleans()):
        document["spreading"] = [{"part": draw(names), "along": draw(st.sampled_from(["x", "y"]))}]
    removable = [name for name in solid if name not in [s.get("part") for s in sources]]
    if len(airs) > 1 and len(removable) > 1 and draw(st.booleans()):
        document["bridge"] = [{"remove": [removable[-1]], "between": list(airs[:2])}]


def _faces(draw: st.DrawFn, document: Document, solid: list[str], airs: tuple[str, ...]) -> None:
    """Fins, and sources and sensors on the faces of a plate, some of them on each other."""
    face, some = st.sampled_from(["back", "front"]), st.integers(0, 2)
    within = st.fixed_dictionaries({"x": stretch(), "y": stretch()})
    for part in document["part"]:
        if "material" in part and draw(st.booleans()):
            part["front"] = draw(rarely(words, st.sampled_from(airs)))
    for source in document["source"]:
        if "part" in source and draw(st.integers(0, 2)):
            source |= {"face": draw(rarely(strange, face))} | ({"rectangle": draw(within)} if draw(some) else {})
    for sensor in document["sensor"]:
        if "at" in sensor and draw(st.integers(0, 2)):
            sensor |= {"face": draw(rarely(strange, face))} | ({"depth": draw(numbers(1e-3, 20))} if draw(some) else {})
    document["fins"] = [draw(_fins(name, solid, airs)) for name in named("fins", draw(some))]


@st.composite
def _fins(draw: st.DrawFn, name: str, solid: list[str], airs: tuple[str, ...]) -> Document:
    names = rarely(words, st.sampled_from(solid))
    fins = {
        "name": name,
        "part": draw(st.one_of(names, st.lists(names, max_size=3, unique=True))),
        "face": draw(rarely(strange, st.sampled_from(["front", "front", "back"]))),
        "along": draw(rarely(strange, st.sampled_from(["x", "y"]))),
        "thickness": draw(numbers(0.1, 3)),
        "height": draw(numbers(1, 100)),
        "environment": draw(rarely(words, st.sampled_from(airs))),
    }
    fins |= draw(st.one_of(numbers(3, 30).map(lambda p: {"pitch": p}), st.integers(1, 20).map(lambda n: {"count": n})))
    if draw(st.booleans()):
        fins["rectangle"] = {"x": draw(stretch()), "y": draw(stretch())}
    if draw(st.booleans()):
        fins["material"] = draw(rarely(strange, st.sampled_from(SOLIDS)))
    if draw(st.booleans()):
        fins["joint"] = draw(
            st.one_of(
                numbers(1e-7, 1e-2).map(lambda r: {"resistance": r}),
                st.tuples(numbers(0.01, 1), numbers(0.1, 10)).map(lambda j: {"thickness": j[0], "conductivity": j[1]}),
            )
        )
    return fins


def _probes(airs: tuple[str, ...]) -> st.SearchStrategy[Document]:
    """Stems, beads and own watts of sensors."""
    stems = st.fixed_dictionaries(
        {"material": st.sampled_from(SOLIDS[:4]), "diameter": numbers(0.05, 9), "length": numbers(0.1, 500)}
        | {"to": rarely(words, st.sampled_from(airs))},
        optional={"count": rarely(strange, st.integers(1, 4)), "wall": numbers(0.01, 1), "insulation": numbers(0.1, 2)}
        | {"through": numbers(1, 100), "film": numbers(1, 200)},
    )
    beads = st.one_of(
        st.fixed_dictionaries({"diameter": numbers(0.5, 9)}, optional={"film": numbers(1, 200)}),
        numbers(0.1, 9).map(lambda d: {"dissipation": d}),
    )
    some = {"stem": stems, "bead": rarely(strange, beads), "self_heating": numbers(0.01, 2)}
    return st.fixed_dictionaries({}, optional=some)


def _places(names: st.SearchStrategy[Any]) -> st.SearchStrategy[Document]:
    along_x = st.fixed_dictionaries({"x": stretch(), "y": lattice})
    along_y = st.fixed_dictionaries({"x": lattice, "y": stretch()})
    segments = st.one_of(along_x, along_y).map(lambda s: {"segment": s})
    return st.one_of(segments, names.map(lambda n: {"part": n}))


_given = st.one_of(
    numbers(0.1, 100).map(lambda w: {"heat": w}),
    numbers(0.1, 100).map(lambda w: {"heat": w, "fills_depth": True}),
    temperatures.map(lambda t: {"temperature": t}),
)


@st.composite
def bolts(draw: st.DrawFn) -> Document:
    """A bolt through layers, in place of a drawing."""
    solids = rarely(strange, st.sampled_from(SOLIDS[:4]))
    thickness, diameter = numbers(0.5, 100), numbers(1, 20)
    bolt: Document = {"material": draw(solids), "diameter": draw(diameter)}
    for side in ("inside", "outside"):
        discs = st.fixed_dictionaries({"diameter": numbers(5, 50), "height": numbers(0.5, 10)})
        bolt |= draw(st.one_of(st.just({}), st.lists(discs, max_size=2).map(lambda d, side=side: {side: d})))
    if draw(st.booleans()):
        bolt["sleeve"] = {"material": draw(solids), "diameter": draw(numbers(5, 40))}
    bolt |= draw(st.sampled_from([{}, {}, {"from": 2}, {"to": 5}, {"spacing": 100}, {"from": 1, "to": 3}]))
    return {
        "unit": "mm",
        "environment": [
            {"name": a, "temperature": draw(temperatures), "film": draw(numbers(1, 999))} for a in AIRS[:2]
        ],
        "layer": [{"material": draw(solids), "thickness": draw(thickness)} for _ in range(draw(st.integers(1, 4)))],
        "bolt": bolt,
    }


@st.composite
def cabinets(draw: st.DrawFn) -> Document:
    """A cabinet whose modules lie between two sinks."""
    module = {
        "greatest_difference": draw(numbers(50, 75)), "greatest_current": draw(numbers(1, 10)),
        "greatest_voltage": draw(numbers(4, 20)), "hot_side": draw(temperatures),
        "cold_sink": {"resistance": draw(numbers(0.05, 2))},
        "hot_sink": {"resistance": draw(numbers(0.05, 2)), "fan_power": draw(numbers(0.1, 20))},
        "cold_capacity": draw(numbers(10, 1000)), "hot_capacity": draw(numbers(10, 1000)),
    }  # fmt: skip
    layers = [
        {"material": draw(rarely(strange, st.sampled_from(SOLIDS[2:4]))), "thickness": draw(numbers(1, 100))}
        for _ in range(draw(st.integers(1, 3)))
    ]
    faces = ["left", "right", "front", "back", "bottom", "top"]
    wall = {"name": "walls", "faces": faces, "layers": layers, "film_inside": draw(numbers(2, 50)), "film_outside": 8}
    supply = draw(st.sampled_from(["voltage", "current"]))
    moist = draw(st.sampled_from([{}, {}, {"humidity": draw(numbers(1, 100))}, {"dew_point": draw(numbers(0.1, 20))}]))
    wet = {"moisture": draw(numbers(0.1, 1000))} if moist and draw(st.booleans()) else {}
    moist |= {"inside_humidity": draw(numbers(1, 100))} if moist and not wet and draw(st.booleans()) else {}
    document = {
        "unit": "mm",
        "let": {"size": draw(numbers(100, 1000))},
        "cabinet": {
            "inside": [draw(numbers(50, 1000)), draw(numbers(50, 1000)), "size"], "room": draw(temperatures),
            "setpoint": draw(temperatures), "air_changes": draw(numbers(0.01, 10)),
            "inside_heat": draw(numbers(0.1, 50)),
        } | moist,
        "wall": [wall],
        "line": [{"name": "edges", "length": draw(numbers(100, 1e4)), "psi": draw(numbers(1e-3, 1))}],
        "point": [{"name": "bolts", "count": draw(rarely(strange, st.integers(1, 20))), "chi": draw(numbers(1e-4, 1))}],
        "opening": [{"name": "lid", "a_day": draw(numbers(0.1, 50)), "at": draw(st.sampled_from(["top", "side"]))}],
        "module": module,
        "supply": {
            supply: draw(numbers(0.5, 30)), "lead_resistance": draw(numbers(1e-3, 2)),
            "parallel": draw(rarely(strange, st.integers(1, 6))), "series": draw(rarely(strange, st.integers(1, 3))),
        },
        "load": {
            "mass": draw(numbers(0.1, 100)), "specific_heat": draw(numbers(100, 5000)),
            "surface": draw(numbers(0.05, 5)), "film": draw(numbers(1, 50)), "heat": draw(numbers(0.01, 10)),
        } | wet,
        "thermostat": {"hysteresis": draw(numbers(0.1, 10)), "switches": draw(st.sampled_from(["all", "half"]))},
    }  # fmt: skip
    zones = draw(st.one_of(st.just({}), _zones()))
    _combine(draw, document, bool(zones))
    return document | zones


def _combine(draw: st.DrawFn, document: Document, zoned: bool) -> None:
    """Some of what a cabinet may have besides: plates as sinks, a drawn sensor, films by relation, a load on the cold
    plate, thin air."""
    module, load, wall = document["module"], document["load"], document["wall"][0]
    places = {"cold_sink": [["block A"], ["block A", "block B"]], "hot_sink": [["module A"], ["module B"]]}
    block = {"block": {"material": draw(rarely(strange, st.sampled_from(SOLIDS[:2]))), "length": draw(numbers(1, 80))}}
    for key in draw(st.sampled_from([(), (), ("cold_sink",), ("hot_sink",), ("cold_sink", "hot_sink")])):
        plate = {"section": f"{key}.toml", "sources": draw(st.sampled_from(places[key]))}
        module[key] = plate | draw(st.sampled_from([{}, block]))
    if zoned and draw(st.integers(0, 3)) == 3:
        module["cold_sink"] = {"natural": draw(rarely(strange, st.just(True)))}
    contact = numbers(0.01, 10).map(lambda c: {"contact": c})
    facing = st.fixed_dictionaries({"area": numbers(0.001, 0.1), "gap": numbers(1, 50)})
    if draw(st.booleans()):
        load["cold_plate"] = draw(st.one_of(contact, facing.map(lambda f: f | {"emissivity": [0.9, 0.2]})))
    still = {"flow": "still", "face": "vertical", "height": draw(numbers(10, 1000)), "emissivity": 0.9}
    for table, key in ((wall, "film_inside"), (wall, "film_outside"), (load, "film")):
        if draw(st.integers(0, 5)) == 5:
            table[key] = draw(rarely(films(), st.just(still), 8))
    if draw(st.integers(0, 3)) == 3:
        airs = {"inside": ["cabinet air"], "outside": ["greenhouse air"]}
        document["thermostat"] |= {"sensor": "thermostat", "section": "sensor_leads.toml"} | airs
    if draw(st.integers(0, 3)) == 3:
        document["altitude"] = draw(numbers(1, 4000))


@st.composite
def _zones(draw: st.DrawFn) -> Document:
    """Two layers of air, and what moves from one to the other."""
    exchange = {"name": "loop", "between": ["above", "below"], "flow": draw(numbers(0.01, 100))}
    if draw(st.booleans()):
        exchange |= {"along": "cold sink", "height": draw(numbers(10, 500)), "perimeter": draw(numbers(50, 5000))}
    layers = [{"name": "below", "height": [0, 20]}, {"name": "above", "height": [20, "size"]}]
    return {"zone": layers, "exchange": draw(rarely(st.just([]), st.just([exchange]), 5))}


_atoms = st.sampled_from(
    ["size", "wall", "pi", "0", "1", "-2", "2.5", "1e308", "1e-308", "inf", "nan", "x", "0x1", "1_0"]
)
_operators = st.sampled_from([" + ", " - ", "*", "/", "**", "//", "%", " "])
_calls = st.tuples(st.sampled_from(["min", "max", "sqrt", "abs", ""]), st.sampled_from([", ", "", "("]))


def _compounds(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    called = st.tuples(_calls, inner, inner).map(lambda t: f"{t[0][0]}({t[1]}{t[0][1] + t[2] if t[0][1] else ''})")
    return st.one_of(st.tuples(inner, _operators, inner).map("".join), called)


expressions = rarely(words, st.recursive(_atoms, _compounds, max_leaves=6), 20)

_cells = rarely(words, st.one_of(st.integers(0, 100).map(str), st.sampled_from(["0.5", "", "-1", "nan", "1e300"])), 20)
_rows = st.tuples(rarely(words, st.sampled_from(["probe", "module", "air", "time_h"]), 10), _cells, _cells)
_steady = st.lists(_rows.map(",".join), max_size=4).map(lambda rows: ["quantity,value,uncertainty", *rows])
_log = st.tuples(
    st.sampled_from(["time_h,air,load", "time_s,air,air", "time_min,air,", "quantity;value"]),
    rarely(st.just("uncertainty,,"), st.just("uncertainty,0.3,0.3"), 5),
    st.lists(st.tuples(_cells, _cells, _cells).map(",".join), max_size=4),
).map(lambda t: [t[0], t[1], *t[2]])
_line = st.one_of(words, st.just("# a remark"), st.just('"'))
measured = st.tuples(st.one_of(_steady, _log), rarely(_line, st.just(""), 5)).map(lambda t: "\n".join([*t[0], t[1]]))

# names and values of a study
_ends = st.one_of(
    st.integers(-3, 30).map(str), st.sampled_from(["", "0", "1e300", "1e-300", "nan", "inf", "-1", "x"]), words
)
varied = st.tuples(
    rarely(words, st.just("base"), 10), st.lists(_ends, min_size=1, max_size=4), st.sampled_from(":,")
).map(lambda t: (t[0], t[2].join(t[1])))


def toml(document: Document) -> str:
    """The document as TOML: tables under their names, all that is in them in one line each."""
    lines = [f"{_key(k)} = {_literal(v)}" for k, v in document.items() if not _is_table(v)]
    for name, value in document.items():
        if _is_table(value):
            head = f"[[{_key(name)}]]" if isinstance(value, list) else f"[{_key(name)}]"
            for table in value if isinstance(value, list) else [value]:
                lines += ["", head, *(f"{_key(k)} = {_literal(v)}" for k, v in table.items())]
    return "\n".join(lines) + "\n"


def _is_table(value: Any) -> bool:
    return isinstance(value, dict) or (
        isinstance(value, list) and bool(value) and all(isinstance(v, dict) for v in value)
    )


def _key(name: str) -> str:
    return name if re.fullmatch("[A-Za-z0-9_-]+", name) else _literal(name)


def _literal(value: Any) -> str:
    match value:
        case bool():
            return str(value).lower()
        case str():
            return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
        case list():
            return f"[{', '.join(map(_literal, value))}]"
        case dict():
            return f"{{ {', '.join(f'{_key(k)} = {_literal(v)}' for k, v in value.items())} }}"
        case _:
            return str(value)
