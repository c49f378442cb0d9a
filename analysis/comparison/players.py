"""What a comparison shares a move out among: each edit of the formula, the readings, the products that came or went."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from analysis.changes.changes import Change
from analysis.comparison.editions import ReadBy, differing_readings
from scoring.addresses.addresses import addresses, set_addresses, set_together, written
from scoring.addresses.publication import is_of_publication
from scoring.blends import Weights
from scoring.curves import KINDS
from scoring.errors import AddressError
from scoring.form import ERROR_COMPONENTS, Curve, Form, Number, Output

STRUCTURE, READINGS, PRODUCTS = "structure", "readings", "products"
#: Sections whose values change no score by themselves, only what is printed of it or who is published.
#: What stands at a measure and says how its repeats become a value.
OF_REPEATS = ("repeats", "trim", "reporting_limit", "below_limit", "round")
#: What stands there and says what their errors are made of.
OF_ERRORS = [[component] for component in ERROR_COMPONENTS]
#: So many choices (not numbers) may stand at one output; every combination of them is a formula of its own.
MOST_CHOICES = 8
#: Two factors are the same where they differ by no more than this share: the dust of binary arithmetic.
SAME_FACTOR = 1e-9


@dataclass(frozen=True, slots=True)
class Player:
    """One cause: name, an address or one of the words above; kind: "edit", "structure", "readings" or "products";
    says: in words; address, before, after: of an edit, else "".
    """

    name: str
    kind: str
    says: str
    address: str = ""
    before: str = ""
    after: str = ""


def scaled_together(found: Sequence[Change], old: Form, new: Form) -> tuple[Change, ...]:
    """The changes, those of one mean's weights as one "rewired" change where all were multiplied by the same factor.

    Such a change moves no score: a mean depends on the shares of its weights alone. A sum of weighted parts does not, and
    its changes stay as they are.
    """
    changes = list(found)
    before = {one.after: one.before for one in found if one.kind == "renamed"}
    for output in new.outputs:
        other = old.outputs_by_name.get(before.get(output.name, output.name))
        own = [] if other is None else _scaled(changes, output, other)
        if own:
            changes[changes.index(own[0])] = _as_one(own, output)
            changes = [change for change in changes if change not in own[1:]]
    return tuple(changes)


def _scaled(found: Sequence[Change], output: Output, other: Output) -> list[Change]:
    """The changes of an output's weights; [] unless every weight has the same factor, which is not 1."""
    weights = {part.weight.address: part.weight.value for part in output.parts if part.weight is not None}
    count = sum(part.weight is not None for part in other.parts)
    blend = output.blending
    if blend is None or blend.weights is Weights.MULTIPLIERS or len(weights) != count:
        return []
    own = [change for change in found if change.kind == "value" and change.at in weights]
    counting = {address for address, weight in weights.items() if weight != 0}
    if not own or {change.at for change in own} != counting or any(float(change.before) == 0 for change in own):
        return []
    factors = [float(change.after) / float(change.before) for change in own]
    return own if all(math.isclose(factor, factors[0], rel_tol=SAME_FACTOR) for factor in factors) else []


def _as_one(own: Sequence[Change], output: Output) -> Change:
    factor = float(own[0].after) / float(own[0].before)
    says = (
        f"{output.label}: all weights multiplied by the same factor, {factor:.6g}, so that every share stays the same"
    )
    texts = ["{" + ", ".join(f"{one.at}: {getattr(one, side)}" for one in own) + "}" for side in ("before", "after")]
    return Change("rewired", output.address, " ".join(says.split()), *texts)


def players_of(found: Sequence[Change], old: Form, new: Form, readings: ReadBy) -> tuple[Player, ...]:
    """The players of a comparison, edits first; none where nothing differs that can move a score or a place.

    Notes
    -----
    Edits that make no formula without each other are one player: numbers of a curve that pass each other are an edit of the
    curve; what has no address in both formulas, weights that could all be 0 in a mixture, the ends of a scale that pass each
    other, a blend that comes or goes with a number of its own, and choices beyond `MOST_CHOICES` at one output go with the
    structure.
    """
    edits, rest = _edits(found, old, new)
    edits = [*_curves_whole(edits, old, new)]
    bound = _bound_together(edits, old, new)
    rest += [player.says for player in edits if player.address in bound]
    edits = [player for player in edits if player.address not in bound]
    if rest and not _go_back(new, edits):
        rest, edits = [*(player.says for player in edits), *rest], []
    players = list(edits)
    if rest:
        players.append(Player(STRUCTURE, STRUCTURE, "; ".join(rest)))
    differing = differing_readings(readings, old, new)
    if differing:
        says = f"readings of {len(differing)} product{'s' if len(differing) != 1 else ''} differ"
        players.append(Player(READINGS, READINGS, says))
    before, after = readings[False, False].products, readings[True, True].products
    if set(before) != set(after):
        gone = [name for name in before if name not in set(after)]
        come = [name for name in after if name not in set(before)]
        says = "; ".join(f"{word} {', '.join(names)}" for word, names in (("gone", gone), ("new", come)) if names)
        players.append(Player(PRODUCTS, PRODUCTS, says))
    return tuple(players)


def _edits(found: Sequence[Change], old: Form, new: Form) -> tuple[list[Player], list[str]]:
    """The changes at one address that can move a score, and what is said of the rest that move scores or places."""
    known = addresses(old).keys() & addresses(new).keys()
    players: list[Player] = []
    rest: list[str] = []
    for change in found:
        if change.kind == "said" or _is_of_errors(change.at):
            continue
        if change.kind != "value" or is_of_publication(change.at) or change.at not in known:
            rest.append(change.says)
        elif _is_of_a_score(change.at):
            players.append(Player(change.at, "edit", change.says, change.at, change.before, change.after))
    return players, rest


