from dataclasses import replace

import meshio
import numpy as np
import pytest

from fdm import solve
from fdm.errors import InputError
from fdm.output.export.mesh import FORMATS, field_mesh, mesh_format, mesh_suffix, write_mesh
from tests.conduction.stack.plates import sink

NEEDS_H5PY = {"xdmf", "hmf", "med"}


def test_slab_read_back_has_the_exact_field(slab, tmp_path):
    path = tmp_path / "slab.vtu"
    write_mesh(slab, path)
    mesh = meshio.read(path)
    x, y, z = mesh.points.T
    assert (x.min(), x.max(), y.min(), y.max()) == pytest.approx((0, 0.1, 0, 0.02))  # metres
    assert not z.any()
    assert mesh.point_data["temperature"] == pytest.approx(10 + 1000 * y, abs=1e-8)
    middle = mesh.points[mesh.cells[0].data].mean(1)
    assert mesh.cell_data["temperature"][0] == pytest.approx(10 + 1000 * middle[:, 1], abs=1e-8)
    flux = mesh.cell_data["heat_flux"][0]
    assert flux == pytest.approx(np.tile([0, -2000, 0], (len(flux), 1)), abs=1e-5)
    assert mesh.cell_data["conductivity"][0] == pytest.approx(np.tile([2, 2, 0], (len(flux), 1)))


def test_only_solid_cells_and_only_points_they_use(wall):
    mesh = field_mesh(wall.section, wall.field)
    quads = mesh.cells_dict["quad"]
    assert len(quads) == wall.field.solid.sum()
    assert set(mesh.cell_data["part"][0]) == {1, 2, 3}
    assert np.array_equal(np.unique(quads), np.arange(len(mesh.points)))
    assert all(np.isfinite(v).all() for v in mesh.point_data.values())
    assert all(np.isfinite(v[0]).all() for v in mesh.cell_data.values())
    # corners go round counter-clockwise, so the shoelace area is positive, and adds up to what is drawn
    x, y = np.moveaxis(mesh.points[quads][..., :2], -1, 0)
    area = ((x * np.roll(y, -1, 1)) - (np.roll(x, -1, 1) * y)).sum(1) / 2
    assert (area > 0).all()
    assert area.sum() == pytest.approx(0.1 * 0.03 + 0.06 * 0.004 - np.pi * 0.005**2, rel=0.01)


def test_points_beside_a_round_void_take_the_solid_s_temperature(wall):
    t = field_mesh(wall.section, wall.field).point_data["temperature"]
    cells = wall.field.temperature[wall.field.solid]
    assert t.min() >= cells.min() - 1 and t.max() <= cells.max() + 1


@pytest.mark.parametrize("name", [f for f in FORMATS if f not in NEEDS_H5PY])
def test_every_format_holds_everything(wall, tmp_path, name):
    path = tmp_path / f"wall{mesh_suffix(name)}"
    write_mesh(wall, path, name)
    assert list(tmp_path.iterdir()) == [path]
    mesh = meshio.read(path)
    assert len(mesh.cells_dict["quad"]) == wall.field.solid.sum()
    expected = field_mesh(wall.section, wall.field)
    found, true = (m.point_data["temperature"] for m in (mesh, expected))
    assert found.shape == true.shape and (abs(found - true) <= 1e-6 * abs(true)).all()
    found, true = (m.cell_data["heat_flux"][0] for m in (mesh, expected))
    assert found.shape == true.shape and (abs(found - true) <= np.maximum(1e-5 * abs(true), 1e-6)).all()


@pytest.mark.parametrize("name", sorted(NEEDS_H5PY))
def test_format_that_needs_a_package_says_so(slab, tmp_path, name):
    try:
        write_mesh(slab, tmp_path / "slab", name)
    except InputError as error:
        assert "h5py" in str(error)
        assert not list(tmp_path.iterdir())


