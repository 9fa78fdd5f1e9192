"""The modules of a cabinet with their sinks and their supply, from their tables."""

from collections.abc import Mapping

from fdm.cabinet.bank import Bank
from fdm.cabinet.datasheet import DataSheet, module_from_datasheet
from fdm.cabinet.films import FilmReader
from fdm.cabinet.module import ThermoelectricModule
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.section_reader import SECTION, SectionFolder, read_section_file
from fdm.cabinet.sink_reader import read_sink
from fdm.cabinet.supply import Supply
from fdm.errors import InputError
from fdm.section.model import Material
from fdm.section.tables import Table

DATASHEET = ("greatest_heat", "greatest_difference", "greatest_current", "greatest_voltage", "hot_side")
DIRECT = ("seebeck", "resistance", "conductance")
SLOPES = ("seebeck_slope", "resistance_slope", "conductance_slope")
BANK = (
    *(*SECTION, "cold", "hot", "inside", "outside", "wall", "wall_area", "wall_along"),
    *(*DATASHEET, *DIRECT, "reference_mean", *SLOPES, "cold_sink", "hot_sink", "cold_capacity", "hot_capacity", "zone"),
)
SUPPLY = ("voltage", "current", "lead_resistance", "series", "parallel")


def read_bank(top: Table, materials: Mapping[str, Material], folder: SectionFolder, films: FilmReader) -> Bank:
    """The modules, with what they sit on and what drives them."""
    t = top.table("module", BANK)
    file = read_section_file(t, folder) if "section" in t.values else None
    if file is None:
        t.refuse_given(("let", "cold", "hot", "inside", "outside", "wall"), "belongs to a section, and none is given")
    wall = t.optional(t.text, "wall")
    if wall is None:
        t.refuse_given(("wall_area", "wall_along"), "belongs to a wall, and none is given")
    module, data_sheet = _module(t)
    return Bank(
        module=module,
        supply=_supply(top.table("supply", SUPPLY)),
        file=file,
        cold=t.optional(t.text, "cold") or Bank.cold,
        hot=t.optional(t.text, "hot") or Bank.hot,
        inside=t.optional(t.names, "inside") or (),
        outside=t.optional(t.names, "outside") or (),
        wall=wall,
        wall_area=_wall_area(t, file) if wall is not None and file is not None else 0.0,
        cold_sink=read_sink(t, "cold_sink", materials, films, folder),
        hot_sink=read_sink(t, "hot_sink", materials, films, folder),
        cold_capacity=t.number_or("cold_capacity", 0.0),
        hot_capacity=t.number_or("hot_capacity", 0.0),
        data_sheet=data_sheet,
        zone=t.optional(t.text, "zone"),
    )


def _wall_area(t: Table, file: SectionFile) -> float:
    """m2 of wall that the section of one module replaces."""
    if t.one_of("wall_area", "wall_along") == "wall_area":
        return t.number("wall_area")
    along = t.text("wall_along")
    if along not in ("x", "y"):
        raise t.fault("wall_along", f'{along!r} is no direction; give "x" or "y" of the section')
    if file.section.view != "section":
        raise t.fault("wall_along", f"{file.path} has the view {file.section.view!r} and no depth; give wall_area")
    x0, x1, y0, y1 = file.section.extent
    return (x1 - x0 if along == "x" else y1 - y0) * file.section.depth


def _module(t: Table) -> tuple[ThermoelectricModule, DataSheet | None]:
    """The module, and the data sheet that it comes from, if any."""
    slopes = {key: t.number(key) for key in SLOPES if key in t.values}
    if not any(key in t.values for key in DIRECT):
        if not any(key in t.values for key in DATASHEET):
            raise InputError(
                f"{t.where}: no figures of the module; give {', '.join(DATASHEET)} of its data sheet, "
                "or its seebeck, resistance and conductance"
            )
        t.refuse_given(("reference_mean",), "belongs to seebeck, resistance and conductance; a data sheet has its own")
        sheet = _data_sheet(t)
        return module_from_datasheet(sheet, **slopes), sheet
    t.refuse_given(DATASHEET, "is a data sheet's figure, but seebeck, resistance and conductance are given")
    mean = t.number("reference_mean") if slopes or "reference_mean" in t.values else 0.0  # only slopes refer to it
    seebeck, resistance, conductance = (t.number(key, key) for key in DIRECT)
    return ThermoelectricModule(seebeck, resistance, conductance, mean, **slopes), None


def _data_sheet(t: Table) -> DataSheet:
    unused = "greatest_heat" if "greatest_voltage" in t.values else ""  # only checked against the others
    heat, difference, current, voltage = (
        t.number(key, key if key != unused else "") if key in t.values else None for key in DATASHEET[:4]
    )
    hot_side = t.number("hot_side")
    if difference is None or current is None:
        raise t.fault(
            "greatest_difference" if difference is None else "greatest_current",
            "missing; give greatest_difference, greatest_current and one of greatest_voltage and greatest_heat",
        )
    return DataSheet(difference, current, hot_side, voltage, heat)


def _supply(t: Table) -> Supply:
    given = t.one_of("voltage", "current")
    if t.number(given) == 0:
        raise t.fault(given, "0 leaves the modules off, with nothing to compare; give the supply's figure")
    return Supply(
        voltage=t.optional(t.number, "voltage"),
        current=t.optional(t.number, "current"),
        lead_resistance=t.number_or("lead_resistance", 0.0),
        series=t.optional(t.count, "series") or 1,
        parallel=t.optional(t.count, "parallel") or 1,
    )
