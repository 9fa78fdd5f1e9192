"""The materials that a file may name: the built-in ones, and its own [material."NAME"]."""

from dataclasses import replace

from fdm.errors import InputError
from fdm.section.by_temperature import Curve, Line, Pairs
from fdm.section.expressions import as_number, kind
from fdm.section.materials import builtin_materials
from fdm.section.pieces import ABSOLUTE_ZERO, LEAST, MOST, Material
from fdm.section.tables import Table
from fdm.section.uncertain import KEYS, conductivity_of, is_uncertain

MATERIAL = ("conductivity", "density", "specific_heat", "source")
LINE = ("at", "per_kelvin")  # keys of a conductivity by temperature, besides its value


def read_materials(top: Table) -> dict[str, Material]:
    """The built-in materials and the file's own [material."NAME"], which replace built-in ones of the same name."""
    values = top.values.get("material", {})
    if not isinstance(values, dict):
        raise top.fault("material", f'is {kind(values)}; write each as [material."NAME"]')
    found = dict(builtin_materials())
    if top.moved:
        found = {name: _moved(material, top) for name, material in found.items()}
    for name in values:
        if not isinstance(values[name], dict):
            raise InputError(f'material: {name!r} is {kind(values[name])}; write each as [material."NAME"]')
        found[name] = _own_material(name, top.inner(f"material {name!r}", values[name], MATERIAL))
    return found


def _moved(material: Material, top: Table) -> Material:
    """A built-in material, its conductivity moved as all uncertain numbers of the file may be."""
    move = top.moved.get(conductivity_of(material.name))
    if not move:
        return material
    k, line = material.conductivity[0] + move, material.by_temperature
    line = replace(line, value=k) if isinstance(line, Line) else None
    return replace(material, conductivity=(k, k), by_temperature=line)


def _own_material(name: str, t: Table) -> Material:
    """A material of the file."""
    by_direction, curve, through = t.values.get("conductivity"), _curve(t), None
    if curve is not None:
        conductivity = (curve.reference,) * 2
    elif isinstance(by_direction, dict) and not is_uncertain(by_direction):
        by_axis = t.table("conductivity", ("x", "y", "z"))
        conductivity, through = (by_axis.number("x"), by_axis.number("y")), by_axis.optional(by_axis.number, "z")
    else:
        conductivity = (t.number("conductivity"),) * 2
    density, heat = t.optional(t.number, "density"), t.optional(t.number, "specific_heat")
    source = t.optional(t.text, "source") or ""
    return Material(name, conductivity, density, heat, source, through=through, by_temperature=curve)


def _curve(t: Table) -> Curve | None:
    """The conductivity of a material's table by temperature; None where it is given otherwise."""
    given = t.values.get("conductivity")
    if isinstance(given, list):
        return _pairs(t, given)
    if isinstance(given, dict) and "pairs" in given:
        raise t.fault(
            "conductivity, pairs", "give the list of pairs itself, conductivity = [[-10, 0.031], [40, 0.037]]"
        )
    if not isinstance(given, dict) or given.keys().isdisjoint(LINE):
        return None
    line = t.table("conductivity", (*KEYS, *LINE))
    own = {key: value for key, value in given.items() if key in KEYS}
    wanted = {"at": "the temperature (degC) of value", "per_kelvin": "by how many W/(m K) value rises a kelvin"}
    for key, what in {"value": "the conductivity at that temperature, W/(m K)", **wanted}.items():
        if key not in given and not (key == "value" and own):
            raise line.fault(key, f"missing; give {what}")
    value = replace(t, values={"conductivity": own["value"] if list(own) == ["value"] else own}).number("conductivity")
    at, per_kelvin = line.number("at"), line.number("per_kelvin")
    _require_pair(t, at, value)
    if abs(per_kelvin) > MOST:
        raise line.fault("per_kelvin", f"{per_kelvin:g} is beyond all that exists")
    return Line(value, at, per_kelvin)


def _pairs(t: Table, given: list[object]) -> Pairs:
    wanted = "give pairs of degC and W/(m K), [[-10, 0.031], [40, 0.037]]"
    pairs: list[tuple[float, float]] = []
    for pair in given:
        if not isinstance(pair, list) or len(pair) != 2:
            raise t.fault("conductivity", f"holds {kind(pair) if not isinstance(pair, list) else pair}; {wanted}")
        with t.at("conductivity"):
            pairs.append((as_number(pair[0], t.let), as_number(pair[1], t.let)))
        _require_pair(t, *pairs[-1])
    with t.at("conductivity"):
        return Pairs(tuple(x for x, _ in pairs), tuple(k for _, k in pairs))


def _require_pair(t: Table, at: float, value: float) -> None:
    if not ABSOLUTE_ZERO <= at <= MOST:
        raise t.fault("conductivity", f"{at:g} is not a temperature in degC ({ABSOLUTE_ZERO} or more)")
    if not LEAST <= value <= MOST:
        raise t.fault("conductivity", f"{value:g} is no conductivity in W/(m K) ({LEAST:g} to {MOST:g})")
