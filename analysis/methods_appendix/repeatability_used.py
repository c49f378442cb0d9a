"""Which repeatability the uncertainties rest on, and where this catalogue's repeats scatter otherwise than declared."""

from __future__ import annotations

from analysis.languages.facts import Run, Runs
from analysis.languages.writing import listed_runs, name, runs
from analysis.methods_appendix.workings import Workings
from analysis.repeats.notes import amount_of
from analysis.repeats.repeatability import Precision
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


def outside(found: Workings) -> tuple[tuple[Measure, Precision], ...]:
    """The measures whose declared repeatability lies outside the 95 % interval of all repeats."""
    return tuple((found.form.measure(one.measure), one) for one in found.precisions if one.declared_inside is False)


def refuted_in_words(found: Workings) -> tuple[Runs, ...]:
    """A sentence for what scatters more than declared, one for what scatters less, and one for each measure where s_r alone
    says so: the robust value does not, so that neither does the sentence."""
    said = []
    for is_more, word, stated in ((True, "more", "understated"), (False, "less", "overstated")):
        there = [(m, one) for m, one in outside(found) if one.refuted and (one.sd > (one.declared or 0.0)) == is_more]
        if there:
            names = [Run(f"{m.label} ({_factors(one, is_more)})", "name") for m, one in there]
            said.append(
                runs(
                    f"The repeats scatter {word} than declared for ",
                    *listed_runs(names),
                    f". The declared value is used all the same, so that what {'it adds' if len(there) == 1 else 'they add'} to u"
                    f" is {stated}, by about the factors in brackets.",
                )
            )
    said += [_not_carried(m, one) for m, one in outside(found) if not one.refuted]
    return tuple(said)


def _not_carried(measure: Measure, one: Precision) -> Runs:
    """s_r and the robust value beside what is declared, where they do not agree, and the products that s_r owes it to."""
    carriers = [name(product) for product in one.made_by]
    parts: list[str | Run] = [
        "The repeats of ",
        name(measure.label),
        f" pool to {amount_of(one, one.sd)}, where {amount_of(one, one.declared)} is declared; ",
    ]
    if carriers:
        verb = "carry" if len(carriers) > 1 else "carries"
        without = f" {verb} it: without those readings it is {amount_of(one, one.sd_without)}; "
        parts += [*listed_runs(carriers), without]
    robust = amount_of(one, one.robust_sd)
    parts.append(
        f"the robust value, which single wild readings hardly move, is {robust} and agrees with the declared one, which is used."
    )
    return runs(*parts)


def _factors(one: Precision, is_more: bool) -> str:
    """How many times the greater is the less, of s_r and of the robust value."""
    return f"{_factor(one.sd, one, is_more)} by s_r, {_factor(one.robust_sd, one, is_more)} by the robust value"


def _factor(sd: float, one: Precision, is_more: bool) -> str:
    declared = one.declared or 0.0
    above, below = (sd, declared) if is_more else (declared, sd)
    return f"{above / below:.2f} times" if below > 0 else "from none"


def compared(found: Workings) -> bool:
    """Whether any declared repeatability could be held against the catalogue's own repeats."""
    return any(one.declared_inside is not None for one in found.precisions)


def refuted_names(found: Workings) -> Runs:
    """The labels of the measures that both s_r and the robust value refute, in a sentence."""
    return listed_runs([name(measure.label) for measure, one in outside(found) if one.refuted])


def outside_names(found: Workings) -> Runs:
    """The labels of the measures whose declared value lies outside the interval, in a sentence."""
    return listed_runs([name(measure.label) for measure, _ in outside(found)])
