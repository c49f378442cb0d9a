"""The section on rules: conditions, limits, gates, missing values, rounding and ranks in words, made from the form."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from analysis.languages.facts import Block, Points, Run, Runs, Section
from analysis.languages.writing import code, labels, listed_runs, name, paragraph, runs, table, with_unit
from analysis.methods_appendix.workings import Workings
from scoring.addresses.number_units import NumberUnit, number_units
from scoring.curves import KINDS
from scoring.form import Choice, Curve, Expression, Form, Gate, Limit, Number, Output, Ranks, Rounding, Term
from scoring.numbers.rounding import ROUNDING_RULES
from scoring.units.role import in_unit

COMPARISONS = {
    "<": "is below",
    "<=": "is at most",
    ">": "is above",
    ">=": "is at least",
    "==": "is",
    "!=": "is not",
    "text==": "is",
}
JOINED = {"and": " and ", "or": " or "}


def condition_in_words(condition: Expression, form: Form) -> Runs:
    """A condition as a sentence says it: "Stillness is below 3.0 points"; one with arithmetic in it as it is written."""
    said = _said(condition.term, condition, form, number_units(form))
    return said if said is not None else (code(condition.text),)


def _said(term: Term, condition: Expression, form: Form, units: Mapping[str, NumberUnit]) -> Runs | None:
    if term.op in JOINED:
        terms = [arg for arg in term.args if isinstance(arg, Term)]
        found: list[Run] = []
        for index, inner in enumerate(terms):
            part = _said(inner, condition, form, units)
            if part is None or (inner.op in JOINED and inner.op != term.op):
                return None
            found += [Run(JOINED[term.op]), *part] if index else part
        return tuple(found)
    if term.op in COMPARISONS and len(term.args) == 2:
        left, right = (_operand(arg, condition, form, units) for arg in term.args)
        if left is not None and right is not None:
            return (*left, Run(f" {COMPARISONS[term.op]} "), *right)
    return None


def _operand(arg: Term | str | int, condition: Expression, form: Form, units: Mapping[str, NumberUnit]) -> Runs | None:
    if not isinstance(arg, Term):
        return (name(labels(form).get(arg, arg)),) if isinstance(arg, str) else None
    if arg.op == "name":
        return (name(labels(form).get(str(arg.args[0]), str(arg.args[0]))),)
    if arg.op == "number":
        return with_unit(condition.numbers[int(str(arg.args[0]))], units)
    return (name(str(arg.args[0])),) if arg.op == "text" else None


TIES = {
    "shared-best": "products that tie share the best of their places (1, 2, 2, 4)",
    "shared-mean": "products that tie share the mean of their places (1, 2.5, 2.5, 4)",
    "dense": "products that tie share a place, and the next place follows without a gap (1, 2, 2, 3)",
}


def rules_section(found: Workings) -> Section:
    """What holds for every score: gates, rounding, bands, ranks."""
    form = found.form
    blocks: list[Block] = [
        paragraph(
            "Rules that belong to one rating or score stand with it, above. These hold for all of them, in the order in which"
            " they act: gates, then rounding of what is shown, then bands, then places. Conditions, steps and bands compare"
            " decimals of 13 significant digits, places go by 12: the last bits of binary arithmetic decide nothing."
        )
    ]
    gates = [_gate(form, gate) for gate in form.gates]
    blocks.append(Points(tuple(gates)) if gates else paragraph("There are no gates."))
    blocks.append(
        Points((shown_in_words(form), _bands_in_words(form), ranks_in_words(form.ranks), *others_in_words(form)))
    )
    if form.bands:
        rows = [((name(band.name),), band.edge.text, code(band.edge.address)) for band in reversed(form.bands)]
        blocks.append(
            table("bands", runs("Bands: each from its lower edge up to the next."), ("band", "from #", "address"), rows)
        )
    return Section("rules", runs("Gates, rounding, bands and places"), tuple(blocks))


def limits_in_words(form: Form, output: Output) -> Iterator[Runs]:
    """Every limit of an output, a sentence each."""
    for limit in output.limits:
        sense = "at most" if limit.sense == "at_most" else "at least"
        said = _limit(form, output, limit, sense)
        if limit.apply.value == "never":
            said = (*said, Run(" Stated, but not applied."))
        yield said


def _limit(form: Form, output: Output, limit: Limit, sense: str) -> Runs:
    label, units = name(output.label), number_units(form)
    if limit.when is not None and limit.bound is not None:
        where = condition_in_words(limit.when, form)
        numbers = (*limit.when.numbers, limit.bound)
        bound = with_unit(limit.bound, units)
        return runs("Where ", *where, ", ", label, f" is {sense} ", *bound, *_addresses(numbers), ".")
    part = name(labels(form)[limit.on or ""])
    if limit.curve is None:
        return runs(label, f" is {sense} a bound that follows ", part, " [", code(limit.address), "].")
    said = {number.address: in_unit(number.text, units[number.address].unit) for number in _numbers(limit.curve)}
    anchors = ", ".join(f"{said[gives.address]} at {said[at.address]}" for at, gives in limit.curve.anchors)
    written = ", ".join(f"{word} {said[number.address]}" for word, number in limit.curve.numbers)
    says = KINDS[limit.curve.kind].says.replace("`", "")
    how = f" is {sense} a bound that a curve takes from "
    return runs(label, how, part, f": {says} ({anchors or written}) [", code(limit.address), "].")


def _numbers(curve: Curve) -> Iterator[Number]:
    """The numbers of a curve's own and of its anchors."""
    yield from (number for _, number in curve.numbers)
    yield from (number for anchor in curve.anchors for number in anchor)


