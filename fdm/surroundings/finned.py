"""From the film on the walls of the channels between fins to what is told of the fins."""

from dataclasses import replace

from fdm.surroundings.film import Conditions, Film, Number, combined
from fdm.surroundings.fins import FinArray, base_film, effectiveness, efficiency
from fdm.surroundings.radiation import channel_factor, radiative_film

WALLS, BASE = "the fins and the base between them", "the base below the fins, fins included"
RESOLVED = "all faces of the fins and the base between them"
BARE, PAINTED = 0.1, 0.85  # emissivities whose closed form was checked
FORM_ERROR = {BARE: 0.2, PAINTED: 0.03}  # relative, of `channel_factor`; narrow channels
THICK = 0.1  # h t / (2 k) from which fin theory is 2 % high


def walls(film: float, uncertainty: float, relation: str, numbers: tuple[Number, ...], notes: tuple[str, ...]) -> Film:
    """The film on the walls of channels between fins, as far as the air carries it."""
    return Film(film, uncertainty, film, 0.0, WALLS, relation, numbers, notes)


def finned(fins: FinArray, at: Conditions, conductivity: float | None, carried: Film, outer: float = 0.0) -> Film:
    """The film of fins, from what the air carries off their walls: with radiation where an emissivity is given, and of
    their base where their conductivity (W/(m K)) is. `outer` is the film on the outermost faces and the tips of fins
    that stand free, with its radiation. Of fins that are resolved it is the mean of both, by area, over all that they
    and the base between them have; in a duct, their outermost faces, tips and ends touch no air that moves."""
    found = replace(carried, numbers=(*carried.numbers, *_dimensions(fins)))
    if at.emissivity is not None:
        factor = float(channel_factor(fins.gap, fins.height, fins.length, at.emissivity))
        radiative = float(radiative_film(factor, at.needed_surface("radiation"), at.temperature))
        found = replace(
            found,
            film=found.film + radiative,
            uncertainty=combined(found.film, found.uncertainty, radiative, _form_error(at.emissivity)),
            radiative=radiative,
            numbers=(*found.numbers, Number("radiating_share", "radiates as if of emissivity", factor)),
        )
    if fins.resolved:
        conductance = found.film * fins.area + outer * fins.outer_area
        told = Number("wall_film", f"film on {WALLS}", found.film, "W/(m2 K)")
        return replace(found, film=conductance / fins.wetted_area, of=RESOLVED, numbers=(*found.numbers, told))
    return found if conductivity is None else _of_base(fins, at, conductivity, found, outer)


def _dimensions(fins: FinArray) -> tuple[Number, ...]:
    return (
        Number("gap", "gap between fins", 1e3 * fins.gap, "mm"),
        *([Number("count", "fins", fins.count)] if fins.count is not None else []),
        *([Number("fin_width", "width that they take up", 1e3 * fins.width, "mm")] if fins.base_width else []),
        Number("area_ratio", "area of fins and base between, over that of the base", fins.area / fins.base_area),
    )


def _of_base(fins: FinArray, at: Conditions, conductivity: float, on_walls: Film, outer: float) -> Film:
    """The film of the base from that on the walls of fins of a conductivity."""
    h, numbers, notes = on_walls.film, on_walls.numbers, on_walls.notes
    film = float(base_film(fins, h, conductivity, outer))
    exponent = (float(base_film(fins, 1.01 * h, conductivity, 1.01 * outer)) / film - 1) / 0.01
    fin = (h, conductivity, fins.thickness, fins.height)
    numbers += (
        Number("wall_film", f"film on {WALLS}", h, "W/(m2 K)"),
        *([Number("outer_film", "film on the outermost faces and the tips", outer, "W/(m2 K)")] if outer else []),
        Number("efficiency", "fin efficiency", float(efficiency(*fin))),
        Number("effectiveness", "fin effectiveness", float(effectiveness(*fin))),
    )
    if (biot := h * fins.thickness / (2 * conductivity)) > THICK:
        notes += (f"film x half thickness / conductivity of the fins is {biot:.2g}: fin theory is over 2 % high",)
    if fins.count is not None:
        conductance = film * fins.base_area
        numbers += (Number("resistance", "resistance from the base to the air", 1 / conductance, "K/W"),)
        if at.surface is not None:
            watts = (at.surface - at.temperature) * conductance
            numbers += (Number("heat", "heat at this surface temperature", watts, "W"),)
    uncertainty = exponent * on_walls.uncertainty
    return replace(on_walls, film=film, uncertainty=uncertainty, of=BASE, numbers=numbers, notes=notes)


def _form_error(emissivity: float) -> float:
    share = min(max((emissivity - BARE) / (PAINTED - BARE), 0.0), 1.0)
    return FORM_ERROR[BARE] + share * (FORM_ERROR[PAINTED] - FORM_ERROR[BARE])
