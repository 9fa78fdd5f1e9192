import numpy as np

from fdm.output.drawing.flow import flow_lines, flux_at


def test_flow_lines_stay_in_the_solid_and_follow_the_flux(wall):
    f = wall.field
    x, y = np.linspace(0, 0.1, 300), np.linspace(-0.02, 0.034, 160)
    q = flux_at(f, x, y)
    i, j = (np.clip(np.searchsorted(g, at) - 1, 0, len(g) - 2) for g, at in ((f.x, x), (f.y, y)))
    solid = f.solid[np.ix_(i, j)]
    size = np.hypot(*np.moveaxis(q, -1, 0))
    flows = solid & (size > 0)
    lines = flow_lines(q / np.where(flows, size, 1)[..., None], flows, solid * 10.0, size, 12.0)
    assert len(lines) > 20
    for line in lines:
        a, b = np.floor(line + 0.5).astype(int).T
        assert flows[a, b].all()
        step = np.diff(line, axis=0)
        ahead = (step * q[a, b][:-1]).sum(1)
        assert (ahead > 0).mean() > 0.95


def test_flux_is_not_mixed_across_an_edge(wall):
    f = wall.field
    q = flux_at(f, np.array([0.045 - 1e-7, 0.045 + 1e-7]), np.array([0.015]))[:, 0, 1]
    column = abs(f.x - 0.045).argmin()  # of the block's first cells
    rows = slice(np.searchsorted(f.y, 0.015) - 2, np.searchsorted(f.y, 0.015) + 2)
    for value, cells in zip(q, (f.flux[column - 1, rows, 1], f.flux[column, rows, 1])):
        assert cells.min() <= value <= cells.max()
    assert abs(q[1]) > 100 * abs(q[0])