def _addresses(numbers: Iterable[Number | Choice]) -> Runs:
    """The addresses of the numbers in a sentence, in square brackets."""
    codes = [code(number.address) for number in numbers]
    return runs(" [", *listed_runs(codes, ", "), "]") if codes else ()


def missing_in_words(form: Form, output: Output) -> Runs:
    """What a gap does to an output."""
    rule, known = output.missing, labels(form)
    needs = listed_runs([name(known[source]) for source in rule.needs], " or ")
    said: list[str | Run] = []
    if rule.needs:
        said += ["Without ", *needs, ", ", name(output.label), " is not given, be it missing or not applicable. "]
    if output.value is not None and rule.otherwise.value != "lowest":
        said.append("It is given only where everything in its expression is there")
    elif rule.otherwise.value == "lowest":
        said.append(
            f"It is not given where more than {_percent(rule.absent_above.value)} of the weight is missing; up to there, a part"
            " that is missing counts as the lowest figure of the scale"
        )
    elif rule.absent_above.value <= 0:
        what = "any part with weight" if len(output.parts) > 1 else "what it is made from"
        said.append(f"Where {what} is missing, it is not given")
    else:
        said.append(
            f"Where more than {_percent(rule.absent_above.value)} of the weight is missing, it is not given; up to there, the"
            " missing weight is shared out among the parts that are there, in proportion to theirs, and the figure is marked"
            " partial"
        )
    said += [" [", code(rule.absent_above.address), ", ", code(rule.otherwise.address), "]."]
    if output.value is None:
        said += _not_applicable(output)
    return runs(*said)


def _not_applicable(output: Output) -> list[str | Run]:
    """What is done with a part that does not apply to a product."""
    chosen = output.missing.not_applicable
    if chosen is None:
        return [" What does not apply to a product counts neither as weight nor as a gap."]
    says = {
        "absent": " It is not given for a product that one of its parts does not apply to [",
        "reweight": " The weight of what does not apply to a product is shared out among the rest, in proportion [",
        "left out": " What does not apply to a product is left out: it is that of the rest, and nothing is made up for it [",
    }
    return [says[chosen.value], code(chosen.address), "]."]


def _percent(share: float) -> str:
    return f"{100 * share:.6g} %"


