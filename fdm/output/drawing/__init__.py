"""Pictures, as PNG files.

A section is drawn to scale on a sheet: a view of the whole, and one of a detail where parts are small. A view knows
what is seen in each pixel of its axes. These files draw it, one after the other:

    sheet     the figure and its views (view, detail)
    section   colours of the pixels: parts, or temperatures (smooth) with isotherms and heat-flow lines (flow)
    marks     outlines (outlines), joints, sources, sensors
    labels    names, where they cover neither each other nor a mark (occupancy)
    legend    what the colours and lines mean

The charts of budgets, cabinets and studies share `charts`; all pictures share `colours` and `figures`.

Matplotlib takes a while to import, so functions import it when they draw. Its global state (`pyplot`) is never touched.
"""
