"""Studies: which addresses vary, and how; read from a file, or derived from the formula."""

from analysis.study.default import default_study
from analysis.study.reader import load_study
from analysis.study.study import Draws, Factor, Setting, Study

__all__ = ["Draws", "Factor", "Setting", "Study", "default_study", "load_study"]
