"""A wall with a plate, to be solved by commands."""

WALL = """
title = "Wall with a plate"
view = "section"
unit = "mm"
depth = 40

[let]
wall = 30
plate = 6
top = "wall + plate"

[material."my foam"]
conductivity = 0.031

[[environment]]
name = "cabinet air"
temperature = 7
film = 8

[[environment]]
name = "room"
temperature = 28
film = 10

[[part]]
name = "foam"
material = "my foam"
rectangle = { x = [0, 120], y = [0, "wall"] }

[[part]]
name = "beside the plate"
void = true
rectangle = { x = [0, 120], y = ["wall", "top"] }

[[part]]
name = "base plate"
material = "aluminium 6063-T5"
rectangle = { x = [20, 100], y = ["wall", "top"] }

[[part]]
name = "slot"
void = true
rectangle = { x = [0, 10], y = [10, 20] }

[border]
bottom = "cabinet air"
top = "room"

[[joint]]
between = ["foam", "base plate"]
resistance = 1e-4

[[source]]
name = "hot face"
segment = { x = [40, 80], y = "top" }
heat = 4

[[sensor]]
name = "thermostat"
at = [30, 0]
should_read = "cabinet air"

[[spreading]]
part = "base plate"

[[bridge]]
remove = ["base plate"]
"""
# what its JSON result holds
TOP = ["title", "view", "let", "grid", "terminals", "network", "sensors", "spreading", "bridge", "surface", "balance"]
TOP += ["band", "budget"]
