"""Which repeatability the uncertainties rest on, and where this catalogue's repeats scatter otherwise than declared."""

from __future__ import annotations

from analysis.appendix.facts import Run, Runs
from analysis.appendix.workings import Workings
from analysis.appendix.writing import listed_runs, name, runs
from analysis.repeatability.repeatability import Precision
from analysis.wording import counted, listed
from scoring.form import Measure

#: The kind of a factor by which a study draws readings again from the repeats themselves.
RESAMPLED = "resampled repeats"


def used_in_words(found: Workings) -> str:
    """Whether u rests on what the formula declares, on what it pools, or on nothing; one sentence."""
    declared = [m for m in found.form.measures if m.repeatability is not None and not _pools(m)]
    pooled = [m for m in found.form.measures if m.repeatability is not None and _pools(m)]
    none = [m for m in found.form.measures if m.repeatability is None]
    if not declared and not pooled:
        return "The formula declares no repeatability, so that no u is worked out."
    said = []
    if declared:
        said.append(f"declared in the formula ({counted(len(declared), 'measure')})")
    if pooled:
        said.append(f"pooled from this catalogue's repeats ({counted(len(pooled), 'measure')})")
    text = f"u rests on the repeatability {listed(said)}"
    if none:
        verbs = ("has", "adds") if len(none) == 1 else ("have", "add")
        text += f"; {counted(len(none), 'measure')} {verbs[0]} none and {verbs[1]} nothing to u"
    if any(factor.kind == RESAMPLED for factor in found.study.factors):
        text += "; in the studies of sensitivity and stability repeats are drawn again from the repeats themselves"
    return f"{text}."


def _pools(measure: Measure) -> bool:
    rule = measure.repeatability
    return rule is not None and (rule.amount is None or "pooled" in rule.kind.value)


def refuted(found: Workings) -> tuple[tuple[Measure, Precision], ...]:
    """The measures whose declared repeatability lies outside the 95 % interval of the repeats."""
    measures = {measure.name: measure for measure in found.form.measures}
    return tuple((measures[one.measure], one) for one in found.precisions if one.declared_inside is False)


def refuted_in_words(found: Workings) -> tuple[Runs, ...]:
    """A sentence for what scatters more than declared, and one for what scatters less."""
    said = []
    for is_more, word, stated in ((True, "more", "understated"), (False, "less", "overstated")):
        there = [(m, one) for m, one in refuted(found) if (one.sd > (one.declared or 0.0)) == is_more]
        if there:
            names = [Run(f"{m.label} ({_factor(one, is_more)})", "name") for m, one in there]
            said.append(
                runs(
                    f"The repeats scatter {word} than declared for ",
                    *listed_runs(names),
                    f". The declared value is used all the same, so that what {'it adds' if len(there) == 1 else 'they add'} to u"
                    f" is {stated} by the factor in brackets.",
                )
            )
    return tuple(said)


def _factor(one: Precision, is_more: bool) -> str:
    """How many times the greater of the two is the less."""
    declared = one.declared or 0.0
    above, below = (one.sd, declared) if is_more else (declared, one.sd)
    return f"{above / below:.2f} times" if below > 0 else "from none"


def compared(found: Workings) -> bool:
    """Whether any declared repeatability could be held against the catalogue's own repeats."""
    return any(one.declared_inside is not None for one in found.precisions)


def refuted_names(found: Workings) -> Runs:
    """The labels of those measures, in a sentence."""
    return listed_runs([name(measure.label) for measure, _ in refuted(found)])
