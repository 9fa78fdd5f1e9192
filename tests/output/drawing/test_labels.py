from fdm.output.drawing.labels import in_two
from fdm.output.drawing.sheet import Sheet
from tests.output.drawing.drawing_example import boxes


def test_words_go_far_only_where_nothing_near_is_free(wall):
    sheet = Sheet(wall.section, legend=True)
    sheet.labels.occupancy.occupied[:] = True
    sheet.labels.occupancy.occupied[-80:, -40:] = False
    corner = sheet.x[0], sheet.y[0]
    sheet.labels.write_with_leader("part", corner)  # the legend has it
    sheet.labels.write_beside("sensor", corner, "black")
    written = boxes(sheet)
    assert list(written) == ["sensor"]
    right, top = sheet.axes.get_window_extent(sheet.canvas.get_renderer()).extents[2:]
    assert written["sensor"][0] > right - 240 and written["sensor"][1] > top - 120


def test_names_are_broken_in_the_middle():
    assert in_two("greenhouse air at the fins") == "greenhouse air\nat the fins"
    assert in_two("plate") == "plate"
