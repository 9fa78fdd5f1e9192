"""Many designs of one file: which to try, solving them side by side, what they show, and the best of a range."""

from fdm.studies.choices import designs
from fdm.studies.findings import findings, warned
from fdm.studies.optimum import Optimum, best
from fdm.studies.paths import asked_answers, main_answers
from fdm.studies.run import Design, Study, study

__all__ = [
    "Design",
    "Optimum",
    "Study",
    "asked_answers",
    "best",
    "designs",
    "findings",
    "main_answers",
    "study",
    "warned",
]
