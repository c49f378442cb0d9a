"""Every mixture of two editions of a formula and its catalogue: scores and places under any set of the causes between them.

A mixture is a setting of trials: each edit is a number or choice that stands as in the old formula or as in the new one, so
that all mixtures are worked out as draws are. What has no address (things added, removed, rewired) goes together, on a formula
of its own; so do the readings, and the products that came or went.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cached_property

import numpy as np

from analysis.comparison.players import PRODUCTS, READINGS, STRUCTURE, Player, number_at, taken_back
from analysis.study import Setting, Study
from analysis.study.building import Wording, choice_move, number_move
from analysis.study.distributions import Pick
from analysis.study.moves import ChoiceMove
from analysis.study.study import Move
from analysis.trials.quantities import places_of
from analysis.trials.trials import Trials, compile_trials
from scoring.addresses.addresses import addresses, set_together
from scoring.catalogue import Catalogue
from scoring.catalogue.joining import for_products
from scoring.catalogue.reporting_limit import recount
from scoring.form import Form, Number
from scoring.numbers.array_types import Array, Flags
from scoring.program.program import compile_form
from scoring.table.evaluate import evaluate, inputs_of, kernel_for
from scoring.table.gates import pass_gates
from scoring.table.table import ScoreTable


@dataclass(frozen=True, eq=False)
class Coalitions:
    """The mixtures of two score tables.

    players: the causes; targets: scores that both have; products: of both catalogues, the new one's first;
    readings: (new readings?, new formula?) to the catalogue read by that formula; called_before: of a score that was renamed,
    its new name to its old one; chosen: the products that are ranked, shape (products,), None for all.
    """

    old: ScoreTable
    new: ScoreTable
    players: tuple[Player, ...]
    targets: tuple[str, ...]
    products: tuple[str, ...]
    readings: Mapping[tuple[bool, bool], Catalogue]
    called_before: Mapping[str, str] = field(default_factory=dict)
    chosen: Flags | None = None
    _trials: dict[tuple[bool, bool, bool], Trials] = field(default_factory=dict)
    _passages: dict[tuple[bool, bytes], dict[str, Flags]] = field(default_factory=dict)

    def scores(self, members: Flags) -> dict[str, Array]:
        """The scores of mixtures.

        Parameters
        ----------
        members : array, shape (n, players); True where a cause stands as in the new edition

        Returns
        -------
        dict of score name to array, shape (n, products); NaN where a product has none, or is not in the catalogue
        """
        found = {name: np.full((len(members), len(self.products)), np.nan) for name in self.targets}
        switches = np.stack([self._switched(members, kind) for kind in (STRUCTURE, READINGS, PRODUCTS)], axis=1)
        for key in np.unique(switches, axis=0):
            rows = np.flatnonzero((switches == key).all(axis=1))
            trials = self._trials_of(bool(key[0]), bool(key[1]), bool(key[2]))
            scores = trials.scores(self._setting(trials, members[rows]))
            columns = np.array([self.products.index(name) for name in trials.inputs.products], np.intp)
            for name in self.targets:
                found[name][np.ix_(rows, columns)] = scores[self.name_in(name, bool(key[0]))]
        return found

    def scores_and_ranks(self, members: Flags) -> Array:
        """The scores of mixtures and then their places, score after score, shape (n, 2 * targets * products)."""
        scores = self.scores(members)
        both = [(scores[name], self.ranks(name, scores[name], members)) for name in self.targets]
        return np.concatenate([one for pair in both for one in pair], axis=1)

    def __getstate__(self) -> dict[str, object]:
        """Without what is compiled, and what was worked out by it."""
        kept = {one.name: getattr(self, one.name) for one in fields(self)}
        return kept | {"_trials": {}, "_passages": {}}

    def ranks(self, name: str, scores: Array, members: Flags) -> Array:
        """The places of mixtures among the products published in that mixture, shape (n, products)."""
        structure = self._switched(members, STRUCTURE)
        values = np.where(self._withheld(name, members), np.nan, scores)
        if self.chosen is not None:
            values = np.where(self.chosen, values, np.nan)
        ranks = np.empty(values.shape)
        for table, rows, is_new in ((self.old, ~structure, False), (self.new, structure, True)):
            if rows.any():
                output = table.column(self.name_in(name, is_new)).output
                ranks[rows] = places_of(output, values[rows])
        return ranks

    def name_in(self, name: str, is_new: bool) -> str:
        """What a score is called in the new formula, or in the old one."""
        return name if is_new else self.called_before.get(name, name)

    def _withheld(self, name: str, members: Flags) -> Flags:
        """Which products a gate withholds in each mixture, shape (n, products)."""
        found = np.zeros((len(members), len(self.products)), bool)
        for table, structure in ((self.old, False), (self.new, True)):
            own = self.name_in(name, structure)
            gates = [gate for gate in table.form.gates if gate.withhold and (not gate.scores or own in gate.scores)]
            rows = np.flatnonzero(self._switched(members, STRUCTURE) == structure)
            if not gates or not len(rows) or (table.form.scores and own in {o.name for o in table.form.ratings}):
                continue
            leads = self._at_gates(table.form)
            matters = [p.kind in (READINGS, PRODUCTS) or p.address in leads for p in self.players]
            cases, of = np.unique(members[rows][:, matters], axis=0, return_inverse=True)
            for number, case in enumerate(cases):
                one = np.full(len(self.players), structure)
                one[matters] = case
                passages = self._passed(structure, one.tobytes())
                shut = np.any([passages[gate.name] for gate in gates], axis=0)
                found[rows[of.reshape(-1) == number]] = shut
        return found

    def _at_gates(self, form: Form) -> frozenset[str]:
        """The addresses of edits that can move what a gate asks about."""
        names = form.dependencies.with_under(*(name for gate in form.gates for name in gate.when.names))
        starts = (*(f"measures.{name}." for name in names), *(o.address + "." for o in form.outputs if o.name in names))
        owned = ("measures.", *(output.address + "." for output in form.outputs))
        any_output = not names.isdisjoint(form.outputs_by_name)
        return frozenset(
            edit.address
            for edit in self.edits
            if edit.address.startswith(starts) or (any_output and not edit.address.startswith(owned))
        )

    def _passed(self, structure: bool, members: bytes) -> dict[str, Flags]:
        """Each gate's word on every product in one mixture: whether it is withheld."""
        if (structure, members) not in self._passages:
            member = np.frombuffer(members, bool)
            readings, come = (bool(self._switched(member[np.newaxis], kind)[0]) for kind in (READINGS, PRODUCTS))
            leads = self._at_gates(self._base(structure))
            after = {
                p.address: p.after
                for p, there in zip(self.players, member, strict=True)
                if there and p.address in leads
            }
            form = set_together(self._base(structure), after)
            catalogue = self._counted(form, self._catalogue(structure, readings, come))
            bare = replace(form, gates=tuple(replace(gate, guard=None) for gate in form.gates))
            program, inputs = compile_form(bare), inputs_of(bare, catalogue)
            evaluation = evaluate(kernel_for(program, inputs), inputs)
            index = [self.products.index(name) for name in catalogue.products]
            found: dict[str, Flags] = {}
            for passage in pass_gates(program, inputs, evaluation, {}):
                found[passage.gate.name] = np.zeros(len(self.products), bool)
                found[passage.gate.name][index] = passage.withheld
            self._passages[structure, members] = found
        return self._passages[structure, members]

    def _switched(self, members: Flags, kind: str) -> Flags:
        index = [i for i, player in enumerate(self.players) if player.kind == kind]
        return members[:, index[0]] if index else np.zeros(len(members), bool)

    @cached_property
    def edits(self) -> tuple[Player, ...]:
        """The players that are edits at an address."""
        return tuple(player for player in self.players if player.kind == "edit")

    def _trials_of(self, structure: bool, readings: bool, products: bool) -> Trials:
        key = (structure, readings, products)
        if key not in self._trials:
            form = self._base(structure)
            catalogue = self._catalogue(structure, readings, products)
            targets = tuple(self.name_in(name, structure) for name in self.targets)
            study = Study("mixture", "", form, self._moves(form), targets, 1, (), (), "")
            self._trials[key] = compile_trials(study, catalogue)
        return self._trials[key]

    def _catalogue(self, structure: bool, readings: bool, products: bool) -> Catalogue:
        """The readings of a mixture.

        A measure that only the mixture's formula knows, and only its own edition's catalogue has, comes from there.
        """
        table = self.new if products else self.old
        first, second = self.readings[readings, structure], self.readings[not readings, structure]
        other = self.old if structure else self.new
        if readings != structure:
            shared = {measure.name for measure in other.form.measures}
            own = {m: r for m, r in second.readings.items() if m not in shared and m not in first.readings}
            if own:
                lent = for_products(replace(second, readings=own), first, first.products)
                first = replace(first, readings={**first.readings, **{m: lent.readings[m] for m in own}})
        return for_products(first, second, table.catalogue.products)

    def _counted(self, form: Form, catalogue: Catalogue) -> Catalogue:
        """The readings as a formula counts them, of the measures that edits are about."""
        about = {edit.address.split(".")[1] for edit in self.edits if edit.address.startswith("measures.")}
        measures = [m for m in form.measures if m.name in about and m.name in catalogue.readings]
        counted = {measure.name: recount(measure, catalogue.readings[measure.name]) for measure in measures}
        return replace(catalogue, readings={**catalogue.readings, **counted})

    def _base(self, structure: bool) -> Form:
        """The old formula, or the new one with every edit taken back."""
        return self._taken_back if structure else self.old.form

    @cached_property
    def _taken_back(self) -> Form:
        return taken_back(self.new.form, self.players)

    def _moves(self, form: Form) -> tuple[Move, ...]:
        nouns = addresses(form)
        moves: list[Move] = []
        for player in self.edits:
            noun, value = nouns[player.address], number_at(self.new.form, player.address)
            if isinstance(noun, Number) and value is not None and not player.address.startswith("measures."):
                pick = Pick((noun.value, value), (0.5, 0.5))
                moves.append(number_move(form, noun, pick, Wording("edit")))
            else:
                moves.append(_choice(form, player))
        return tuple(moves)

    def _setting(self, trials: Trials, members: Flags) -> Setting:
        setting = trials.study.stated(len(members))
        for index, player in enumerate(self.players):
            if player.kind != "edit":
                continue
            if player.address in setting.choices:
                setting.choices[player.address] = members[:, index].astype(np.intp)
            else:
                value = number_at(self.new.form, player.address)
                assert value is not None  # an edit that is no number is a choice
                stated = setting.numbers[player.address]
                setting.numbers[player.address] = np.where(members[:, index], value, stated)
        return setting


def _choice(form: Form, player: Player) -> ChoiceMove:
    """A choice between what stands in a form and what stands in the new one; the first is the form as it is."""
    move = choice_move(form, player.address, (player.before, player.after), (0.5, 0.5), Wording("edit"))
    return ChoiceMove(move.factor, ((), ((player.address, player.after),)), move.chances)


def targets_of(
    old: ScoreTable, new: ScoreTable, only: Sequence[str], called_before: Mapping[str, str] | None = None
) -> tuple[str, ...]:
    """The scores (ratings, where a formula has none) that both tables have, in the new one's order, by their new names.

    Parameters
    ----------
    only : scores asked for, by their new or old names; all by default
    called_before : of scores that were renamed, the new name to the old one
    """
    before = dict(called_before or {})
    names = [column.output.name for column in new.scores or new.ratings]
    known = {column.output.name for column in new.scores + new.ratings}
    now = {was: name for name, was in before.items() if was not in known}
    gone = {column.output.name for column in old.scores + old.ratings} - set(before.values())
    asked = dict.fromkeys(now.get(name, name) for name in only or names)
    return tuple(name for name in asked if name in before or name in gone)
