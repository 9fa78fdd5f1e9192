"""Films that follow the operating point of a cabinet, and air that moves by itself, with its modules always on.

Each has one value, at the temperatures of its air and its surface where the cabinet settles. A change of a film or a
flow moves these temperatures little, so both are found by turns: films and flows, where the cabinet settles with them,
films and flows at that. Other supplies and the pull-down keep these values.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace

from fdm.cabinet.bank import Sink
from fdm.cabinet.circuit import Circuit, circuit
from fdm.cabinet.films import LOAD_FILM, SINK_FILM, WALL_INSIDE, FollowingFilm
from fdm.cabinet.model import Cabinet
from fdm.cabinet.nodes import load_node, named
from fdm.cabinet.paths import Path
from fdm.cabinet.sections import LumpedSections
from fdm.cabinet.steady import operating_point
from fdm.errors import InputError

Wet = Callable[[Circuit, LumpedSections], Circuit]

MOST_ROUNDS = 40
FLOWS_AGREED = 1e-6  # of what moves inside; its slopes are taken by differences
AGREED = 5e-4  # relative, of every film from round to round; the rounds that would follow change less than that again


def circuit_at_work(
    cabinet: Cabinet, sections: LumpedSections, held: Mapping[str, float] | None = None, wet: Wet | None = None
) -> Circuit:
    """The circuit of a cabinet whose films and flows follow where it settles, nodes `held` at given temperatures
    (degC); the `cabinet` in it has these films. Where water settles, `wet` gives a circuit its latent heat for that.

    Raises InputError where they do not settle.
    """
    c = circuit(cabinet, sections)
    if not (cabinet.films or cabinet.moves_with_temperature):
        return c
    for _ in range(MOST_ROUNDS):
        before, last = c.cabinet.films, c
        t = operating_point(wet(c, sections) if wet else c, c.cabinet.bank.supply, held).temperature
        films = tuple(_at(c, film, t) for film in before)
        changes = [abs(new.film.film / old.film.film - 1) for new, old in zip(films, before)]
        c = circuit(_with_films(c.cabinet, films), sections, t)
        flows_agree = not cabinet.moves_with_temperature or _moved_alike(last, c)
        if max(changes, default=0.0) <= AGREED and flows_agree:
            return c
    if flows_agree:
        worst = before[changes.index(max(changes))].place
        raise InputError(f"{worst}: the film does not settle with the temperature of its surface; give it a number")
    raise InputError(
        "exchange: what moves the air inside does not settle with its temperatures; give it a flow in m3/h"
    )


def _moved_alike(before: Circuit, after: Circuit) -> bool:
    """Whether air and radiation inside pass as much heat as a round before."""
    old, new = ([p.conductance for p in c.paths if p.kind in ("exchange", "load")] for c in (before, after))
    return all(abs(a - b) <= FLOWS_AGREED * b for a, b in zip(old, new))


def _at(c: Circuit, film: FollowingFilm, t: dict[str, float]) -> FollowingFilm:
    """A film at the temperatures of a cabinet."""
    air, surface = _temperatures(c, film, t)
    return replace(film, film=film.follows.film(air, surface), air=air)


def _temperatures(c: Circuit, film: FollowingFilm, t: dict[str, float]) -> tuple[float, float]:
    """degC of a film's air and of its surface."""
    if film.of == LOAD_FILM:
        return _mean(c.cabinet.load_shares, lambda zone: (t[zone], t[load_node(c.cabinet, zone)]))
    if film.of == SINK_FILM:
        ends = _path(c, "sink", film.name.replace("_", " ")).drivers
        air, face = ends if film.name == "cold_sink" else ends[::-1]
        return t[air], t[face]
    wall = next(w for w in c.cabinet.walls if w.name == film.name)
    passes = wall.film_inside if film.of == WALL_INSIDE else wall.film_outside

    def of_zone(zone: str) -> tuple[float, float]:
        path = _path(c, "lining" if film.of == WALL_INSIDE else "wall", named(c.cabinet, wall.name, zone))
        air, lining = path.ends if film.of == WALL_INSIDE else path.ends[::-1]
        area = c.cabinet.wall_area(wall) * shares[zone]
        drop = path.conductance * (t[lining] - t[air]) / (area * passes) if area else 0.0
        return t[air], t[air] + drop

    shares = c.cabinet.wall_shares(wall)
    return _mean(shares, of_zone)


def _mean(shares: Mapping[str, float], of_zone: Callable[[str], tuple[float, float]]) -> tuple[float, float]:
    """degC of air and surface, each zone by its share."""
    both = [(share, *of_zone(zone)) for zone, share in shares.items()]
    return sum(share * air for share, air, _ in both), sum(share * surface for share, _, surface in both)


def _path(c: Circuit, kind: str, name: str) -> Path:
    return next(p for p in c.paths if (p.kind, p.name) == (kind, name))


def _with_films(cabinet: Cabinet, films: tuple[FollowingFilm, ...]) -> Cabinet:
    """The cabinet with other values of films that follow."""
    walls, load, bank = {w.name: w for w in cabinet.walls}, cabinet.load, cabinet.bank
    for f in films:
        value = f.film.film
        if f.of == LOAD_FILM:
            load = replace(load, film=value)
        elif f.of == SINK_FILM:
            sink = getattr(bank, f.name)
            assert isinstance(sink, Sink)
            new = replace(sink, resistance=1 / (value * f.area))
            bank = replace(bank, cold_sink=new) if f.name == "cold_sink" else replace(bank, hot_sink=new)
        elif f.of == WALL_INSIDE:
            walls[f.name] = replace(walls[f.name], film_inside=value)
        else:
            walls[f.name] = replace(walls[f.name], film_outside=value)
    return replace(cabinet, walls=tuple(walls.values()), load=load, bank=bank, films=films)
