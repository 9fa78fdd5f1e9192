"""A solved cabinet as plain data. These are the keys, as result.json has them; what is not finite is null.

    title  let  room  setpoint
    operating_point  temperature {node: degC} thermostat_reading above_setpoint current supply_current voltage power
                     pumped rejected lead_loss cop peltier conducted_back half_joule
                     [fan_power power_with_fans places_apart {sink: K}]    with fans, with plates
                     with zones: misreading {mount place}   exchange {name: flow natural} in m3/h
    budget           {name: kind share watts}
    supply           quantity, curves (supply air power setpoint_pumped setpoint_power setpoint_spare),
                     lowest: supply air   best: supply cop
    pull_down        settled time_to_setpoint load_time load_setpoint_time dial peak_supply_current peak_power period
                     load_settles air_settles duty mean_power energy_a_day
    moisture         where a humidity is given: room: humidity point   always_on, at_setpoint (or null): point humidity
                     water_a_day frozen_a_day drained_a_day evaporated_a_day brought_a_day (kg) latent
                     inside, outside {name: part lowest margin sweats_from temperature_factor}   settles_on {name}
    module_check     predicted stated excess, or null
    circuit          nodes {name: capacity heat}   paths [name kind between conductance band]
                     driven_by: whose temperatures drive a path, where these are not those of its ends
    mends            [words left air]   of the thermostat's misreading, with zones
    sections         {name of the file: file, and its result as above without band}
    warnings  left_out   [films {place: as of a section}]     where they follow
    band             operating_point budget moisture supply pull_down sections: the same paths

A second section of the same file is called `NAME 2`.
"""

from typing import Any

from fdm.cabinet.circuit import Circuit
from fdm.cabinet.datasheet import HeatCheck
from fdm.cabinet.quantities import DAY, numbered, section_names
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.settling import MoistAir, Moisture
from fdm.cabinet.solution import SolvedCabinet
from fdm.solving.result import by_path, plain_data, result_dict
from fdm.surroundings.film import film_dict

CHART = ("quantity", "supply", "air", "power", "setpoint_pumped", "setpoint_power", "setpoint_spare")  # its curves


def cabinet_dict(solved: SolvedCabinet) -> dict[str, Any]:
    """Every answer by path: temperatures in degC, heat and power in W, times in s, energy in J, all else SI; no NaN and
    no infinity (None instead).

    `band` holds half-widths under the same paths, None where nobody knows. `circuit` has the nodes and paths for other
    lumped models; `sections` what each drawn section answers, as `result_dict` has it, and its `file` with overrides.
    """
    cabinet, chart, answered = solved.cabinet, solved.chart, by_path(solved.answers)
    films, moisture = cabinet.films, solved.circuit.moisture
    names = section_names(solved.sections)
    kinds = zip(numbered(b.name for b in solved.budget), solved.budget)
    plain: dict[str, Any] = plain_data(
        {
            "title": cabinet.title,
            "let": cabinet.let,
            "room": cabinet.room,
            "setpoint": cabinet.setpoint,
            "operating_point": answered["operating_point"],
            "budget": {
                name: {"kind": line.kind, "share": line.share} | answered["budget"][name] for name, line in kinds
            },
            **({} if moisture is None else {"moisture": _moisture(answered["moisture"], moisture)}),
            "supply": {key: getattr(chart, key) for key in CHART} | answered["supply"],
            "pull_down": {"settled": solved.pull_down.settled} | answered["pull_down"],
            "module_check": None if solved.heat_check is None else _module_check(solved.heat_check),
            "circuit": _circuit(solved.circuit),
            "sections": {
                name: {"file": section_file(file)} | {k: v for k, v in result_dict(s).items() if k != "band"}
                for name, (file, s) in zip(names, solved.sections.items())
            },
            "warnings": solved.warnings,
            **({"mends": [vars(m) for m in solved.mends]} if solved.mends else {}),
            "left_out": solved.left_out,
            **({"films": {f.place: film_dict(f.film) | {"surface": f.film.surface} for f in films}} if films else {}),
            "band": by_path(solved.answers, bands=True),
        }
    )
    return plain


def section_file(file: SectionFile) -> str:
    """The file and its overrides, as on a command line."""
    return " ".join([file.path, *(f"{name}={value}" for name, value in file.let)])


def _module_check(check: HeatCheck) -> dict[str, Any]:
    return {"predicted": check.predicted, "stated": check.stated, "excess": check.excess}


def _moisture(answered: dict[str, Any], m: Moisture) -> dict[str, Any]:
    """What is answered of moisture, with the coldest part of each thing, and what the water settles on (kg a day)."""
    return {
        "room": answered["room"],
        "always_on": _moist_air(answered["always_on"], m.always_on),
        "at_setpoint": None if m.at_setpoint is None else _moist_air(answered["at_setpoint"], m.at_setpoint),
    }


def _moist_air(answered: dict[str, Any], air: MoistAir) -> dict[str, Any]:
    sides: dict[str, Any] = {side: answered[side] for side in ("inside", "outside") if side in answered}
    for s in air.surfaces:
        sides[s.side][s.name] = {"part": s.part or None} | sides[s.side][s.name]
    water = {x.name: {"frozen_a_day": DAY * x.frozen, "drained_a_day": DAY * x.drained} for x in air.settled}
    return answered | sides | {"settles_on": water}


def _circuit(c: Circuit) -> dict[str, Any]:
    return {
        "nodes": {n.name: {"capacity": n.capacity, "heat": n.heat} for n in c.nodes},
        "paths": [
            {"name": p.name, "kind": p.kind, "between": p.ends, "conductance": p.conductance, "band": p.band}
            | ({"driven_by": p.driven_by} if p.driven_by else {})
            for p in c.paths
        ],
    }
