"""Plates resolved through their thickness, with the fins on their faces: a stack of sheets of one plane grid.

Every cell of the plane grid is a column of nodes. The layers of the plate conduct in the plane and through the
thickness, those of fins along the fins and up them only:

    tips          o--film          layers of the fins: share of metal = thickness / pitch of the fins, with a film on
                  |                both sides of each, along all of their height
       film--o--o--o--film
                  |
    front  film--root              half a layer, the constriction of the heat into the roots, a joint
                  |
       film--o--o--o--film         layers of the plate: the plane grid, with its share of the thickness
                  |
    back       watts               half a layer to the face on which heat enters

In a plate all conductances of the plane grid are of first degree in the thickness. So a layer with the share w of it
has w times the conductances of the plane grid, cut cells, joints and films at the rim included; there is one plane
discretisation. What the stack adds are resistances in series, each of which belongs to one input (`series`): half
layers, films on both faces, fins. From these come both the conductances and their derivatives.

Where heat flows from a plate into the roots of fins, which cover a share phi of it, it is constricted as between a
half space and strips on it (from memory; Carslaw and Jaeger's flow to a strip, by conformal mapping):

    R area = pitch / (pi k) ln(1 / sin(pi phi / 2))

Fins are smeared: between them the temperature of the plate is that of its roots. Against finned plates with every fin
resolved this leaves 0 to 1.5 % of a rise (`validation.sinks`).

Fins are eliminated first, exactly (`fin_lines`). Where the stack is the same all over a rectangular plate, its matrix
is a sum of Kronecker products, inverted directly by the fast diagonalisation method (`diagonal`; R. E. Lynch, J. R.
Rice, D. H. Thomas, Numer. Math. 6 (1964) 185-199, from memory). Where it is not, the same inverse is the preconditioner
of conjugate gradients (`solver`), together with what it lacks where columns conduct far less (`weak_columns`).
"""
