"""What a section answers, from the unit fields of one grid.

Conduction is linear. A section with fixed terminals a (given temperatures T) and heat terminals h (given watts Q)
has one *unit field* for each, and every temperature is a weighted sum of these:

    T(place) = sum_a  weight_a(place) T_a  +  sum_h  resistance_h(place) Q_h

No field is ever solved at the file's own temperatures and watts; these only weigh the unit fields. The same fields are
the adjoints: how much the mean temperature of h feels a watt anywhere is h's own unit field there.

Everything asked for is a *quantity* with a path (`quantity.py`), and all values on one grid are one vector, in the
order of `kinds.KINDS`:

    fields of one grid ──> UnitAnswers ──> vector (Q,) at some temperatures and watts
                           (grid.py)       (a file for each kind of answer)
"""
