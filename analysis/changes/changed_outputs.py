"""Changes of one rating or score: what it takes from where, its limits, and its values."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Any

from analysis.changes.change_words import percent, shares
from analysis.changes.changed_values import Both, Change, value_changes
from analysis.changes.matched_things import matched, part_labels, readdressed
from analysis.changes.written_things import words
from scoring.declaration import kinds
from scoring.form import ENDS, RATING, Curve, Expression, Limit, Output, Part
from scoring.reader.wording import clip


@dataclass(slots=True)
class _Shared:
    """What is gathered on the way: changes, and what is the same part, limit or curve in both."""

    both: Both
    label: str
    found: list[Change] = field(default_factory=list)

    def rewired(self, at: str, says: str, before: str, after: str) -> None:
        self.found.append(Change("rewired", at, f"{self.label}: {says}", before, after))


def output_changes(both: Both, section: str, old: Output, new: Output) -> list[Change]:
    """Every change of a rating or score, the old one at the address of the new, but that of its words."""
    shared = _Shared(both, new.label)
    weights: dict[str, tuple[float, float]] = {}
    bare_old, bare_new = old, new
    if _way(old) != _way(new):
        before, after = both.old_texts.way(old), both.new_texts.way(new)
        shared.rewired(new.address, f"takes its value from {after}, no longer from {before}", before, after)
        bare_old, bare_new = (replace(o, parts=(), value=None, blend=None, numbers=()) for o in (old, new))
    elif new.blend is None:
        bare_old, bare_new = _same_measure(shared, old, new)
    else:
        bare_old, bare_new, weights = _same_parts(shared, old, new)
    bare_old, bare_new = _same_limits(shared, bare_old, bare_new)
    _plain_fields(shared, old, new)
    values = value_changes(both, section, bare_old, bare_new, base=new.address, who=new.label, shares=weights)
    return shared.found + values


def _way(output: Output) -> str:
    """How an output comes to its value."""
    if output.value is not None:
        return "expression"
    return "measure" if output.blend is None else "blend"


def _same_measure(shared: _Shared, old: Output, new: Output) -> tuple[Output, Output]:
    """A measure through a curve, or an expression."""
    if not (old.parts and new.parts):
        return old, new
    (before,), (after,) = old.parts, new.parts
    if before.source != after.source:
        says = f"measure {before.source} -> {after.source}"
        shared.rewired(new.address, says, before.source, after.source)
    curves = _same_curves(shared, before.curve, after.curve)
    return replace(old, parts=(replace(before, curve=curves[0]),)), replace(
        new, parts=(replace(after, curve=curves[1]),)
    )


def _same_parts(shared: _Shared, old: Output, new: Output) -> tuple[Output, Output, dict[str, tuple[float, float]]]:
    """The parts that both have, those of one source matched by what they hold; the others are said."""
    contents = [[_part_content(part) for part in output.parts] for output in (old, new)]
    pairs = matched(
        _numbered(old.parts),
        _numbered(new.parts),
        lambda i, j: contents[0][i] == contents[1][j],
        by_place=lambda _: True,
        may_be_renamed=False,
    )
    share = shares(old), shares(new)
    _other_parts(shared, old, {i for i, _ in pairs}, share[0], came=False)
    _other_parts(shared, new, {j for _, j in pairs}, share[1], came=True)
    befores, afters, weights = [], [], {}
    for i, j in pairs:
        before, after = old.parts[i], new.parts[j]
        if before.weight is not None and after.weight is not None and share[0] and share[1]:
            weights[after.weight.address] = share[0][before.weight.address], share[1][after.weight.address]
        before = readdressed(before, before.address, after.address)
        curves = _same_curves(shared, before.curve, after.curve)
        befores.append(replace(before, curve=curves[0]))
        afters.append(replace(after, curve=curves[1]))
    return replace(old, parts=tuple(befores)), replace(new, parts=tuple(afters)), weights


def _numbered(parts: Sequence[Part]) -> list[str]:
    """Each part by its source and how many of that source there were before it."""
    before: Counter[str] = Counter()
    named = []
    for part in parts:
        named.append(f"{part.source} {before[part.source]}")
        before[part.source] += 1
    return named


def _other_parts(shared: _Shared, output: Output, kept: set[int], share: dict[str, float], *, came: bool) -> None:
    texts = shared.both.new_texts if came else shared.both.old_texts
    labels = part_labels(output)
    for index, part in enumerate(output.parts):
        if index in kept or part.weight is None:
            continue
        parent = part.address.rpartition(".")[0]
        text = texts.of(part) if parent.endswith(".mix") else part.weight.text
        of_sum = f" ({percent(share[part.weight.address])})" if share else ""
        verb = "takes {} too, weight" if came else "takes {} no longer, weight was"
        says = f"{verb.format(part.source)} {part.weight.text}{of_sum}"
        shared.rewired(f"{parent}.{labels[index]}", says, *(("", text) if came else (text, "")))


def _same_curves(shared: _Shared, old: Curve | None, new: Curve | None) -> tuple[Curve | None, Curve | None]:
    """The curves without references that are not of one make, which are said."""
    if old is None or new is None or (old.kind, len(old.anchors)) != (new.kind, len(new.anchors)):
        return old, new
    old, new = _same_ends(shared, old, new)
    if old.reference is None or new.reference is None or _make(old) == _make(new):
        return old, new
    texts = [
        "live" if reference.live else side.of(reference)
        for side, reference in ((shared.both.old_texts, old.reference), (shared.both.new_texts, new.reference))
    ]
    shared.rewired(new.reference.address, f"reference of its curve {texts[0]} -> {texts[1]}", texts[0], texts[1])
    return replace(old, reference=None), replace(new, reference=None)


def _same_ends(shared: _Shared, old: Curve, new: Curve) -> tuple[Curve, Curve]:
    """The curves without what holds outside their anchors, where one has a word for each end; the change is said."""
    if [name for name, _ in old.choices] == [name for name, _ in new.choices]:
        return old, new
    before, after = (", ".join(dict.fromkeys(_ends_in_words(curve))) for curve in (old, new))
    if before != after:
        shared.rewired(f"{new.address}.outside", f"outside the anchors of its curve {before} -> {after}", before, after)
    return _without_outside(old), _without_outside(new)


def _ends_in_words(curve: Curve) -> list[str]:
    """What holds below and above the anchors; one word where it is the same."""
    words = [choice.value for choice in curve.outside]
    return words if len(set(words)) == 1 else [f"{end}: {word}" for end, word in zip(ENDS, words, strict=True)]


def _without_outside(curve: Curve) -> Curve:
    return replace(curve, choices=tuple(pair for pair in curve.choices if pair[1] not in curve.outside))


def _make(curve: Curve) -> tuple[object, ...]:
    """Whether a reference is live, which figures it has, and how many members."""
    reference = curve.reference
    assert reference is not None  # only asked of curves that have one
    return reference.live, tuple(name for name, _ in reference.figures), len(reference.values)


def _same_limits(shared: _Shared, old: Output, new: Output) -> tuple[Output, Output]:
    """The limits that both have, those without a name matched by what they hold; the others are said."""
    labels = [[_label(output, limit) for limit in output.limits] for output in (old, new)]
    contents = [[_limit_content(limit) for limit in output.limits] for output in (old, new)]
    pairs = matched(labels[0], labels[1], lambda i, j: contents[0][i] == contents[1][j], by_place=str.isdigit)
    for index, limit in enumerate(old.limits):
        if index not in {i for i, _ in pairs}:
            says = f"limit {labels[0][index]} ({_in_words(limit)}) removed"
            shared.rewired(limit.address, says, shared.both.old_texts.of(limit), "")
    for index, limit in enumerate(new.limits):
        if index not in {j for _, j in pairs}:
            says = f"limit {labels[1][index]} ({_in_words(limit)}) added"
            shared.rewired(limit.address, says, "", shared.both.new_texts.of(limit))
    _limits_in_order(shared, old, new, pairs)
    befores, afters = [], []
    for i, j in pairs:
        if labels[0][i] != labels[1][j] and not (labels[0][i].isdigit() and labels[1][j].isdigit()):
            says = f"{shared.label}: limit {labels[0][i]} is now called {labels[1][j]}"
            shared.found.append(Change("renamed", new.limits[j].address, says, labels[0][i], labels[1][j]))
        kept = _same_limit(shared, old.limits[i], new.limits[j], labels[1][j])
        if kept is not None:
            befores.append(kept[0])
            afters.append(kept[1])
    return replace(old, limits=tuple(befores)), replace(new, limits=tuple(afters))


def _same_limit(shared: _Shared, old: Limit, new: Limit, label: str) -> tuple[Limit, Limit] | None:
    """One limit in both, at the new address; None where it is another sort of limit, which is said whole."""
    old = readdressed(old, old.address, new.address)
    if (old.sense, old.when is None) != (new.sense, new.when is None):
        texts = shared.both.old_texts.of(old), shared.both.new_texts.of(new)
        shared.rewired(new.address, f"limit {label} {_in_words(old)} -> {_in_words(new)}", *texts)
        return None
    if old.on != new.on:
        shared.rewired(new.address, f"limit {label} on {old.on} -> {new.on}", old.on or "", new.on or "")
    curves = _same_curves(shared, old.curve, new.curve)
    return replace(old, curve=curves[0]), replace(new, curve=curves[1])


def _limits_in_order(shared: _Shared, old: Output, new: Output, pairs: Sequence[tuple[int, int]]) -> None:
    """Limits of one sense may stand in any order; one at most and one at least may not."""
    moves = [(old.limits[before].sense, after) for before, after in sorted(pairs)]
    if any(one != other and place > later for (one, place), (other, later) in combinations(moves, 2)):
        listed = [words(_label(output, limit) for limit in output.limits) for output in (old, new)]
        shared.rewired(new.address, "limits at most and at least in another order", listed[0], listed[1])


def _label(output: Output, limit: Limit) -> str:
    return limit.address.removeprefix(f"{output.address}.limits.")


def _in_words(limit: Limit) -> str:
    sense = limit.sense.replace("_", " ")
    if limit.when is not None and limit.bound is not None:
        return f"{sense} {limit.bound.text} when {clip(limit.when.text)}"
    return f"{sense} a curve of {limit.on}"


def _plain_fields(shared: _Shared, old: Output, new: Output) -> None:
    for name in RATING.fields_of(kinds.Flag):
        if getattr(old, name) != getattr(new, name):
            texts = [str(getattr(output, name)).lower() for output in (old, new)]
            shared.rewired(new.address, f"{name} {texts[0]} -> {texts[1]}", texts[0], texts[1])
    if set(old.missing.needs) != set(new.missing.needs):
        texts = [words(output.missing.needs) if output.missing.needs else "" for output in (old, new)]
        says = f"needs {texts[0] or 'nothing'} -> {texts[1] or 'nothing'}"
        shared.rewired(new.address, says, texts[0], texts[1])


def _part_content(part: Part) -> tuple[Any, ...]:
    """What a part holds, apart from where it stands."""
    weight = part.weight.value if part.weight is not None else None
    return part.source, weight, _curve_content(part.curve)


def _limit_content(limit: Limit) -> tuple[Any, ...]:
    bound = limit.bound.value if limit.bound is not None else None
    when = _expression_content(limit.when)
    return limit.sense, when, bound, limit.on, _curve_content(limit.curve), limit.apply.value


def _expression_content(expression: Expression | None) -> tuple[Any, ...]:
    return () if expression is None else (expression.term, tuple(number.value for number in expression.numbers))


def _curve_content(curve: Curve | None) -> tuple[Any, ...]:
    return () if curve is None else (curve.kind, *_leaves(curve))


def _leaves(curve: Curve) -> Iterator[Any]:
    yield from ((name, number.value) for name, number in curve.numbers)
    yield from ((at.value, gives.value) for at, gives in curve.anchors)
    yield from ((name, choice.value) for name, choice in curve.choices)
    if curve.reference is not None:
        yield curve.reference.live
        yield from ((name, number.value) for name, number in curve.reference.figures)
        yield from (number.value for number in curve.reference.values)
