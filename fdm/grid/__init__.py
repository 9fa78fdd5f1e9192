"""From a drawing to cells: grid lines, who owns each cell, and where edges cross cells.

Grid lines pass through every straight edge. Cells are small beside an edge, where the field bends, and grow away from
it in proportion to their distance:

    edge                                    edge
     |  |   |     |         |       |    |   |
     small          large           small

Edges that are round or slanted cut cells, with or without lines. A few of them have lines through their corners,
centres and sides; where there would be many such lines, cells are only kept narrow around the shapes.

A solve needs three grids to tell the error of its answers. Each of the finer two halves every interval of the one
before, so that all lines stay, and errors fall evenly:

     |      |            |
     |   |  |     |      |
     | | | || |  |   |   |

The last part that covers a cell's centre owns the cell; its number stands in a *raster*. Straight edges lie on lines,
so a rectangle owns whole cells. Cells that a round or slanted edge crosses are *cut*: their sub-cells have owners of
their own, and the pieces of edge inside them a length and a direction.

Files: `edges` finds where lines must pass, `lines` places and halves lines, `sheets` makes them follow what is thin
between edges (`outlines`) that are round or slanted, and `moving` moves them when the drawing changes; `raster` finds
the owner of each cell, and `cut` the sub-cells and pieces of edge in cut cells; `corners` finds how singular the
temperature is at the points where edges meet.
"""
