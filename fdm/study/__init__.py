"""Many designs of one file: which to try, solving them side by side, what they show, and the best of a range."""

from fdm.study.answers import asked_answers, main_answers
from fdm.study.choices import designs
from fdm.study.optimise import Optimum, best
from fdm.study.run import Design, Study, study
from fdm.study.sentences import findings

__all__ = ["Design", "Optimum", "Study", "asked_answers", "best", "designs", "findings", "main_answers", "study"]
