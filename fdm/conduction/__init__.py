"""Heat conduction in a drawn section: from cells and their materials to temperatures.

Conduction obeys div(k grad T) = 0 in every solid, with a film, a given temperature or given watts on its surface. The
section is laid on grid lines (`layout`). Every solid cell has one temperature, at its centre, and every answer comes
from a balance of heat in each cell,

    sum over neighbours of g (T - T_neighbour) + sum over terminals of g (T - T_terminal) = watts that enter

so all of the physics is in the conductances g (W/K).

Whole cells (`faces`). From a cell's centre to its face the resistance is geometry / conductivity. Resistances in series
make the conductance between two centres; at an environment, half a cell is in series with the film:

    |   solid 1   |         |   solid 2   |           |
    |      o------|--joint--|------o------|---film----|  environment
    |      T1     |         |      T2     |           |  T_air

    1 / g(T1, T2) = (a1 / 2) / (k1 A) + R / A + (a2 / 2) / (k2 A)        widths a, area A of the face, joint R (m2 K/W)
    1 / g(T2, T_air) = (a2 / 2) / (k2 A) + 1 / (h A)                     film h (W/(m2 K))

A view changes the geometry alone. About an axis the radial resistance is logarithmic. A plate is multiplied by its
thickness, and each of its cells also loses heat through front and back, by film times area. A held face is half a cell
away. Watts on a segment are shared by area, and on each face between its two sides by their conductance (`boundary`).

Cut cells. A cell that a round or slanted edge crosses keeps one temperature, at its centre. Its faces conduct in 16
rows side by side, each row as its sub-cells do in series (`cut_faces`). Towards an environment or a held part, heat
leaves in one of two ways (`cut_films`), chosen for the whole of an edge (`layout.strong_pieces`). Where the film is
weak (conductivity / film longer than the cell's diagonal), it leaves through the edge's true length, behind the film
and the distance from the centre to the edge. Where it is strong, only cells whose centre is solid keep a temperature,
and heat leaves along the grid lines, behind the distance to the edge on that line. Both are of second order.

Interface elements. Between two solids a slanted edge bends both gradient and flux. There the quadrilateral between four
cell centres is cut into linear triangles, each within one solid (`interface_elements`, `element_conductances`). Any
field that is linear on either side of a straight edge is met exactly, so that the coupling is of second order at any
contrast. This adds conductances between any two of eight cells, some of them negative: `System.links`. Across a joint
on the edge, the temperatures of the two sides differ by flux times resistance. Where three materials meet, or an edge
turns a corner, the faces conduct in rows as in other cut cells: of first order, but such places are few. The length of
a joint that these rows count is corrected to its true length (`cut_joints`). The error that remains depends on where in
its cell the meeting point lies, so grid lines pass through such points, and halving the grid makes the error fall
evenly.

Unit fields (`solver`). The balance is linear, so a section with F fixed terminals and H heat terminals has F + H unit
fields, each with one terminal at 1 (K, or W) and all others at 0. Any field is their weighted sum, and, since the
matrix is symmetric, they are also the adjoints of the network's entries. `derivatives` has the change of all
conductances with each conductivity, film and joint; `adjoint` the change of all answers.

Other folders see a system only through `protocol.ConductionSystem`, whatever it is made of: the plane grid
(`plane.PlaneSystem`), or a plate in layers (`stack.plate.StackSystem`). `systems.conduction_system` lays a section out
on one of them.
"""
