"""How every answer changes with every conductivity, film and joint: to first order, exact for the grid's equations.

`fdm.conduction.adjoint` has the formula. The adjoints of network entries are unit fields; each sensor and each highest
temperature needs one more right-hand side. Answers on edges are read with weights that themselves depend on
conductances; the change of these weights is a difference quotient, without a solve.
"""

from dataclasses import dataclass

import numpy as np

from fdm.answers.quantity import Answers, Array
from fdm.conduction.inputs import Input, inputs_of
from fdm.inference.adjoint import AdjointSystems, adjoint_systems
from fdm.inference.following import with_followers
from fdm.inference.stems import stem_changes
from fdm.section.model import Material
from fdm.solving.solution import Solution


@dataclass(frozen=True)
class Sensitivities:
    """Q quantities, I inputs. A material's column is the sum of its parts'."""

    inputs: tuple[Input, ...]
    answers: Answers  # Q, as solved
    matrix: Array  # (Q, I) d answer / d ln input, in the quantity's unit: a hundredth of it is the effect of 1 %


def sensitivities(solution: Solution, adjoint: AdjointSystems | None = None) -> Sensitivities:
    """Sensitivities of all answers to all conductivities (both axes together; by part, then by material), films and
    joints, and to the stems, beads and own watts of sensors, on the grid before the finest; `adjoint` are its adjoint
    systems, where they are known. What follows the temperature moves along; its own sensitivity is that to what its law
    gives.

    They differ from those of the finest grid by 1 or 2 % of the largest effect on the same answer, and by up to 5 % for
    answers that are small beside others of their kind."""
    section = solution.section
    changes = solution.asked.changes((adjoint or adjoint_systems(solution.grids[-2])).changes())
    own, by_part = stem_changes(solution)
    changes[:, : len(section.parts)] += by_part
    changes = with_followers(solution, changes)
    inputs = inputs_of(section)
    solid = {p.name for p in section.parts if p.material} | {f.name for f in section.fins}
    asked_for = [k for k, i in enumerate(inputs) if (i.name in solid if i.kind == "part" else 0 < i.value < np.inf)]
    materials: dict[str, Material] = {}
    of: dict[str, dict[int, float]] = {}  # by material: the parts that it is in, and its share in what each conducts
    for k, part in enumerate(section.parts):
        for share, m in part.layers:
            if m is not None and part.material is not None:
                materials[m.name] = m
                of.setdefault(m.name, {})[k] = share * m.conductivity[0] / part.material.conductivity[0]
    for k, i in enumerate(inputs):
        for fins in section.fins:
            if i.kind == "part" and i.name == fins.name:
                materials.setdefault(fins.material.name, fins.material)
                of.setdefault(fins.material.name, {})[k] = 1.0
    columns = [(changes[:, list(parts)] * list(parts.values())).sum(1) for parts in of.values()]
    matrix = np.concatenate([changes[:, asked_for], np.stack(columns, 1), *(column[:, None] for _, column in own)], 1)
    values = [float(np.sqrt(np.prod(m.conductivity))) for m in materials.values()]
    by_material = [Input(name, "material", value, "W/(m K)") for name, value in zip(materials, values)]
    all_inputs = *(inputs[k] for k in asked_for), *by_material, *(i for i, _ in own)
    return Sensitivities(all_inputs, solution.answers, matrix)
