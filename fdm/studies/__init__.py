"""Many designs of one file: which to try, solving them side by side, what they show, and the best of a range."""

from fdm.studies.answers import asked_answers, main_answers
from fdm.studies.choices import designs
from fdm.studies.optimise import Optimum, best
from fdm.studies.run import Design, Study, study
from fdm.studies.sentences import findings, warned

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
