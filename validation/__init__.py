"""Published cases, an independent solver and a benchmark; `python -m validation` runs the cases."""