def _is_of_a_score(address: str) -> bool:
    """Whether an address can move a score: of a measure only what says how its repeats become a value."""
    parts = address.split(".")
    return parts[0] != "measures" or len(parts) < 3 or parts[2] in OF_REPEATS


def _is_of_errors(address: str) -> bool:
    """Whether an address is about the errors of readings, which move no score."""
    section, _, rest = address.partition(".")
    return section == "error_correlations" or (section == "measures" and rest.split(".")[1:2] in OF_ERRORS)


def _curves_whole(edits: Sequence[Player], old: Form, new: Form) -> Iterator[Player]:
    """The edits, those of a curve as one where some mixture of them is no curve."""
    before, after = addresses(old), addresses(new)
    curves = [at for at, noun in before.items() if isinstance(noun, Curve) and isinstance(after.get(at), Curve)]
    whole = {at for at in curves if _passes(before[at], after[at])}
    for player in edits:
        at = next((curve for curve in whole if player.address.startswith(curve + ".")), None)
        if at is None:
            yield player
        elif player is next(one for one in edits if one.address.startswith(at + ".")):
            says = "; ".join(one.says for one in edits if one.address.startswith(at + "."))
            yield Player(at, "edit", says, at, written(old, before[at]), written(new, after[at]))


def _passes(old: object, new: object) -> bool:
    """Whether one position of a curve may pass another where some are old and some new."""
    assert isinstance(old, Curve)
    assert isinstance(new, Curve)
    if old.kind != new.kind:
        return False
    rows = [(KINDS[c.kind].positions(c), _ends(c)) for c in (old, new)]
    return any(_meet(*pair) for pair in zip(*rows, strict=True) if pair[0] and len(pair[0]) == len(pair[1]))


def _ends(curve: Curve) -> tuple[Number, ...]:
    figures = dict(curve.reference.figures) if curve.reference is not None else {}
    return (figures["least"], figures["greatest"]) if {"least", "greatest"} <= figures.keys() else ()


def _meet(old: Sequence[Number], new: Sequence[Number]) -> bool:
    """Whether numbers that keep an order could lose it where each is the old or the new one."""
    ranges = sorted((a.value, *sorted((a.value, b.value))) for a, b in zip(old, new, strict=True))
    return any(lesser[2] >= greater[1] for lesser, greater in pairwise(ranges))


def _bound_together(edits: Sequence[Player], old: Form, new: Form) -> set[str]:
    """The addresses of edits that are no causes by themselves."""
    own = {player.address for player in edits}
    bound: set[str] = set()
    others = new.outputs_by_name
    if {"scale.from", "scale.to"} & own and _scale_meets(old, new):
        bound |= {"scale.from", "scale.to"} & own
    for output in old.outputs:
        weights = [part.weight for part in output.parts if part.weight is not None]
        now = (
            {p.weight.address: p.weight.value for p in others[output.name].parts if p.weight}
            if output.name in others
            else {}
        )
        moved = {w.address for w in weights} & own
        if moved and all(min(w.value, now.get(w.address, w.value)) == 0 for w in weights):
            bound |= moved
    bound |= {at for at in _blends_with_numbers(old, others) if at in own}
    return bound | _choices_beyond(edits, old)


def _blends_with_numbers(old: Form, others: Mapping[str, Output]) -> Iterator[str]:
    """The addresses of blends with a number of their own that only one formula has: neither is read without the other."""
    for output in old.outputs:
        other = others.get(output.name)
        if other is not None and output.blend is not None and dict(output.numbers).keys() != dict(other.numbers).keys():
            yield output.blend.address


def _scale_meets(old: Form, new: Form) -> bool:
    ends = [(form.scale.low, form.scale.high) for form in (old, new) if form.scale.high is not None]
    return len(ends) == 2 and _meet(*[[low, high] for low, high in ends if high is not None])


def _choices_beyond(edits: Sequence[Player], old: Form) -> set[str]:
    """The choices at an output that has too many of them, or anywhere where those at no output are too many."""
    nouns = addresses(old)
    choices = [
        p.address for p in edits if not isinstance(nouns[p.address], Number) and not p.address.startswith("measures.")
    ]
    places = {at: old.output_at(at) for at in choices}
    everywhere = [at for at, output in places.items() if output is None]
    counts = Counter(output.name for output in places.values() if output is not None)
    crowded = {name for name, count in counts.items() if count + len(everywhere) > MOST_CHOICES}
    return {at for at, output in places.items() if output is not None and output.name in crowded} | (
        set(everywhere) if len(everywhere) > MOST_CHOICES else set()
    )


def _go_back(new: Form, edits: Sequence[Player]) -> bool:
    """Whether the new formula is one with every edit taken back."""
    try:
        taken_back(new, edits)
    except AddressError:
        return False
    return True


def taken_back(new: Form, players: Sequence[Player]) -> Form:
    """The new formula with every edit among the players taken back."""
    settings = as_settings(players, "before")
    try:
        return set_together(new, settings)
    except AddressError:
        return set_addresses(new, [f"{address}={value}" for address, value in settings.items()])


def number_at(form: Form, address: str) -> float | None:
    """The number at an address; None where there is none, or no number."""
    noun = addresses(form).get(address)
    return noun.value if isinstance(noun, Number) else None


def as_settings(players: Sequence[Player], which: str) -> Mapping[str, str]:
    """Address to value of all edits: `which` is "before" or "after"."""
    return {player.address: getattr(player, which) for player in players if player.kind == "edit"}
