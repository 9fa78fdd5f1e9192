"""Films that follow the operating point of a cabinet, with its modules always on.

Each has one value, at the temperatures of its air and its surface where the cabinet settles. A change of a film moves
its surface little, so both are found by turns: films, where the cabinet settles with them, films at that. Other
supplies and the pull-down keep these values.
"""

from dataclasses import replace

from fdm.cabinet.circuit import Circuit, Path, circuit
from fdm.cabinet.films import LOAD_FILM, SINK_FILM, WALL_INSIDE, FollowingFilm
from fdm.cabinet.model import Cabinet, Sink
from fdm.cabinet.sections import LumpedSections
from fdm.cabinet.steady import operating_point
from fdm.errors import InputError

MOST_ROUNDS = 40
AGREED = 5e-4  # relative, of every film from round to round; the rounds that would follow change less than that again


def circuit_at_work(cabinet: Cabinet, sections: LumpedSections) -> Circuit:
    """The circuit of a cabinet whose films follow where it settles; the `cabinet` in it has these films.

    Raises InputError where they do not settle.
    """
    c = circuit(cabinet, sections)
    if not cabinet.films:
        return c
    for _ in range(MOST_ROUNDS):
        before = c.cabinet.films
        t = operating_point(c, c.cabinet.bank.supply).temperature
        films = tuple(_at(c, film, t) for film in before)
        changes = [abs(new.film.film / old.film.film - 1) for new, old in zip(films, before)]
        c = circuit(_with_films(c.cabinet, films), sections)
        if max(changes) <= AGREED:
            return c
    worst = before[changes.index(max(changes))].place
    raise InputError(f"{worst}: the film does not settle with the temperature of its surface; give it a number")


def _at(c: Circuit, film: FollowingFilm, t: dict[str, float]) -> FollowingFilm:
    """A film at the temperatures of a cabinet."""
    air, surface = _temperatures(c, film, t)
    return replace(film, film=film.follows.film(air, surface), air=air)


def _temperatures(c: Circuit, film: FollowingFilm, t: dict[str, float]) -> tuple[float, float]:
    """degC of a film's air and of its surface."""
    if film.of == LOAD_FILM:
        air, load = _path(c, "load", "load surface").ends
        return t[air], t[load]
    if film.of == SINK_FILM:
        ends = _path(c, "sink", film.name.replace("_", " ")).ends
        air, face = ends if film.name == "cold_sink" else ends[::-1]
        return t[air], t[face]
    wall = next(w for w in c.cabinet.walls if w.name == film.name)
    path = _path(c, "lining" if film.of == WALL_INSIDE else "wall", wall.name)
    air, lining = path.ends if film.of == WALL_INSIDE else path.ends[::-1]
    passes = wall.film_inside if film.of == WALL_INSIDE else wall.film_outside
    area = c.cabinet.wall_area(wall)
    drop = path.conductance * (t[lining] - t[air]) / (area * passes) if area else 0.0
    return t[air], t[air] + drop


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
