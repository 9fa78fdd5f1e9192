"""What the answers are worth, and what they cost: measured from outside the program.

- `cases`, with true values from `formulas`: sections whose answers are published
- `cross_checks`, by `finite_elements`: sections without a published answer, against an independent solver
- `orders`: how fast errors fall as cells are halved; `bands`: whether the stated bands hold
- `refinement`, `costs`, `benchmark`: cells, time and memory

`python -m validation` runs the cases and cross-checks; `python -m validation.orders`, `.bands`, `.refinement`, `.costs`
and `.benchmark` run one file each.
"""
