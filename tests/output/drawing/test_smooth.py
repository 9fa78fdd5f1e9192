import numpy as np
import pytest

from fdm.conduction.fields import Field
from fdm.output.drawing.smooth import smooth_temperatures
from fdm.section.model import Border, Environment, Joint, Material, Part, Rectangle, Section

X = np.array([-4.0, -3.0, -1.5, -1.0, 0.0, 0.4, 1.0, 2.0, 4.0])
Y = np.array([0.0, 1.0, 1.5, 3.0])


def field_of(section, temperature):
    """A field of temperature(x, y) on coarse lines, with the part left of x = 0 and the one right of it."""
    at = temperature(X[:, None], Y[None])
    part = np.repeat((X[1:] > 0).astype(int)[:, None], len(Y) - 1, 1)
    shape = part.shape
    middle = temperature((X[1:] + X[:-1])[:, None] / 2, (Y[1:] + Y[:-1])[None] / 2)
    whole, along, sides = np.ones(shape, bool), np.ones((*shape, 2)), np.zeros((*shape, 2, 2))
    return Field(X, Y, part, whole, middle, at, along, 0 * along, sides, sides, ~whole)


def two_parts(left, right, **more):
    parts = tuple(
        Part(n, (Rectangle(x, (0, 3)),), Material(n, (k, k)))
        for n, x, k in (("a", (-4, 0), left), ("b", (0, 4), right))
    )
    return Section("t", parts, (Environment("e", 0, 1),), border=Border(bottom="e"), **more)


def smoothed(section, temperature, window=(X, Y)):
    return smooth_temperatures(section, field_of(section, temperature), *window, longest=0.05)


def bowl(x, y):
    return 3 + x + 0.5 * x**2 - 0.25 * y**2 + 0 * x * y


def test_curves_are_exact_where_the_material_is_the_same():
    x, y, t = smoothed(two_parts(2, 2), bowl)
    assert max(np.diff(x).max(), np.diff(y).max()) < 0.0501 and set(X) <= set(np.round(x, 9))
    assert t == pytest.approx(bowl(x[:, None], y[None]), abs=1e-9)


def test_temperatures_bend_where_the_material_changes():
    def bent(x, y):
        return np.where(x < 0, 10 * x, x) + 0 * y

    for section in (two_parts(2, 20), two_parts(2, 2, joints=(Joint(("a", "b"), 1e-3),))):
        x, y, t = smoothed(section, bent)
        assert t == pytest.approx(bent(x[:, None], y[None]), abs=1e-9)
    x, _, t = smoothed(two_parts(2, 2), bent)
    assert abs(t[:, 0] - bent(x, 0)).max() > 0.1  # as one material it would be round


def test_only_the_window_is_looked_at():
    x, y, t = smoothed(two_parts(2, 2), bowl, (np.array([0.5, 0.9]), np.array([1.1, 1.4])))
    assert x[0] == 0.0 and x[-1] == 2.0 and (y[0], y[-1]) == (0.0, 3.0)
    inside = (x >= 0.4) & (x <= 1.0)
    assert t[inside] == pytest.approx(np.broadcast_to(bowl(x[inside, None], y[None]), t[inside].shape), abs=1e-9)
