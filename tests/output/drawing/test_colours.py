import numpy as np

from fdm.output.drawing.colours import contour_levels, material_colours, part_colours
from fdm.section.model import Border, Environment, Material, Part, Rectangle, Section


def test_levels_of_a_field_at_one_temperature():
    levels, ends = contour_levels(np.full((3, 3), 7.0), 10)
    assert ends == (6.5, 7.5) and 7.0 in levels


def test_materials_alike_are_told_apart():
    materials = [Material(f"foam {k}", (k, k)) for k in (0.031, 0.032, 0.033)] + [Material("steel", (50, 50))]
    parts = tuple(Part(m.name, (Rectangle((i, i + 1), (0, 1)),), m) for i, m in enumerate(materials))
    colours = material_colours(Section("t", parts, (Environment("e", 0, 1),), border=Border(bottom="e")))
    shades = np.array([colours[m.name] for m in materials])
    assert np.abs(shades[:, None] - shades[None]).sum(-1)[~np.eye(4, dtype=bool)].min() > 0.03
    assert shades[0].sum() > shades[3].sum()  # insulators are pale


def test_warm_air_is_redder_than_cold(wall):
    colours = part_colours(wall.section)
    cold, warm = colours[0], colours[len(wall.section.parts) + 3]
    assert cold[2] > cold[0] and warm[0] > warm[2]
    assert colours[-1].tolist() == [255, 255, 255, 255]
