"""What lies, stands and is read on the faces of a plate: read from a file, and refused in one sentence."""

from collections.abc import Callable
from pathlib import Path

import pytest

from fdm.errors import InputError
from fdm.section import read_section
from fdm.section.model import Rectangle, Section
from fdm.section.rules import fin_pitch

SINK = """
view = "plate"
unit = "mm"
let = { fins = 16 }
[material.graphite]
conductivity = { x = 300, y = 200, z = 8 }
[[environment]]
name = "fan air"
temperature = 30
film = 35
[[part]]
name = "base"
material = "aluminium 6063-T5"
thickness = 8
rectangle = { x = [0, 100], y = [0, 150] }
[[fins]]
part = "base"
face = "front"
along = "y"
count = "fins"
thickness = 1.5
height = 40
environment = "fan air"
joint = { thickness = 0.1, conductivity = 1 }
[[fins]]
name = "ribs"
part = ["base"]
face = "back"
along = "x"
pitch = 10
thickness = 2
height = 12
environment = "fan air"
material = "copper"
rectangle = { x = [0, 100], y = [100, 150] }
[[source]]
name = "module"
part = "base"
face = "back"
rectangle = { x = [30, 70], y = [50, 90] }
heat = 40
[[sensor]]
name = "probe"
at = [50, 70]
face = "back"
depth = 3
"""

Read = Callable[[str], Section]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    def read_text(text: str) -> Section:
        path = tmp_path / "sink.toml"
        path.write_text(text)
        return read_section(path)

    return read_text


def test_fins_and_faces_are_read(read: Read) -> None:
    section = read(SINK)
    fins, ribs = section.fins
    assert section.layered
    assert (fins.name, fins.count, fins.material.name, fins.joint) == ("fins of base", 16, "aluminium 6063-T5", 1e-4)
    assert (ribs.name, ribs.face, ribs.material.name) == ("ribs", "back", "copper")
    assert [fin_pitch(f, section.part_named) for f in section.fins] == pytest.approx([0.1 / 16, 0.01])
    assert ribs.rectangle == Rectangle((0.0, 0.1), (0.1, 0.15))
    (source,), (sensor,) = section.sources, section.sensors
    assert (source.face, source.rectangle) == ("back", Rectangle((0.03, 0.07), (0.05, 0.09)))
    assert (sensor.face, sensor.depth) == ("back", 0.003)


def test_a_plate_without_anything_on_its_faces_is_not_resolved(read: Read) -> None:
    plain = SINK[: SINK.index("[[fins]]")] + '[[source]]\nname = "module"\npart = "base"\nheat = 40\n'
    assert not read(plain).layered


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('face = "front"', 'face = "top"', "fins 'fins of base', face: 'top' is no face of a plate"),
        ('along = "y"', 'along = "z"', "fins 'fins of base', along: 'z' is no direction"),
        ("count =", "number =", "fins 1, number: unknown key"),
        ("count =", "pitch = 5\ncount =", "give exactly one of count and pitch"),
        ("fins = 16", "fins = 16.5", "fins 'fins of base', count: 16.5 is not a whole number of fins"),
        ("fins = 16", "fins = 80", "fins 1.5 mm thick leave no gap at a pitch of 1.25 mm"),
        ("height = 40", "height = 0", "fins 'fins of base', height: 0.0 is not a number above 0"),
        ('environment = "fan air"\njoint', 'environment = "fan"\njoint', "there is no environment named 'fan'"),
        ("film = 35", "film = inf", "the film of 'fan air' is infinite; give a finite film"),
        ('part = ["base"]', 'part = ["bass"]', "fins 'ribs', part: there is no part named 'bass'; did you mean 'base'"),
        ('name = "ribs"', 'name = "fins of base"', "fins: the name 'fins of base' is defined twice"),
        ('name = "ribs"', 'name = "base"', "part and fins: the name 'base' is defined twice"),
        ("y = [100, 150]", "y = [100, 160]", "fins 'ribs', rectangle: y = [100, 160] reaches beyond the drawing"),
        ("y = [50, 90]", "y = [-5, 90]", "source 'module', rectangle: y = [-5, 90] reaches beyond the drawing"),
        ('face = "back"\nrectangle = { x = [30', "rectangle = { x = [30", "source 'module', rectangle: on which face"),
        ("heat = 40", "temperature = 40", "source 'module', face: only the heat of a part enters on a face"),
        ("depth = 3", "depth = 9", "sensor 'probe', depth: 9 mm is beyond the plate, which is 8 mm thick there"),
        ('face = "back"\ndepth', "depth", "sensor 'probe', depth: from which face it is measured is missing"),
    ],
)
def test_refused_with_place(read: Read, old: str, new: str, message: str) -> None:
    assert old in SINK
    with pytest.raises(InputError) as refused:
        read(SINK.replace(old, new, 1))
    assert message in str(refused.value)


def test_a_plate_that_conducts_differently_along_x_and_y_needs_its_conductivity_through_the_thickness(
    read: Read,
) -> None:
    text = SINK.replace("thickness = 8", 'thickness = 8\nfront = "fan air"').replace("aluminium 6063-T5", "graphite")
    text = text.replace("thickness = 1.5", 'thickness = 1.5\nmaterial = "copper"')
    assert read(text).parts[0].material.through == 8
    with pytest.raises(InputError, match="'graphite' has no conductivity that way; give conductivity = { x = .., y"):
        read(text.replace(", z = 8", ""))
    with pytest.raises(InputError, match="fins 'fins of base', material: 'graphite' conducts better one way"):
        read(
            text.replace('material = "copper"\n', "", 1).replace(
                "thickness = 1.5", 'thickness = 1.5\nmaterial = "graphite"'
            )
        )


def test_faces_and_fins_belong_to_the_plate_view(read: Read) -> None:
    drawn = SINK.replace("thickness = 8\n", "").replace('view = "plate"', "")
    with pytest.raises(InputError, match="fins 'fins of base': fins stand on a plate seen face on"):
        read(drawn)
    with pytest.raises(InputError, match="source 'module', face: belongs to the plate view"):
        read(drawn[: drawn.index("[[fins]]")] + drawn[drawn.index("[[source]]") :])
