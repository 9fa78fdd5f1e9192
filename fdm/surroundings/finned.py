"""From the film on the walls of the channels between fins to what is told of the fins."""

from fdm.surroundings.film import Conditions, Film, Number, combined
from fdm.surroundings.fins import FinArray, base_film, effectiveness, efficiency
from fdm.surroundings.radiation import channel_factor, radiative_film

WALLS, BASE = "the fins and the base between them", "the base below the fins, fins included"
BARE, PAINTED = 0.1, 0.85  # emissivities whose closed form was checked
FORM_ERROR = {BARE: 0.2, PAINTED: 0.03}  # relative, of `channel_factor`; narrow channels
THICK = 0.1  # h t / (2 k) from which fin theory is 2 % high


def finned(
    fins: FinArray,
    at: Conditions,
    conductivity: float | None,
    convective: float,
    uncertainty: float,
    relation: str,
    numbers: tuple[Number, ...],
    notes: tuple[str, ...],
    outer: float = 0.0,
) -> Film:
    """The film of fins, with radiation where an emissivity is given: that of the base where the conductivity of the
    fins is given (W/(m K)), else that of the walls of their channels. `outer` is the film on the outermost faces and
    the tips of fins that stand free, with its radiation."""
    radiative, form = 0.0, 0.0
    if at.emissivity is not None:
        surface = at.needed_surface("radiation")
        factor = float(channel_factor(fins.gap, fins.height, fins.length, at.emissivity))
        radiative = float(radiative_film(factor, surface, at.temperature))
        form = _form_error(at.emissivity)
        numbers += (Number("radiating_share", "radiates as if of emissivity", factor),)
    walls = convective + radiative
    film, uncertainty, of = walls, combined(convective, uncertainty, radiative, form), WALLS
    numbers = (
        *numbers,
        Number("gap", "gap between fins", 1e3 * fins.gap, "mm"),
        *([Number("count", "fins", fins.count)] if fins.count is not None else []),
        *([Number("fin_width", "width that they take up", 1e3 * fins.width, "mm")] if fins.base_width else []),
        Number("area_ratio", "area of fins and base between, over that of the base", fins.area / fins.base_area),
    )
    if conductivity is not None:
        film, of = float(base_film(fins, walls, conductivity, outer)), BASE
        more = float(base_film(fins, 1.01 * walls, conductivity, 1.01 * outer))
        uncertainty *= (more / film - 1) / 0.01
        numbers += (
            Number("wall_film", f"film on {WALLS}", walls, "W/(m2 K)"),
            *([Number("outer_film", "film on the outermost faces and the tips", outer, "W/(m2 K)")] if outer else []),
            Number("efficiency", "fin efficiency", float(efficiency(walls, conductivity, fins.thickness, fins.height))),
            Number(
                "effectiveness",
                "fin effectiveness",
                float(effectiveness(walls, conductivity, fins.thickness, fins.height)),
            ),
        )
        if (biot := walls * fins.thickness / (2 * conductivity)) > THICK:
            notes += (f"film x half thickness / conductivity of the fins is {biot:.2g}: fin theory is over 2 % high",)
        if fins.count is not None:
            resistance = 1 / (film * fins.base_area)
            numbers += (Number("resistance", "resistance from the base to the air", resistance, "K/W"),)
            if at.surface is not None:
                watts = (at.surface - at.temperature) / resistance
                numbers += (Number("heat", "heat at this surface temperature", watts, "W"),)
    return Film(film, uncertainty, convective, radiative, of, relation, numbers, notes)


def _form_error(emissivity: float) -> float:
    share = min(max((emissivity - BARE) / (PAINTED - BARE), 0.0), 1.0)
    return FORM_ERROR[BARE] + share * (FORM_ERROR[PAINTED] - FORM_ERROR[BARE])
