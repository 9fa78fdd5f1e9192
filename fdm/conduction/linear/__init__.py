"""Linear equations of heat conduction, A x = b with a symmetric positive definite A, as plain arrays.

Every row of A is the heat balance of one unknown temperature,

    sum over links of g (x - x_other) + s x = b        g, s: W/K    x: K    b: W

where s are the conductances to known temperatures. Residuals are never products with A: sums of heat flows,
conductance times difference, lose far less to rounding than a stored diagonal does.

- `direct`: A factorised once, for any number of right-hand sides; the factors of N cells take up some 60 N log2(N)
  bytes.
- `multigrid`: conjugate gradients preconditioned by a V-cycle on the array of cells. Work and memory grow as the number
  of cells does, but every further right-hand side costs as much as the first.
"""