def test_vtk_s_own_reader_reads_it(wall, tmp_path):
    vtk = pytest.importorskip("vtk")
    from vtk.util.numpy_support import vtk_to_numpy

    path = tmp_path / "wall.vtu"
    write_mesh(wall, path)
    reader = vtk.vtkXMLUnstructuredGridReader()
    reader.SetFileName(str(path))
    reader.Update()
    grid = reader.GetOutput()
    expected = field_mesh(wall.section, wall.field)
    assert grid.GetNumberOfCells() == wall.field.solid.sum()
    assert np.array_equal(vtk_to_numpy(grid.GetPointData().GetArray("temperature")), expected.point_data["temperature"])
    assert np.array_equal(vtk_to_numpy(grid.GetCellData().GetArray("heat_flux")), expected.cell_data["heat_flux"][0])
    fields = grid.GetFieldData()
    names = {fields.GetArrayName(k): fields.GetArray(k).GetValue(0) for k in range(fields.GetNumberOfArrays())}
    assert names == {"part wall": 1, "part plate": 2, "part block": 3}
    assert set(vtk_to_numpy(grid.GetCellData().GetArray("part"))) == set(names.values())


def test_a_vtu_file_names_the_parts_whatever_they_are_called(wall, tmp_path):
    parts = [replace(p, name='<plate> & "fins" é' if p.name == "plate" else p.name) for p in wall.section.parts]
    renamed = replace(wall.section, parts=tuple(parts), spreading=())
    write_mesh(replace(wall, asked=replace(wall.asked, section=renamed)), tmp_path / "wall.vtu")
    read = meshio.read(tmp_path / "wall.vtu")
    assert {name: v.tolist() for name, v in read.field_data.items()} == {
        "part wall": [1], 'part <plate> & "fins" é': [2], "part block": [3]
    }  # fmt: skip


def test_suffix_and_format_go_together():
    assert mesh_format("a/b.VTU") == "vtu"
    assert mesh_format("b.msh") == "gmsh"
    assert all(mesh_format("b" + mesh_suffix(f)) in FORMATS for f in FORMATS)


@pytest.mark.parametrize(
    ("path", "name", "message"),
    [
        ("a.vtu", "vtuu", "did you mean 'vtu'"),
        ("a.vtu", "parquet", "there is no such mesh format; use one of 'vtu'"),
        ("a.vtu", "stl", "stl cannot hold"),
        ("a.stl", None, "stl cannot hold"),
        ("a.txt", None, "suffix '.txt' stands for no mesh format; use one of '.vtu'"),
        ("a", None, "stands for no mesh format"),
    ],
)
def test_what_cannot_be_written_is_refused(slab, tmp_path, path, name, message):
    with pytest.raises(InputError, match=message):
        write_mesh(slab, tmp_path / path, name)
    assert not list(tmp_path.iterdir())


def test_a_plate_in_layers_has_hexahedra_with_its_volume_and_the_heat_through_it():
    solution = solve(sink())
    mesh = field_mesh(solution.section, solution.field)
    hexahedra = mesh.points[mesh.cells_dict["hexahedron"]]
    low, high = hexahedra[:, 0], hexahedra[:, 6]
    assert len(hexahedra) == solution.system.cells and (high > low).all()
    assert mesh.points.max(0) == pytest.approx((0.1, 0.15, 0.046)) and not mesh.points.min(0).any()
    assert np.prod(high - low, 1).sum() == pytest.approx(0.1 * 0.15 * 0.046)
    assert set(mesh.cell_data["part"][0]) == {0, 1}  # the plate, its fins
    assert {name: v.tolist() for name, v in mesh.field_data.items()} == {"part plate": [0], "part fins": [1]}
    conductivity = mesh.cell_data["conductivity"][0]
    plate = mesh.cell_data["part"][0] == 0
    assert conductivity[plate] == pytest.approx(200) and not conductivity[~plate, 0].any()
    assert conductivity[~plate, 1:] == pytest.approx(200 * 1.5 / 6.25)
    at_roots = plate & np.isclose(high[:, 2], 0.006)
    flux = mesh.cell_data["heat_flux"][0][at_roots, 2]
    area = np.prod((high - low)[at_roots, :2], 1)
    assert flux @ area == pytest.approx(10, rel=0.05)  # W, but for what leaves the rim
    assert mesh.point_data["temperature"].max() > 20
