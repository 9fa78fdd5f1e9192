"""The solid cells as a mesh file, with temperatures and heat fluxes, for other programs.

Cells of the finest grid are quadrilaterals, those of plates in layers hexahedra. They have `temperature` (also at
points), `part`, `conductivity` and `heat_flux`. In vtu the field data `part NAME` holds the number that the part of
that name has in `part`, as meshio and VTK read no texts alike; fins have the numbers after the parts.
"""

from collections.abc import Iterable, Mapping
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING
from xml.sax.saxutils import quoteattr

import numpy as np
from numpy.typing import NDArray

from fdm.conduction.fields import Field, LayeredField
from fdm.errors import InputError, nearest
from fdm.output.corner_temperatures import corner_temperatures
from fdm.section.files import written_beside
from fdm.section.model import Section
from fdm.solving.solution import Solution

if TYPE_CHECKING:
    import meshio

# The formats of meshio that hold quadrilaterals with values at points and vectors in cells, with options for writing.
FORMATS: dict[str, dict[str, object]] = {
    "vtu": {"compression": None},  # raw: zlib takes ten times as long to write
    "vtk": {},
    "vtk42": {},
    "vtk51": {},
    "xdmf": {"data_format": "XML"},  # everything in the one file
    "gmsh": {},
    "gmsh22": {},
    "avsucd": {},
    "hmf": {},
    "med": {},
}
WITH_H5PY = ("xdmf", "hmf", "med")

SAME = 1e-7  # of the drawing's size: points that are closer are one


def write_mesh(solution: Solution, path: str | Path, file_format: str | None = None) -> None:
    """Write the solid cells of a solution to `path`, in a named format or in the one that the suffix stands for. The
    names of parts are kept in vtu alone.

    Raises InputError for a format, or a suffix, that is not known or cannot hold such a mesh, where a package that the
    format needs is missing, and where the file cannot be written.
    """
    file_format = mesh_format(path) if file_format is None else _usable(file_format, f"format {file_format!r}")
    require_writable(file_format)
    import meshio

    with written_beside(path) as temporary:
        mesh = field_mesh(solution.section, solution.field)
        names = mesh.field_data
        mesh.field_data = {}  # other formats would warn of names of parts
        meshio.write(temporary, mesh, file_format, **FORMATS[file_format])
        if file_format == "vtu":
            _add_names(temporary, names)


def require_writable(file_format: str) -> None:
    """Raise InputError for a format that is not known, cannot hold such a mesh, or needs a package that is missing."""
    mesh_suffix(file_format)
    if file_format in WITH_H5PY and find_spec("h5py") is None:
        raise InputError(f"format {file_format!r}: needs the package 'h5py'; install it, or use 'vtu'")


def mesh_format(path: str | Path) -> str:
    """The format that a path's suffix stands for.

    >>> mesh_format("field.vtu")
    'vtu'
    """
    import meshio

    suffix = Path(path).suffix.lower()
    formats: list[str] = meshio.extension_to_filetypes.get(suffix, [])
    usable = [f for f in formats if f in FORMATS]
    if usable:
        return usable[0]
    if formats:
        return _usable(formats[0], f"{str(path)!r}, suffix {suffix!r}")
    raise InputError(
        f"{str(path)!r}: the suffix {suffix!r} stands for no mesh format; "
        f"use one of {_listed(mesh_suffix(f) for f in FORMATS)}"
    )


def mesh_suffix(file_format: str) -> str:
    """The suffix that goes with a format; InputError if it is not known, or cannot hold such a mesh.

    >>> mesh_suffix("gmsh")
    '.msh'
    """
    if _usable(file_format, f"format {file_format!r}") == "vtu":
        return ".vtu"  # the usual one, known without the time that it takes to import meshio
    import meshio

    own = {"vtk42": ".vtk", "vtk51": ".vtk", "gmsh22": ".msh"}  # variants that meshio knows by name only
    suffixes: dict[str, list[str]] = meshio.extension_to_filetypes
    return own.get(file_format) or next(s for s, formats in suffixes.items() if file_format in formats)


