"""A solved section at other temperatures and watts."""

from collections.abc import Mapping

from fdm.errors import InputError, is_number, nearest, what_is
from fdm.solving.check import MOST_CELLS
from fdm.solving.solution import Solution, superposed
from fdm.solving.steady import solve


def at_operating_point(solution: Solution, terminals: Mapping[str, float]) -> Solution:
    """The same section at other temperatures (degC) and watts of its terminals, by name; those that are left out keep
    their own. It needs no new solve, unless films or other numbers follow the temperature: then it is solved again, on
    the same grids, with those that belong to the new temperatures.

    Raises InputError for a name that is no terminal, and for a value that is no number.

    >>> import fdm
    >>> solution = fdm.solve(fdm.read_section("geometries/bolt.toml"))
    >>> colder = at_operating_point(solution, {"cabinet air": 5, "greenhouse air": 25})
    >>> round(colder.bridges["bolt with its bush"].watts, 3)  # W: chi times -20 K
    -0.119
    """
    if not isinstance(solution, Solution):
        raise InputError(f"at_operating_point: {what_is(solution)} is no solution; give one that solve returned")
    _check_terminals(terminals, (*solution.section.fixed_names, *solution.section.heat_names))
    found = superposed(solution, terminals)
    if solution.frozen is None:
        return found
    cells = max(MOST_CELLS, solution.system.cells)
    return solve(found.section, solution.grid.target, cells, like=solution)


def _check_terminals(terminals: object, known: tuple[str, ...]) -> None:
    if not isinstance(terminals, Mapping):
        raise InputError(
            f"at_operating_point: {what_is(terminals)} names no terminals; give their temperatures and watts by name, "
            f'such as {{"{known[0]}": 20}}'
        )
    for name, value in terminals.items():
        if name not in known:
            raise InputError(f"at_operating_point: there is no terminal {name!r}; {nearest(str(name), known)}")
        if not is_number(value):
            raise InputError(f"at_operating_point: {name!r}: {what_is(value)} is no number; give degC or W")
