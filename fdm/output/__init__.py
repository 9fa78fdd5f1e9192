"""What is shown of the answers: `tables` to read, `drawing` to look at, `export` for other programs.

No answer is computed here; all numbers come from a solved section, a solved cabinet, a study or a fit.

    solved --> tables     text on the console, each number rounded to its band
           --> drawing    PNG: parts, temperatures, budgets, curves
           --> export     JSON, CSV, mesh files, SPICE netlists

Drawing and export import neither tables nor each other. What they have in common stands beside them: `breakdown` (the
resistances and losses whose budgets are shown, and words for them) and `corner_temperatures`.
"""
