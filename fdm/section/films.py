"""Questions about films in a file's words: film = { flow = "channels", speed = 3, .. }.

The same keys are the words of the command `film`, and are read by the same code. Lengths are in the file's unit.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace

from fdm.errors import InputError, nearest
from fdm.section.pieces import LEAST, MOST, Uncertain
from fdm.section.tables import Table, refuse_unknown
from fdm.section.uncertain import spread_about
from fdm.surroundings.driven import AlongPlate, Channels, Impinging
from fdm.surroundings.fans import Fan, at_speed, fan_of_points
from fdm.surroundings.film import Conditions, Film
from fdm.surroundings.fins import FinArray, fins_across
from fdm.surroundings.questions import Following, Question, depends_on_surface, film_of
from fdm.surroundings.rooms import Indoors, Outdoors
from fdm.surroundings.still import FACES, Gap, StillFace, StillFins
from fdm.surroundings.surfaces import DIRECTIONS

SURFACE = ("surface", "warmer", "emissivity")
SPACING = ("gap", "pitch", "count")
FINS = (*SPACING, "thickness", "height", "length", "width", "conductivity")
FAN = ("curve", "free_flow", "shut_off", "speed")

FIRST_WARMER = 10.0  # K: a surface that is warmer than its air by this is where a film that follows begins

FLOWS = {  # the keys of each kind of flow, besides `flow` and those of the surface
    "still": ("face", "along", *FINS),
    "gap": ("heat", "thickness", "height", "other_emissivity"),
    "channels": (*FINS, "speed", "approach", "volume_flow", "fan", "clearance", "open"),
    "impinging": (*FINS, "volume_flow", "fan"),
    "plate": ("length", "speed", "undisturbed"),
    "indoor": ("heat",),
    "outdoor": ("speed",),
}

FLOW_WORDS = {
    "still": "still air: a bare face, or fins where gap, pitch or count is given",
    "gap": "a closed gap between two faces; temperature is that of one of them, surface that of the other",
    "channels": "air driven between fins",
    "impinging": "a fan that blows down onto fins",
    "plate": "air driven along a face",
    "indoor": "a wall's face in a room, by ISO 6946",
    "outdoor": "a wall's face in the open, by ISO 6946",
}

KEY_WORDS = {
    "surface": "temperature of the surface, degC; left out in a section, it is found with the answer",
    "warmer": "the same as a difference: how much warmer than the air, K; below 0 where it is colder",
    "emissivity": "of the surface; left out, no radiation is counted",
    "face": 'which way it faces: "vertical", "up" or "down"; with fins, their base',
    "along": 'which way fins run on a vertical base: "vertical" (up and down) or "horizontal"',
    "gap": "between two fins",
    "pitch": "from fin to fin: gap and thickness",
    "count": "of fins on the width",
    "thickness": "of a fin; of a closed gap from face to face",
    "height": "of fins above their base; of a vertical face; of a closed gap",
    "length": "of fins or of a face, along the flow",
    "width": "of the fins' base, or of a level face, across the length",
    "conductivity": "of the fins, W/(m K): the film is that of their base then, with the fins in it",
    "speed": "of the air, m/s: between the fins, along the face, of the wind (4); of a fan, share of its full speed",
    "approach": "speed of the air before the fins, m/s",
    "volume_flow": "m3/h",
    "fan": "its curve, [[m3/h, Pa], ..], or its free_flow (m3/h) and shut_off (Pa); speed as a share",
    "clearance": "free height of the duct above the fins",
    "open": "true where the fins stand free in the stream, without a duct",
    "undisturbed": "true where neither a fan nor a blunt edge is before the face",
    "heat": 'which way it goes: "up", "horizontal" or "down"',
    "other_emissivity": "of the second face of a gap, where it differs",
}


def read_film(
    t: Table, temperature: float, altitude: float, drawn: FinArray | None = None
) -> tuple[Question, Conditions]:
    """The question that a table of a film's keys asks, in air of a temperature (degC) at an altitude (m). Fins that are
    `drawn` in that air need no dimensions in the table.

    Raises InputError, which begins with the table's place, for what is unknown, missing or impossible.

    >>> t = Table("film", {"flow": "plate", "length": 100, "speed": "2 * 1.5"}, {}, unit=1e-3)
    >>> read_film(t, 25, 0)[0]
    AlongPlate(length=0.1, speed=3.0, undisturbed=False)
    """
    flow = t.text("flow") if "flow" in t.values else None
    if flow not in FLOWS:
        found = "missing" if flow is None else f"{flow!r} is no kind of flow"
        raise t.fault("flow", f"{found}; {nearest(flow or '', FLOWS)}")
    refuse_unknown(t.where, t.values, ("flow", *FLOWS[flow], *SURFACE))
    if drawn is not None and flow in OF_FINS:
        t.refuse_given(FINS, "is known of the [[fins]] that stand in this environment")
    if "surface" in t.values and "warmer" in t.values:
        raise InputError(f"{t.where}: give either surface or warmer")
    surface = t.optional(t.number, "surface")
    if (warmer := t.optional(t.number, "warmer")) is not None:
        surface = temperature + warmer
    try:
        question = OF_FINS[flow](t, drawn) if flow in OF_FINS else _READERS[flow](t)
        return question, Conditions(temperature, surface, t.optional(t.number, "emissivity"), altitude)
    except InputError as error:
        raise _placed(t, error) from None


def film_in(t: Table, temperature: float, altitude: float, drawn: FinArray | None = None) -> Film:
    """The film that answers a table's question, as `read_film` reads it."""
    question, at = read_film(t, temperature, altitude, drawn)
    try:
        return film_of(question, at)
    except InputError as error:
        raise _placed(t, error) from None


