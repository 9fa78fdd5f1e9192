"""Pictures, as PNG files.

A section is drawn to scale on a sheet, which knows what is seen in each pixel of its axes. These files draw it, one
after the other:

    sheet     figure and axes to scale, and the pixels' owners
    section   colours of the pixels: parts, or temperatures with isotherms and heat-flow lines (flow)
    marks     outlines (outlines), joints, sources, sensors
    labels    names, where they cover neither each other nor a mark (occupancy)
    legend    what the colours and lines mean

The charts of budgets, cabinets and studies share `charts`; all pictures share `colours` and `figures`.

Matplotlib takes a while to import, so functions import it when they draw. Its global state (`pyplot`) is never touched.
"""
