"""What every answer gains or loses by every conductivity, film and joint.

To first order, and exact for the discretisation: an answer that reads a field with fixed weights changes by the sum
over all conductances of - dg times the field's drop times that of the answer's adjoint, the field of one watt spread by
those weights. For network entries the adjoint is a unit field; a sensor and a highest temperature need one of their
own, one more right-hand side. What is read on an edge is read with weights that depend on conductances too; their own
change is a central difference of the code that reads, without a solve.
"""

from dataclasses import dataclass

import numpy as np

from fdm.answers.quantity import Answers, Array
from fdm.conduction.inputs import Input, inputs_of
from fdm.inference.adjoint import AdjointSystems, adjoint_systems
from fdm.solving.solution import Solution


@dataclass(frozen=True)
class Sensitivities:
    """Q quantities, I inputs. A material's column is the sum of its parts'."""

    inputs: tuple[Input, ...]
    answers: Answers  # Q, as solved
    matrix: Array  # (Q, I) d answer / d ln input, in the quantity's unit: a hundredth of it is the effect of 1 %


def sensitivities(solution: Solution, adjoint: AdjointSystems | None = None) -> Sensitivities:
    """Of all answers to all conductivities (both axes together; by part, then by material), films and joints, on the
    grid of `fdm.inference.adjoint` (`adjoint`, where that is known already): within 1 or 2 % of the largest effect on
    the same answer from those of the finest grid, and within 5 % for answers that are small beside others of their
    kind."""
    section = solution.section
    changes = solution.asked.changes((adjoint or adjoint_systems(solution.grids[-2])).changes())
    inputs = inputs_of(section)
    names = {p.name: p.material.name for p in section.parts if p.material}
    asked_for = [k for k, i in enumerate(inputs) if (i.name in names if i.kind == "part" else 0 < i.value < np.inf)]
    materials = {p.material.name: p.material for p in section.parts if p.material}
    of = [[k for k, i in enumerate(inputs) if i.kind == "part" and names.get(i.name) == m] for m in materials]
    matrix = np.concatenate([changes[:, asked_for], np.stack([changes[:, rows].sum(1) for rows in of], 1)], 1)
    by_material = [Input(m, "material", inputs[rows[0]].value, "W/(m K)") for m, rows in zip(materials, of)]
    return Sensitivities((*(inputs[k] for k in asked_for), *by_material), solution.answers, matrix)
