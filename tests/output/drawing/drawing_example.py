"""What the tests of drawings share: a small section, and where its words stand."""

from fdm.section.model import Border, Environment, Material, Part, Rectangle, Section

STONE = Material("stone", (2.0, 2.0))


def one_part(x, y, **more):
    return Section(
        **{
            "title": "t",
            "parts": (Part("slab", (Rectangle(x, y),), STONE),),
            "environments": (Environment("air", 20, 10), Environment("room", 30, 10)),
            "border": Border(bottom="air", top="room"),
            "unit": "mm",
            **more,
        }
    )


def boxes(view):
    """Every word written on the drawing, by what it says: (left, bottom, right, top) in pixels."""
    renderer = view.axes.figure.canvas.get_renderer()
    return {t.get_text(): t.get_window_extent(renderer).extents for t in view.axes.texts if t.get_text()}


def overlap(a, b):
    return min(a[2], b[2]) - max(a[0], b[0]) > 1 and min(a[3], b[3]) - max(a[1], b[1]) > 1
