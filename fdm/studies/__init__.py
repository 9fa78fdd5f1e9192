"""Many designs of one file: which to try, solving them side by side, what they show, and the best of a range.

A design is a set of numbers for names in the file's [let]; a study solves many, and compares their answers.

    choices      plate=3:12:1 wall=20,30     ->  designs {plate: 3, wall: 20}, {plate: 3, wall: 30}, ...
    workers      each design solved          ->  its answers by path {"spreading.plate.LEDs.mean": 0.21, ...}
    store        each kept as it is done     ->  study.jsonl, and study.csv at the end
    findings     all designs of one answer   ->  sentences: the best, its equals, where the curve is flat

Two designs whose bands overlap, |v1 - v2| <= b1 + b2, cannot be told from each other, and no sentence says they can.
`best` searches: the answers so far decide which designs are tried next, subject to limits.
"""

from fdm.studies.choices import designs
from fdm.studies.design import Design
from fdm.studies.findings import findings, warned, without_setpoint
from fdm.studies.names import counted_names
from fdm.studies.optimum import Optimum, best
from fdm.studies.result import Study
from fdm.studies.run import study

__all__ = [
    "Design",
    "Optimum",
    "Study",
    "best",
    "counted_names",
    "designs",
    "findings",
    "study",
    "warned",
    "without_setpoint",
]
