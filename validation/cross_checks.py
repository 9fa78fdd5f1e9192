"""Sections nobody has published an answer for: solved here and with the independent finite elements."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fdm.answers.network import CROSS, Network
from fdm.conduction.network import NetworkValues
from fdm.section.model import Border, Environment, Joint, Part, Section, Segment, Sensor, Source, repeated
from fdm.section.reader import read_section
from validation.cases import CASES, KELVIN, RELATIVE, Outcome, Quantity, air, box, solid
from validation.finite_elements import network as finite_elements

GEOMETRIES = Path(__file__).parent.parent / "geometries"
CELLS = 8

MM = 1e-3


def finned_plate() -> Section:
    """A grow-light bar's sink: two rows of lamps off centre under a finned plate, one of them hotter."""
    fins = repeated(box(2 * MM, 4 * MM, 5 * MM, 30 * MM), 6, (10 * MM, 0))
    return Section(
        "finned plate",
        (
            air("room", box(0, 60 * MM, 5 * MM, 30 * MM)),
            solid("base", 200.0, box(0, 60 * MM, 0, 5 * MM)),
            solid("fins", 200.0, *fins),
        ),
        (Environment("room", 25, 12),),
        border=Border(left="room", right="room", top="room"),
        sources=(
            Source("first row", segment=Segment((5 * MM, 13 * MM), (0, 0)), heat=30),
            Source("second row", segment=Segment((40 * MM, 48 * MM), (0, 0)), heat=20),
        ),
        sensors=(Sensor("thermistor", at=(25 * MM, 5 * MM)),),
    )


def half_open_joint() -> Section:
    """Two blocks pressed together along half of their seam and welded along the rest: the joint ends inside a solid."""
    return Section(
        "half open joint",
        (
            solid("foam", 0.03, box(0, 60 * MM, 0, 30 * MM)),
            solid("lower block", 160.0, box(20 * MM, 40 * MM, 0, 15 * MM)),
            solid("upper block", 17.0, box(20 * MM, 40 * MM, 15 * MM, 30 * MM)),
            solid("weld", 50.0, box(30 * MM, 40 * MM, 13 * MM, 17 * MM)),
        ),
        (Environment("inside", 7, 8), Environment("outside", 28, 25)),
        border=Border(bottom="inside", top="outside"),
        joints=(Joint(("lower block", "upper block"), 5e-4), Joint(("foam", "upper block"), 0.01)),
        sources=(Source("heater", segment=Segment((22 * MM, 28 * MM), (0, 0)), heat=5),),
        sensors=(Sensor("thermostat", at=(20 * MM, 10 * MM)),),
    )


def bolt_with_washers() -> Section:
    """A bolt through a sandwich wall, about its axis, its head and washer seated with joints."""
    return Section(
        "bolt with washers",
        (
            air("inside", box(0, 60 * MM, -10 * MM, 0)),
            air("outside", box(0, 60 * MM, 33 * MM, 43 * MM)),
            solid("foam", 0.031, box(0, 60 * MM, 1 * MM, 32 * MM)),
            solid("sheets", 160.0, box(0, 60 * MM, 0, 1 * MM), box(0, 60 * MM, 32 * MM, 33 * MM)),
            Part("clearance", (box(2 * MM, 2.6 * MM, 0, 33 * MM),), void=True),
            solid("bolt", 17.0, box(0, 2 * MM, 0, 33 * MM), box(0, 4 * MM, -3 * MM, 0)),
            solid("washer", 0.25, box(2 * MM, 7 * MM, 33 * MM, 34 * MM)),
            solid("nut", 17.0, box(0, 4 * MM, 34 * MM, 37 * MM), box(0, 2 * MM, 33 * MM, 34 * MM)),
        ),
        (Environment("inside", 7, 8), Environment("outside", 28, 10)),
        view="axisymmetric",
        joints=(Joint(("bolt", "sheets"), 1e-4), Joint(("washer", "nut"), 2e-4)),
        sensors=(Sensor("on the sheet", at=(30 * MM, 0)),),
    )


@dataclass(frozen=True)
class CrossCheck:
    """`cells` says how fine the finite elements are, `drift` (relative) what they leave open beside that.

    Where a joint ends at foam, the temperature jumps at one point of it, and the heat through the foam grows with the
    logarithm of the mesh size: neither method settles. The drift is what two more halvings of the mesh still change.
    """

    name: str
    section: Section
    cells: int = CELLS
    drift: float = 0.0


def cross_checks() -> tuple[CrossCheck, ...]:
    """Raises InputError where a demo's file is at fault or missing."""
    return (
        CrossCheck("ISO 10211 case 2", CASES[1].section),
        CrossCheck("finned plate, two sources", finned_plate()),
        CrossCheck("joint that ends inside", half_open_joint()),
        CrossCheck("bolt with washers, axisymmetric", bolt_with_washers()),
        CrossCheck("bolt.toml", read_section(GEOMETRIES / "bolt.toml"), drift=1e-4),
        CrossCheck("light_bar.toml", read_section(GEOMETRIES / "light_bar.toml"), 6),
        CrossCheck("wall_module.toml", read_section(GEOMETRIES / "wall_module.toml"), 5, drift=5e-4),
    )


def _entries(section: Section, values: NetworkValues) -> dict[str, tuple[float, str, float]]:
    """Name -> value, unit, and what its error is relative to (0: the value itself), as `fdm.solve` aims for it."""
    fixed, heat = section.fixed_names, section.heat_names
    observed = (*heat, *(s.name for s in section.sensors))
    found = {
        f"{a} - {b}": (values.coupling[i, j], "W/K", 0.0)
        for i, a in enumerate(fixed)
        for j, b in enumerate(fixed)
        if i < j
    }
    own = np.diag(values.resistance[: len(heat)])
    for row, name in enumerate(observed):
        if len(fixed) > 1:
            found |= {f"weight of {f} in {name}": (values.weight[row, k], "-", 1.0) for k, f in enumerate(fixed)}
        for k, h in enumerate(heat):
            felt = KELVIN / RELATIVE / abs(section.watts[k]) if row >= len(heat) else 0.0
            found[f"{name} per watt at {h}"] = (values.resistance[row, k], "K/W", max(felt, CROSS * own[k]))
    for row, name in enumerate(heat):
        for k, h in enumerate(heat):
            found[f"{name}, max, per watt at {h}"] = (values.resistance_max[row, k], "K/W", CROSS * own[k])
    return {name: (float(value), unit, float(scale)) for name, (value, unit, scale) in found.items()}


def compare(check: CrossCheck, network: Network) -> list[Outcome]:
    """Every entry of the network against finite elements; these are known to their change from a coarser mesh.

    A sensor in an environment, which finite elements cannot read, is left out.
    """
    meshes = (check.cells, check.cells - check.cells // 4)
    fine, coarse = (_entries(check.section, finite_elements(check.section, n)) for n in meshes)
    value, band = (_entries(check.section, v) for v in (network.values, network.band))
    return [
        Outcome(
            Quantity(name, lambda _: (0.0, 0.0), true, unit,
                     abs(true - coarse[name][0]) + check.drift * abs(true), scale=scale),
            value[name][0], band[name][0],
        )
        for name, (true, unit, scale) in fine.items()
        if not np.isnan(true)
    ]  # fmt: skip