def rounding_in_words(output: Output) -> Runs:
    """How an output is rounded before anything else takes it, and how it is shown."""
    said: list[str | Run] = []
    if output.round is not None:
        said += [
            "Rounded ",
            _rounding(output.round),
            " before anything else takes it [",
            code(output.round.step.address),
            "]. ",
        ]
    else:
        said.append("Not rounded before anything else takes it. ")
    show = output.scale.show
    return runs(
        *said, "Shown rounded ", _rounding(show), " [", code(show.step.address), ", ", code(show.rule.address), "]."
    )


def _rounding(rounding: Rounding) -> str:
    return f"{rounding.rule.value} to a multiple of {rounding.step.text}"


def shown_in_words(form: Form) -> Runs:
    """The rule of shown figures."""
    rule = form.scale.show.rule.value
    return runs(
        f"Shown figures are rounded in decimal, {_rounding(form.scale.show)}, unless a rating or score says otherwise ({rule}:"
        f" {ROUNDING_RULES[rule].in_print}). What binary arithmetic leaves beyond the 13th digit decides nothing."
    )


def _bands_in_words(form: Form) -> Runs:
    if not form.bands:
        return runs("There are no bands.")
    return runs(f"Bands go by the {form.bands_on.value} figure [", code(form.bands_on.address), "].")


def ranks_in_words(ranks: Ranks) -> Runs:
    """A rule of places."""
    return runs(
        f"Places go by the {ranks.on.value} figure, the {ranks.best.value} being first; {TIES[ranks.ties.value]} [",
        code(ranks.on.address),
        ", ",
        code(ranks.ties.address),
        ", ",
        code(ranks.best.address),
        "].",
        *_classes_in_words(ranks),
    )


def _classes_in_words(ranks: Ranks) -> Runs:
    """Within what places are counted too; nothing where they are not."""
    if not ranks.classes:
        return ()
    return runs(
        " Places are counted by the same rule among the products with the same word of ",
        code(ranks.classes),
        " too; one that nobody else of its class stands beside with a place is alone in it, and one that states no word has no"
        " such place [",
        code(ranks.within.address),
        "].",
    )


def others_in_words(form: Form) -> Iterator[Runs]:
    """Which ratings and scores have places or bands of their own, for the section on what holds for all."""
    ranked = [name(output.label) for output in form.outputs if output.ranks != form.ranks]
    banded = [name(output.label) for output in form.outputs if not output.bands.inherited]
    if ranked:
        yield runs("Places of ", *listed_runs(ranked), " go by a rule of their own, said there.")
    if banded:
        yield runs("Bands of ", *listed_runs(banded), " are their own, or they have none, as is said there.")


def _gate(form: Form, gate: Gate) -> Runs:
    """One gate in a sentence."""
    where = condition_in_words(gate.when, form)
    scores = listed_runs([name(labels(form)[one]) for one in gate.scores]) if gate.scores else runs("every score")
    said: list[str | Run] = ["Gate ", name(gate.name), ": where ", *where]
    if gate.withhold:
        are = "are" if len(gate.scores) > 1 else "is"
        said += [", ", *scores, f" {are} withheld: “", name(gate.withhold), "”"]
    if gate.remark:
        said += [", the remark is “", name(gate.remark), "”"]
    if gate.guard is not None:
        said += [
            f"; within {gate.guard.text} u of the limit, on its good side, the remark is “",
            name(gate.near),
            "” (u: the",
        ]
        said += [" standard uncertainty of the product's own value)"]
    if gate.unknown.value == "withhold":
        said += ["; where it cannot be asked, they are withheld too", *_remark_there(gate, ", and")]
    elif gate.missing:
        said += ["; where it cannot be asked", *_remark_there(gate, ",")]
    numbers = (*gate.when.numbers, *((gate.guard,) if gate.guard is not None else ()))
    return runs(*said, *(_addresses(numbers) or (Run(" ["), code(gate.address), Run("]"))), ".")


def _remark_there(gate: Gate, joint: str) -> list[str | Run]:
    """The remark where a gate cannot be asked, if the form gives one."""
    return [f"{joint} the remark is “", name(gate.missing), "”"] if gate.missing else []