def field_mesh(section: Section, field: Field) -> "meshio.Mesh":
    """The solid cells as quadrilaterals, those of a plate in layers as hexahedra; voids, environments and what is not
    drawn are left out.

    Points (P, 3) in metres with z = 0 (x is the radius about an axis), only those that a cell uses.
    Point data: `temperature` (degC). Cell data: `temperature` (degC), `part` (its number in the order of the file),
    `conductivity` (C, 3) W/(m K) along x, y and 0, `heat_flux` (C, 3) W/m2. Of hexahedra z is the height above the back
    of the plate, and all vectors have three components. Field data: the number of each part that has cells, under its
    name, as in `part hot plate`.
    """
    import meshio

    if isinstance(field, LayeredField):
        return _layered_mesh([*(p.name for p in section.parts), *(f.name for f in section.fins)], field)
    n, m = field.solid.shape
    i, j = np.nonzero(field.solid)
    first = i * (m + 1) + j
    corners = np.column_stack([first, first + m + 1, first + m + 2, first + 1])  # counter-clockwise
    used = np.zeros((n + 1) * (m + 1), bool)
    used[corners] = True
    number = np.cumsum(used) - 1
    at = np.nonzero(used)[0]
    points = np.column_stack([field.x[at // (m + 1)], field.y[at % (m + 1)], np.zeros(len(at))])

    def vectors(values: np.ndarray) -> np.ndarray:
        return np.pad(values[i, j], ((0, 0), (0, 1)))

    return meshio.Mesh(
        points,
        [("quad", number[corners])],
        point_data={"temperature": corner_temperatures(section, field).ravel()[at]},
        cell_data={
            "temperature": [field.temperature[i, j]],
            "part": [field.part[i, j].astype(np.int32)],
            "conductivity": [vectors(field.conductivity)],
            "heat_flux": [vectors(field.flux)],
        },
        field_data={f"part {section.parts[k].name}": np.array([k]) for k in np.unique(field.part[i, j])},
    )


def _add_names(file: Path, field_data: Mapping[str, NDArray[np.int64]]) -> None:
    """Add the field data to a vtu file, as meshio reads but does not write them."""
    # as numbers with names: programs that read vtu agree on these, and not on texts
    arrays = "".join(
        f'<DataArray type="Int64" Name={quoteattr(name)} NumberOfTuples="{len(v)}" format="ascii">\n'
        f"{' '.join(map(str, v))}\n</DataArray>\n"
        for name, v in field_data.items()
    )
    begin = b"<UnstructuredGrid>\n"
    content = file.read_bytes()
    assert begin in content
    file.write_bytes(content.replace(begin, begin + f"<FieldData>\n{arrays}</FieldData>\n".encode(), 1))


def _layered_mesh(names: list[str], field: LayeredField) -> "meshio.Mesh":
    """The cells of parts and fins with these names. Side by side, cells of different heights have their own points."""
    import meshio

    k, i, j = np.nonzero(field.layer_solid)
    corners = []
    for up in (0, 1):
        z = field.height[k + up, i, j]
        corners += [np.column_stack([field.x[i + a], field.y[j + b], z]) for a, b in ((0, 0), (1, 0), (1, 1), (0, 1))]
    everywhere = np.stack(corners, 1)  # (C, 8, 3)
    size = max(np.ptp(field.x), np.ptp(field.y))
    same = np.round(everywhere.reshape(-1, 3) / (SAME * size)).astype(np.int64)
    _, first, number = np.unique(same, axis=0, return_index=True, return_inverse=True)
    number, t = number.reshape(-1, 8), field.layer_temperature[k, i, j]
    shared = np.bincount(number.ravel())
    at_points = np.bincount(number.ravel(), np.repeat(t, 8)) / shared
    return meshio.Mesh(
        everywhere.reshape(-1, 3)[first],
        [("hexahedron", number)],
        point_data={"temperature": at_points},
        cell_data={
            "temperature": [t],
            "part": [field.layer_part[k, i, j].astype(np.int32)],
            "conductivity": [field.layer_conductivity[k, i, j]],
            "heat_flux": [field.layer_flux[k, i, j]],
        },
        field_data={f"part {names[number]}": np.array([number]) for number in np.unique(field.layer_part[k, i, j])},
    )


def _usable(name: str, where: str) -> str:
    """The format's name; raises InputError, which begins with `where`, if it cannot be written."""
    if name in FORMATS:
        return name
    import meshio

    known = {f for formats in meshio.extension_to_filetypes.values() for f in formats}
    if name in known:
        raise InputError(
            f"{where}: {name} cannot hold quadrilaterals with temperatures and fluxes; use one of {_listed(FORMATS)}"
        )
    near = nearest(name, FORMATS)
    raise InputError(
        f"{where}: there is no such mesh format; {near if near.startswith('did') else 'use one of ' + _listed(FORMATS)}"
    )


def _listed(names: Iterable[str]) -> str:
    return ", ".join(map(repr, dict.fromkeys(names)))
