"""Films of walls, load and sinks: numbers, or by a relation as in sections. One whose relation depends on the surface's
temperature, where that is not given, follows the operating point (`fdm.cabinet.following`)."""

from dataclasses import dataclass, field, replace

from fdm.section.films import number_film, relation_film
from fdm.section.model import Environment
from fdm.section.tables import Table
from fdm.section.uncertain import is_uncertain
from fdm.surroundings.film import Film
from fdm.surroundings.questions import Following

WALL_INSIDE, WALL_OUTSIDE, LOAD_FILM, SINK_FILM = "wall inside", "wall outside", "load", "sink"


@dataclass(frozen=True)
class FollowingFilm:
    """A film that follows its surface: its place in the file, what it is `of` and the name or key of that, and what
    `film` it has now, in air of a temperature `air` (degC). That of a sink acts on `area` (m2), times the efficiency of
    its fins."""

    place: str
    of: str
    name: str
    follows: Following
    film: Film
    air: float
    area: float = 0.0

    @property
    def notes(self) -> tuple[str, ...]:
        """What is doubtful of it, with its place."""
        return tuple(f"{self.place}: {note}" for note in self.film.notes)

    @property
    def in_words(self) -> str:
        """Where it stands, and its value at its surface's temperature."""
        surface = "" if self.film.surface is None else f" at {self.film.surface:.3g} degC"
        return f"{self.place} {self.film.film:.3g} W/(m2 K){surface}"


@dataclass(frozen=True)
class FilmReader:
    """Reads films in air of two temperatures (degC) at an altitude (m), keeps those that follow, and the notes on the
    others, each with its place."""

    inside: float
    room: float
    altitude: float
    following: list[FollowingFilm] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def read(self, t: Table, key: str, of: str, name: str, indoors: bool) -> float:
        """W/(m2 K) of the film at a key; for one that follows, where to begin."""
        given = t.values.get(key)
        if not isinstance(given, dict) or is_uncertain(given):
            return number_film(t, key)
        air = self.inside if indoors else self.room
        film, follows = relation_film(t, key, air, self.altitude)
        if follows is not None:
            self.following.append(FollowingFilm(t.place(key), of, name, follows, film, air))
        else:
            self.notes.extend(f"{t.place(key)}: {note}" for note in film.notes)
        return film.film

    def environment(self, air: str, temperature: float, film: float, of: str, name: str) -> Environment:
        """Air (degC) of a drawn section, behind a film (W/(m2 K)) that was read here, and follows there as it does
        here."""
        own = next((f for f in self.following if (f.of, f.name) == (of, name)), None)
        if own is None:
            return Environment(air, temperature, film)
        return Environment(air, temperature, film, own.film, follows=own.follows)

    def on_area(self, place: str, area: float) -> None:
        """Says on which area (m2) the film read at a place acts."""
        self.following[:] = [replace(f, area=area) if f.place == place else f for f in self.following]