def relation_film(
    t: Table, key: str, temperature: float, altitude: float, drawn: FinArray | None = None
) -> tuple[Film, Following | None]:
    """The film of a table inside `t`, between a surface and air of a temperature (degC). Where the temperature of the
    surface is not given and matters, the film follows the answer: this one is then where to begin. Fins that are
    `drawn` in that air need no dimensions in the table.

    Its relation's uncertainty becomes that of a number at the place of the key, by which the film may be moved; of a
    film that follows, that of a factor. Raises InputError, which begins with that place, and for a closed gap, which
    has no air of its own.
    """
    inner = replace(t, where=t.place(key), values=t.value(key, dict, "a film's table"))
    if inner.values.get("flow") == "gap":
        raise inner.fault(
            "flow", '"gap" lies between two faces; draw it as a part with gap = true in place of a material'
        )
    place = inner.where
    if not {"surface", "warmer"} & inner.values.keys():
        first = temperature + FIRST_WARMER
        warm = replace(inner, values={**inner.values, "surface": first})
        question, at = read_film(warm, temperature, altitude, drawn)
        if depends_on_surface(question, at):
            return _following(t, place, Following(question, at.emissivity, altitude), at)
    found = film_in(inner, temperature, altitude, drawn)
    t.uncertain[place] = spread_about(place, found.film, found.uncertainty)
    return replace(found, film=found.film + t.moved.get(place, 0.0)), None


def number_film(t: Table, key: str) -> float:
    """A film that is given as a number (W/(m2 K)). Raises InputError, which begins with its place, for what is none,
    and for the name of a flow."""
    given = t.values.get(key)
    if isinstance(given, str) and given in FLOWS and given not in t.let:
        raise t.fault(key, f'{given!r} is a kind of flow; give {{ flow = "{given}", .. }}, or a number, W/(m2 K)')
    return t.number(key, "film")


def _following(t: Table, place: str, follows: Following, first: Conditions) -> tuple[Film, Following]:
    """A film that follows, with the first surface that it is taken for."""
    assert first.surface is not None
    try:
        found = follows.film(first.temperature, first.surface)
    except InputError as error:
        raise InputError(f"{place}, {error}") from None
    factor = f"{place}, relation"
    t.uncertain[factor] = spread_about(factor, 1.0, found.uncertainty)
    follows = replace(follows, factor=1 + t.moved.get(factor, 0.0))
    return replace(found, film=follows.factor * found.film), follows


def effects(read: Callable[[Mapping[str, float]], Film], uncertain: Mapping[str, Uncertain]) -> dict[str, float]:
    """By place, what one standard uncertainty of each number changes of the film that `read` gives where numbers are
    moved (W/(m2 K)); to first order, half of the change from below to above."""
    return {
        place: (read({place: u.uncertainty}).film - read({place: -u.uncertainty}).film) / 2
        for place, u in uncertain.items()
    }


def _placed(t: Table, error: InputError) -> InputError:
    message = str(error)
    return error if message.startswith(t.where) else InputError(f"{t.where}, {message}")


def _positive(t: Table, read: Callable[[str], float], key: str) -> float | None:
    value = t.optional(read, key)
    if value is not None and value and not LEAST <= abs(value) <= MOST:
        raise t.fault(key, f"{value:g} is beyond all that exists")
    return value


def _length(t: Table, key: str, or_zero: bool = False) -> float | None:
    value = _positive(t, t.length, key)
    if value is not None and (value < 0 or (value == 0 and not or_zero)):
        raise t.fault(key, f"{value / t.unit:g} is not a length above 0")
    return value


