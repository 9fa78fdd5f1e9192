"""Answers as tables and sentences to read on a console.

Each number is rounded to two digits of its band, the half-width within which the true value should lie:

    0.21432 ± 0.00031 K/W

A `print_` function writes to a console of rich, which fits the tables to its width. `section` has the tables of a
section, `cabinet` those of a cabinet, `budget` what a resistance or a loss is made of and what would change it,
`uncertainty` and `fit` what uncertain numbers and measurements tell, `study` what many designs show.
"""
