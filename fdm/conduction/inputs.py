"""The I inputs that conductances depend on: the conductivity of each part, the film of each environment, each joint.

A *row* is the number of an input, or -1 where there is none.
"""

from dataclasses import dataclass, replace

import numpy as np

from fdm.conduction.arrays import Array, Integers
from fdm.conduction.layout import Layout
from fdm.conduction.properties import PartProperties
from fdm.section.model import Material, Section


@dataclass(frozen=True)
class Input:
    """A number that conductances depend on. `kind` is "part" or "material" (a conductivity, the geometric mean of both
    axes), "film" (of an environment) or "joint"."""

    name: str
    kind: str
    value: float
    unit: str


def inputs_of(section: Section) -> tuple[Input, ...]:
    """The I inputs of a section: parts (also those that do not conduct), environments, joints; then of each group of
    fins their metal and their joint."""
    parts = [(p.name, np.sqrt(np.prod(p.material.conductivity)) if p.material else 0.0) for p in section.parts]
    return (
        *(Input(name, "part", float(k), "W/(m K)") for name, k in parts),
        *(Input(e.name, "film", e.film, "W/(m2 K)") for e in section.environments),
        *(Input(" | ".join(j.between), "joint", j.resistance, "m2 K/W") for j in section.joints),
        *(i for f in section.fins for i in (
            Input(f.name, "part", f.material.conductivity[0], "W/(m K)"),
            Input(f"{f.name} | {' + '.join(f.parts)}", "joint", f.joint, "m2 K/W"),
        )),
    )  # fmt: skip


def with_scaled_input(section: Section, number: int, factor: float) -> Section:
    """The section with one of its inputs `factor` times as large."""
    k = number
    if k < len(section.parts):
        part = section.parts[k]
        new = part if part.material is None else replace(part, material=_scaled(part.material, factor))
        return replace(section, parts=(*section.parts[:k], new, *section.parts[k + 1 :]))
    k -= len(section.parts)
    if k < len(section.environments):
        air = replace(section.environments[k], film=factor * section.environments[k].film)
        return replace(section, environments=(*section.environments[:k], air, *section.environments[k + 1 :]))
    k -= len(section.environments)
    if k < len(section.joints):
        joint = replace(section.joints[k], resistance=factor * section.joints[k].resistance)
        return replace(section, joints=(*section.joints[:k], joint, *section.joints[k + 1 :]))
    k, of_joint = divmod(k - len(section.joints), 2)
    fins = section.fins[k]
    if of_joint:
        fins = replace(fins, joint=factor * fins.joint)
    else:
        fins = replace(fins, material=_scaled(fins.material, factor))
    return replace(section, fins=(*section.fins[:k], fins, *section.fins[k + 1 :]))


def _scaled(material: Material, factor: float) -> Material:
    x, y = material.conductivity
    through = None if material.through is None else factor * material.through
    return replace(material, conductivity=(factor * x, factor * y), through=through)


def input_factors(section: Section, other: Section) -> Array | None:
    """(I,) by which factor each input of `other` differs from that of `section`.

    None where the two sections differ in more than inputs, temperatures, watts and `should_read`, or where a
    conductivity differs along one axis only."""
    if section.drawn != other.drawn:
        return None
    value, other_value = (
        np.array([*(p.material.conductivity for p in s.parts if p.material), *((e.film,) * 2 for e in s.environments),
                  *((j.resistance,) * 2 for j in s.joints),
                  *((v,) * 2 for f in s.fins for v in (f.material.conductivity[0], f.joint))], float).reshape(-1, 2)
        for s in (section, other)
    )  # fmt: skip
    same = value == other_value  # also where both are 0 or infinite
    factors = np.where(same, 1.0, other_value) / np.where(same | (value == 0), 1.0, value)
    alike = np.allclose(factors[:, 0], factors[:, 1], rtol=1e-9, atol=0)
    if ((value == 0) & ~same).any() or not np.isfinite(factors).all() or not alike:
        return None
    out, conducts = np.ones(len(inputs_of(section))), [p.material is not None for p in section.parts]
    out[np.append(conducts, np.ones(len(out) - len(conducts), bool))] = factors[:, 0]
    return out


def owner_rows(section: Section, p: PartProperties) -> Integers:
    """(P + 5,) row of the conductivity of a solid, of the film of an environment; -1 where there is none."""
    film = (p.fixed >= 0) & ~p.held & np.isfinite(p.film)
    return np.where(p.solid, np.arange(len(p.solid)), np.where(film, len(section.parts) + p.fixed, -1))


def joint_rows(section: Section, p: PartProperties) -> Integers:
    """(P + 5, P + 5) row of the joint between two owners, -1 where there is none."""
    out = np.full((len(p.solid), len(p.solid)), -1)
    number = {part.name: k for k, part in enumerate(section.parts)}
    for k, joint in enumerate(section.joints):
        a, b = (number[name] for name in joint.between)
        out[a, b] = out[b, a] = len(section.parts) + len(section.environments) + k
    return out


def rows_of(layout: Layout, owners: Integers) -> Integers:
    """Rows of the inputs that belong to some owners: their conductivities and films, and the joints between them."""
    rows = owner_rows(layout.section, layout.properties)[owners]
    joints = joint_rows(layout.section, layout.properties)[np.ix_(owners, owners)]
    both = np.unique(np.concatenate([rows, joints.ravel()]))
    return both[both >= 0]


def rows_near_cuts(layout: Layout) -> Integers:
    """Rows of all inputs that conductances in and beside cut cells can depend on; parts come first."""
    cut, owner = layout.cut, layout.raster.owner
    assert cut is not None
    around = [owner[cut.i + a, cut.j + b] for a in (0, 1, 2) for b in (0, 1, 2)]
    return rows_of(layout, np.unique(np.concatenate([cut.owner.ravel(), *around])))


def varied_properties(section: Section, p: PartProperties, factors: Array) -> PartProperties:
    """Properties with each input `factors` (I,) times as large."""
    factor_of_row = np.append(factors, 1.0)  # the last one stands for row -1
    factor = factor_of_row[owner_rows(section, p)]
    joint = p.joint if p.joint is None else factor_of_row[joint_rows(section, p)] * p.joint
    conductivity = np.where(p.solid, factor, 1.0)[:, None] * p.conductivity
    return replace(p, conductivity=conductivity, film=np.where(p.solid, 1.0, factor) * p.film, joint=joint)