def _number(t: Table, key: str) -> float | None:
    return _positive(t, t.number, key)


def _direction(t: Table) -> str:
    if "heat" not in t.values:
        raise t.fault("heat", f"missing; {nearest('', DIRECTIONS)}")
    return t.text("heat")


def _needed(t: Table, key: str) -> float:
    value = _length(t, key)
    if value is None:
        raise t.fault(key, f"missing; {KEY_WORDS[key]}")
    return value


def _fins(t: Table) -> FinArray:
    count = _number(t, "count")
    if count is not None and count != int(count):
        raise t.fault("count", f"{count:g} is not a whole number of fins")
    if not any(key in t.values for key in SPACING):
        raise t.fault("gap", "missing; give one of gap, pitch and count of the fins")
    return fins_across(
        width=_length(t, "width"),
        length=_needed(t, "length"),
        height=_needed(t, "height"),
        thickness=_needed(t, "thickness"),
        gap=_length(t, "gap"),
        pitch=_length(t, "pitch"),
        count=None if count is None else int(count),
    )


def _fan(t: Table) -> Fan | None:
    if "fan" not in t.values:
        return None
    fan = t.table("fan", FAN)
    if "curve" in fan.values:
        if "free_flow" in fan.values or "shut_off" in fan.values:
            raise InputError(f"{fan.where}: give either curve, or free_flow with shut_off")
        points = replace(fan, unit=1.0).pairs("curve")
    else:
        points = ((0.0, fan.number("shut_off")), (fan.number("free_flow"), 0.0))
        for key, value in (("shut_off", points[0][1]), ("free_flow", points[1][0])):
            if value <= 0:
                raise fan.fault(key, f"{value:g} is not above 0")
    share = fan.optional(fan.number, "speed")
    if share is not None and not 0 < share <= 2:
        raise fan.fault("speed", f"{share:g} is not a share of the fan's full speed; give one above 0, such as 0.5")
    with t.at("fan"):
        whole = fan_of_points(points)
    return whole if share is None else at_speed(whole, share)


def _still(t: Table, drawn: FinArray | None) -> Question:
    face = t.optional(t.text, "face")
    if drawn is not None or any(key in t.values for key in (*SPACING, "thickness", "conductivity")):
        along = t.optional(t.text, "along")
        return StillFins(drawn or _fins(t), face or "vertical", along, _number(t, "conductivity"))
    if face is None:
        raise t.fault(
            "face",
            'missing; give the way the face faces, "vertical", "up" or "down", or gap, pitch or count of its fins',
        )
    if face not in FACES:
        raise t.fault("face", f"{face!r} is no way to face; {nearest(face, FACES)}")
    belong = ("height",) if face == "vertical" else ("length", "width")
    for key in ("height", "length", "width", "along"):
        if key in t.values and key not in belong:
            raise t.fault(key, f"does not belong to a bare face = {face!r}, which has {' and '.join(belong)}")
    return StillFace(face, *(_length(t, key) for key in ("height", "length", "width")))


def _gap(t: Table) -> Question:
    return Gap(_needed(t, "thickness"), _direction(t), _length(t, "height"), _number(t, "other_emissivity"))


def _channels(t: Table, drawn: FinArray | None) -> Question:
    flow = _number(t, "volume_flow")
    return Channels(
        drawn or _fins(t),
        _number(t, "speed"),
        _number(t, "approach"),
        None if flow is None else flow / 3600,
        _fan(t),
        _length(t, "clearance", or_zero=True) or 0.0,
        t.optional(t.true, "open") or False,
        _number(t, "conductivity"),
    )


def _impinging(t: Table, drawn: FinArray | None) -> Question:
    flow = _number(t, "volume_flow")
    return Impinging(drawn or _fins(t), None if flow is None else flow / 3600, _fan(t), _number(t, "conductivity"))


def _plate(t: Table) -> Question:
    return AlongPlate(_needed(t, "length"), t.number("speed"), t.optional(t.true, "undisturbed") or False)


def _indoor(t: Table) -> Question:
    return Indoors(_direction(t))


def _outdoor(t: Table) -> Question:
    return Outdoors(_number(t, "speed"))


OF_FINS: dict[str, Callable[[Table, FinArray | None], Question]] = {
    "still": _still,
    "channels": _channels,
    "impinging": _impinging,
}
_READERS: dict[str, Callable[[Table], Question]] = {
    "gap": _gap,
    "plate": _plate,
    "indoor": _indoor,
    "outdoor": _outdoor,
}
