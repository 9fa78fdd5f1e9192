"""From a drawing to cells: grid lines, who owns each cell, and where edges cross cells.

Grid lines pass through every straight edge. Cells are small beside an edge, where the field bends, and grow away from
it in proportion to their distance:

    edge                                    edge
     |  |   |     |         |       |    |   |
     small          large           small

A solve needs three grids to tell the error of its answers. Each of the finer two halves every interval of the one
before, so that all lines stay, and errors fall evenly:

     |      |            |
     |   |  |     |      |
     | | | || |  |   |   |

The last part that covers a cell's centre owns the cell; its number stands in a *raster*. Straight edges lie on lines,
so a rectangle owns whole cells. Cells that a round or slanted edge crosses are *cut*: their sub-cells have owners of
their own, and the pieces of edge inside them a length and a direction.

Files: `edges` says where lines must pass, `lines` puts and halves them, `sheets` makes them follow what is thin and
slanted, `moving` takes them along when the drawing changes; `raster` tells who owns each cell, `cut` what is inside
those that are cut; `corners` how singular the temperature is at the points where edges meet.
"""
