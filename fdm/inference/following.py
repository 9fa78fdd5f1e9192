"""Numbers of a section that follow the temperature (`fdm.solving.frozen`), where other numbers of it change.

They are found again on the coarse grid, where that takes a few hundredths of a second, and change as they do there.
"""

import numpy as np

from fdm.answers.kinds import solved
from fdm.answers.quantity import Array
from fdm.conduction.inputs import inputs_of, with_scaled_input
from fdm.conduction.systems import conduction_system
from fdm.grid.lines import first_lines
from fdm.grid.moving import moved_grid
from fdm.section.model import Section
from fdm.solving.frozen import coefficients_of, compared, settled, with_values
from fdm.solving.solution import Solution

STEP = 1e-4  # of an input, relative


def followed(solution: Solution, section: Section) -> Section:
    """A section that differs little from the solved one, with what follows the temperature as it changes by that."""
    frozen = solution.frozen
    if frozen is None:
        return section
    x, y, *layers = frozen.lines
    x, y = moved_grid(x, y, frozen.coarse, section) or first_lines(section)[:2]
    before = {v.coefficient: v.coefficient.value(frozen.coarse) for v in frozen.values}
    begin = with_values(section, frozen.values, np.array(list(before.values())))
    after = settled(begin, coefficients_of(section), (x, y, *layers))
    finest = {v.coefficient: v.value for v in frozen.values}
    found = [v for v in after.values if v.coefficient in finest]
    numbers = [finest[v.coefficient] * v.value / before[v.coefficient] for v in found]
    return with_values(after.coarse, found, np.array(numbers))


def with_followers(solution: Solution, changes: Array) -> Array:
    """(Q, I) d answer / d ln input, from those with everything held that follows the temperature."""
    if solution.frozen is None:
        return changes
    own, moved = own_inputs(solution), responses(solution)
    by_own = changes[:, own]
    number = {q.path: k for k, q in enumerate(solution.asked.quantities)}
    for n, v in enumerate(solution.frozen.values):
        if (k := number.get(v.coefficient.path)) is not None:
            by_own[k, n] = v.value
    out = changes.copy()
    out[:, own] = 0.0
    return np.asarray(out + by_own @ moved)


def responses(solution: Solution) -> Array:
    """(N, I) d ln value / d ln input of each number that follows the temperature; by its own input, that is by what its
    law gives. From the implicit function: with B the change of what the N values should be where they are held, and J
    its columns of their own inputs, it is (1 - J)^-1 B, on the coarse grid."""
    frozen = solution.frozen
    inputs = inputs_of(solution.section)
    if frozen is None:
        return np.empty((0, len(inputs)))
    coefficients = [v.coefficient for v in frozen.values]
    own = own_inputs(solution)
    system = conduction_system(frozen.coarse.unasked, *frozen.lines)

    def wanted(section: Section) -> Array:
        grid = solved(conduction_system(section.unasked, *frozen.lines, like=[system]))
        _, values, apart = compared(section, coefficients, grid)
        return apart + np.log([v.value for v in values])

    held, change = wanted(frozen.coarse), np.zeros((len(own), len(inputs)))
    for k, one in enumerate(inputs):
        if 0 < one.value < np.inf:
            change[:, k] = (wanted(with_scaled_input(frozen.coarse, k, 1 + STEP)) - held) / np.log1p(STEP)
    within = np.eye(len(own)) - change[:, own]
    change[:, own] = np.eye(len(own))
    return np.asarray(np.linalg.solve(within, change))


def own_inputs(solution: Solution) -> list[int]:
    """The numbers of the inputs that follow the temperature."""
    number = {(i.kind, i.name): k for k, i in enumerate(inputs_of(solution.section))}
    return [] if solution.frozen is None else [number[v.coefficient.input] for v in solution.frozen.values]
