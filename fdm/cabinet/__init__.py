"""A whole cabinet: walls, sections, thermoelectric modules, load and thermostat, as a circuit of a few lumps.

Each lump has one temperature; each path between two of them is a conductance (W/K):

               +---[ half of the first layer ]--- lining ---[ rest of the wall ]---+
               +--------------------[ bridges, air exchange ]----------------------+
               |                                                                   |
    load ---- air -------------------+                       +------------------ room
               |                     | the modules' section, |                     |
               |                     |  a mesh between the   |                     |
               |                     |         four          |                     |
           cold face ----------------+                       +---------------- hot face
               |                                                                   |
               +==============[ modules: take Qc here, give Qh there ]=============+

Walls are layers in series (ISO 6946). Lines and points add psi x length and chi x count, given or from the bridge of a
drawn section, or of a bolt through a wall. The air may be cut into zones, a node each, with walls, lines and the load
shared among them, and air that moves from one to another (`zones`, `air`). The modules' section, with its exact
network, is the mesh between air, room and the modules' two faces; the heat capacity of its metal is shared among these
nodes by the same unit fields. The modules stand between the faces and are the only part that is not linear. The
thermostat's reading is a weighted sum of the nodes' temperatures.

A path passes heat between two nodes, by the difference between them. Only the cold sink may be driven by another one:
it takes heat by the temperature of the air that comes to it, from the zone that this air enters behind it. So L need
not be symmetric, but its rows and its columns sum to 0. Films, flows and layers have the values of the steady state
with the modules always on (`following`).

Where modules sit on plates with fins, the network of a plate lies between a face and its air, with the mean of the
modules' places as its one heat terminal; where a block lies between, the plate has a node of its own. The section is
then the wall as far as the plates.

With T the temperatures, C the heat capacities, L the conductances as a Laplacian and q the heat given off inside,

    C dT/dt = q - L T + (-Qc at the cold face, +Qh at the hot face),    the room held.

- Steady state: dT/dt = 0, by Newton's method. A balance whose Jacobian has an eigenvalue above 0 would not come back
  when disturbed, and is refused. What the sections' grids leave open goes through the same Jacobian.
- Pull-down: the same balance over time, integrated from switching to switching of the thermostat, until the load's mean
  no longer changes from cycle to cycle, or the modules are never switched again. Of very many cycles most are passed
  over. The figures of a cycle are those of the one that repeats, the fixed point of one cycle.

- Moisture: as much water settles where it is cold as the air exchange and the load bring in. Its latent heat is part of
  q, found by turns with the steady state.

Films of walls, load and sinks by relation, and those of plates, follow the steady state; the pull-down keeps them.

Files, in the order in which they build on each other: `checks`, `module` (equations of one), `datasheet` and `supply`;
`films` (by relation) and `section_file`; what a file says: `walls`, `losses`, `bank`, `zones`, `load` and `thermostat`,
and `model`, which is made of these; `section_reader`, `zone_reader`, `sink_reader`, `bank_reader` and `reader`;
`sections`, `sinks`, `air`, `nodes`, `paths` and `circuit`; `steady`, `budget` and `supply_chart`; `following` and
`at_work`; `settling`, `cold_places`, `sweating` and `moisture`; `misreading` and `mends`; `exponential`, `transient`,
`cycle` and `pulldown`; `quantities`, `doubts`, `solution` and `result`; `unsolved`, which finds what a solve would
refuse or warn of.
"""
