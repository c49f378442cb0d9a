"""The kinds of curve, one file a kind (the four that lean on a reference population share one)."""

from scoring.curves.kind import CurveInputs, CurveKind
from scoring.curves.leaning import MINMAX, RATIO, STANDING, Z
from scoring.curves.line import LINE
from scoring.curves.log import LOG
from scoring.curves.logistic import LOGISTIC
from scoring.curves.points import POINTS
from scoring.curves.power import POWER
from scoring.curves.smooth import SMOOTH
from scoring.curves.steps import STEPS
from scoring.curves.target import TARGET

KINDS: dict[str, CurveKind] = {
    kind.name: kind for kind in (LINE, POINTS, SMOOTH, LOGISTIC, POWER, LOG, TARGET, STEPS, STANDING, Z, MINMAX, RATIO)
}

__all__ = ["KINDS", "CurveInputs", "CurveKind"]
