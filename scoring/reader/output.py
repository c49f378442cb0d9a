"""Reading ratings and scores: parts under a blend or an expression, limits, the missing rule, rounding."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import chain, count

from scoring.blends import BLENDS, NUMBERS, Weights
from scoring.declaration import Declaration, NumberKey
from scoring.errors import nearest
from scoring.form import (
    CURVE,
    LIMIT,
    MISSING,
    MIX_PART,
    NOT_APPLICABLE,
    RATING,
    SCORE,
    Band,
    Bands,
    Choice,
    Curve,
    Limit,
    MissingRule,
    Number,
    Output,
    Part,
    Ranks,
    Scale,
)
from scoring.reader.bands import read_band_limits, read_bands
from scoring.reader.curve import read_curve
from scoring.reader.declared import all_unsaid, made, named_nouns, read_key
from scoring.reader.fields import Fields, Reader
from scoring.reader.scale import read_ranks, read_scale
from scoring.reader.wording import clip, describe
from scoring.texts.document import Mapping, Node, Scalar, Sequence
from scoring.texts.source import Spot

#: Ways to a value that have parts, which are blended.
WITH_PARTS = frozenset({"mix", "weights", "parts"})


@dataclass(frozen=True, slots=True)
class Published:
    """What the formula says of how figures are published, for all ratings and scores that say nothing else."""

    scale: Scale
    ranks: Ranks
    bands: tuple[Band, ...]


def read_outputs(reader: Reader, node: Node | None, section: str, published: Published) -> tuple[Output, ...]:
    """Every rating under `ratings`, or every score under `scores`."""
    declaration = RATING if section == "ratings" else SCORE
    read = []
    for name, fields in named_nouns(reader, node, section, declaration):
        own = (read_scale(fields, published.scale), read_ranks(fields, published.ranks))
        output = _OutputReader(fields, declaration, *own, read_bands(fields, published.bands)).read(section, name)
        read.append(output)
    return tuple(read)


@dataclass(frozen=True, slots=True)
class _OutputReader:
    """Reads one rating or score, on its scale, with its ranks and bands."""

    fields: Fields
    declaration: Declaration[Output]
    scale: Scale
    ranks: Ranks
    bands: Bands

    @property
    def reader(self) -> Reader:
        return self.fields.reader

    def read(self, section: str, name: str) -> Output:
        fields = self.fields
        parts = tuple(self._parts(section))
        value = read_key(self.declaration.fields["value"], fields)
        self._check_ways(section)
        blend = read_key(self.declaration.fields["blend"], fields) if WITH_PARTS & fields.keys else None
        settled = bool(self._ways()) and all(one in self.reader.names.kinds for one in self._written_sources())
        sources = {part.source for part in parts} | set(value.names if value else ()) | set(self._written_sources())
        output = made(
            self.declaration,
            fields,
            section=section,
            name=name,
            blend=blend,
            numbers=tuple(self._numbers(blend)),
            parts=parts,
            value=value,
            limits=tuple(self._limits()),
            missing=_read_missing(fields, sources if settled else None, blend),
            scale=self.scale,
            ranks=self.ranks,
            bands=self.bands,
            band_limits=tuple(read_band_limits(fields, self.bands)),
        )
        assert output is not None  # no key of a rating or score must be written
        self._check_jumps(output)
        return output

    def _check_jumps(self, output: Output) -> None:
        """Jumps are stated of an expression; steps, limits and roundings declare their own."""
        if output.jumps is not None and output.value is None and self._ways():
            found = f"`jumps` in {self.fields.address}, which has no expression"
            hint = "Steps, limits and roundings say by themselves that they jump."
            self.reader.fault(output.jumps.place, found, "`value` beside it", hint)

    def _ways(self) -> list[str]:
        return [key for key in ("measure", "mix", "weights", "parts", "value") if key in self.fields]

    def _written_sources(self) -> Iterator[str]:
        """What `weights` or `parts` name, be it known or not, and its weight right or not."""
        for key in ("weights", "parts"):
            node = self.fields.node_of(key)
            yield from (name.text for name, _ in node.entries) if isinstance(node, Mapping) else ()
            yield from (item.text for item in getattr(node, "items", ()) if isinstance(item, Scalar))

    def _check_ways(self, section: str) -> None:
        """One way to a value: a measure with its curve, a mix, weights, or an expression."""
        fields, ways = self.fields, self._ways()
        wanted = (
            "`measure` with `curve`, `mix`, or `value`" if section == "ratings" else "`weights`, `parts`, or `value`"
        )
        if len(ways) != 1:
            found = "no value" if not ways else "several ways to a value (" + ", ".join(ways) + ")"
            hint = "Keep one of them." if ways else f"As in `{self.declaration.as_in[1:-1]}`."
            self.reader.fault(fields.place, f"{found} in {fields.address}", f"one of {wanted}", hint)
        if "curve" in fields and "measure" not in fields:
            found = f"`curve` without `measure` in {fields.address}"
            self.reader.fault(fields.place, found, "`measure: ...` beside it")
        if "blend" in fields and ways and not WITH_PARTS & fields.keys:
            found = f"`blend` without parts in {fields.address}"
            self.reader.fault(fields.place, found, "`weights`, `parts` or `mix` beside it")

    def _curve(self, fields: Fields, key: str) -> Curve | None:
        return read_curve(self.reader, fields.node_of(key), fields.path(key), open_top=self.scale.high is None)

    def _parts(self, section: str) -> Iterator[Part]:
        fields = self.fields
        if section == "scores":
            yield from self._weights()
            yield from self._equal_parts()
        elif "measure" in fields:
            source = _source(self.reader, fields.node_of("measure"), ("measure",))
            fields.required("curve")
            curve = self._curve(fields, "curve")
            if source and curve:
                yield self._part(source=source, curve=curve, weight=None, address=fields.address, place=fields.place)
        yield from self._mix()

    def _part(self, **said: object) -> Part:
        """A part that is not written in a mapping of its own."""
        return Part(**all_unsaid(MIX_PART, self.fields, "mix") | said)

    def _mix(self) -> Iterator[Part]:
        fields, mix = self.fields, self.fields.node_of("mix")
        taken: set[str] = set()
        weights: list[Number] = []
        if isinstance(mix, Mapping) and not {key.text for key, _ in mix.entries} <= set(MIX_PART.keys):
            self._fault_of_weights(mix)
            return
        nodes = self.reader.items(mix, fields.path("mix"), "parts")
        for index, node in enumerate(nodes, start=1):
            item = self.reader.noun(node, f"{fields.path('mix')}.{index}", MIX_PART)
            part = self._mix_part(item, taken) if item is not None else None
            if part is not None:
                weights += [part.weight] if part.weight is not None else []
                yield part
        if isinstance(mix, Sequence) and len(weights) == len(nodes) and not any(weight.value > 0 for weight in weights):
            self.reader.fault(mix.place, f"no weight above 0 in {fields.address}", "at least one")

    def _fault_of_weights(self, mix: Mapping) -> None:
        """A mix written as weights by name: how its first part is written."""
        name, weight = mix.entries[0]
        said = f", weight: {clip(weight.text)}" if isinstance(weight, Scalar) and weight.text else ""
        if self.reader.names.kinds.get(name.text) == "rating":
            part = f"{{rating: {clip(name.text)}{said}}}"
        else:
            part = f"{{measure: {clip(name.text)}{said}, curve: {CURVE.as_in}}}"
        expected = f"a list of parts for {self.fields.path('mix')}"
        self.reader.fault(mix.place, "weights by name", expected, f"As in `mix: [{part}, ...]`.")

    def _mix_part(self, item: Fields, taken: set[str]) -> Part | None:
        kinds = [kind for kind in ("measure", "rating", "score") if kind in item]
        if len(kinds) != 1:
            found = f"{' and '.join(kinds) or 'no measure, rating or score'} in {item.address}"
            self.reader.fault(item.place, found, "one of them")
            return None
        source = _source(self.reader, item.node_of(kinds[0]), (kinds[0],))
        if source is None:
            return None
        called = next(name for name in chain([source], (f"{source}_{n}" for n in count(2))) if name not in taken)
        taken.add(called)
        item.address = f"{self.fields.path('mix')}.{called}"
        curve = None
        if kinds[0] == "measure" or "curve" in item:
            item.required("curve")
            curve = self._curve(item, "curve")
            if curve is None:
                return None
        return made(MIX_PART, item, source=source, curve=curve)

    def _weights(self) -> Iterator[Part]:
        fields, node = self.fields, self.fields.node_of("weights")
        if node is None:
            return
        if not isinstance(node, Mapping):
            written = [item.text for item in getattr(node, "items", ()) if isinstance(item, Scalar)]
            hint = f"For equal weights write `parts: [{clip(', '.join(written))}]`." if written else ""
            self.reader.fault(node.place, f"{describe(node)} under weights", "`weights: {rating: weight, ...}`", hint)
            return
        weights = []
        for key, value in node.entries:
            source = _source(self.reader, key, ("rating", "score"))
            weight = self.reader.number(value, f"{fields.path('weights')}.{key.text}", least=0)
            if source and weight:
                weights.append(weight.value)
                yield self._part(source=source, curve=None, weight=weight, address=weight.address, place=key.place)
        if len(weights) == len(node.entries) and not any(weights):
            self.reader.fault(node.place, f"no weight above 0 in {fields.address}", "at least one")

    def _equal_parts(self) -> Iterator[Part]:
        """Parts of equal weight, as a list. A weight that is set turns the list into `weights` that name each part."""
        fields, reader = self.fields, self.reader
        nodes = reader.items(fields.node_of("parts"), fields.path("parts"), "names")
        if "parts" in fields and not nodes:
            reader.fault(fields.place, f"no parts in {fields.address}", "`parts: [NAME, ...]`")
        sources = [(_source(reader, node, ("rating", "score")), node) for node in nodes]
        known = [(source, node) for source, node in sources if source is not None]
        listed = [source for source, _ in known]
        span = fields.span("parts")
        for index, (source, node) in enumerate(known):
            if source in listed[:index]:
                reader.fault(node.place, f"`{source}` again in {fields.path('parts')}", "each part once")
                continue
            before = "".join(f"{other}: 1, " for other in listed[:index])
            after = "".join(f", {other}: 1" for other in listed[index + 1 :])
            spot = Spot(reader.source, *span, f"weights: {{{before}{source}: ", f"{after}}}", raw=True)
            address = f"{fields.path('weights')}.{source}"
            weight = Number(1.0, "1", address, node.place, spot)
            yield self._part(source=source, curve=None, weight=weight, address=address, place=node.place)

    def _numbers(self, blend: Choice | None) -> Iterator[tuple[str, Number]]:
        """The numbers that blends have of their own: what this one takes, and what one left behind that was set away."""
        taken = BLENDS[blend.value].numbers if blend is not None else ()
        for name, key in NUMBERS.items():
            if key in taken and key.kind.default is None:
                self.fields.required(name)
            if key not in taken and name in self.fields and self.reader.as_typed:
                self._fault_of_another(name, key, blend)
            number = read_key(key, self.fields) if key in taken or name in self.fields else None
            if number is not None:
                yield name, number

    def _fault_of_another(self, name: str, key: NumberKey, blend: Choice | None) -> None:
        """A number that only other blends take has no say: it was written for one that is not there."""
        fields = self.fields
        node = fields.node_of("blend")
        if node is not None and blend is not None and blend.place != node.place:
            return  # a blend that cannot be read is a fault already, and may be one of them
        takers = " or ".join(f"`blend: {other}`" for other, kind in BLENDS.items() if key in kind.numbers)
        hint = f"Write {takers}, which takes it, or leave the line out."
        if blend is None:
            found = f"`{name}` in {fields.address}, which blends no parts"
            hint = f"Leave the line out; it belongs to {takers}."
        elif node is None:
            found = f"`{name}` in {fields.address}, whose blend is a {blend.value} where none is written"
        else:
            found = f"`{name}` beside `blend: {blend.value}` in {fields.address}"
        self.reader.fault(fields.place_of(name), found, "no such key", hint)

    def _limits(self) -> Iterator[Limit]:
        taken: set[str] = set()
        address = self.fields.path("limits")
        for index, node in enumerate(self.reader.items(self.fields.node_of("limits"), address, "limits"), start=1):
            item = self.reader.noun(node, f"{address}.{index}", LIMIT)
            if item is not None:
                item.address = f"{address}.{self.reader.label(item, index, taken)}"
                limit = self._limit(item)
                if limit is not None:
                    yield limit

    def _limit(self, item: Fields) -> Limit | None:
        senses = [sense for sense in ("at_most", "at_least") if sense in item]
        ways = [way for way in ("when", "on") if way in item]
        if len(senses) != 1 or len(ways) != 1:
            expected = "one of at_most and at_least, and one of when and on"
            self.reader.fault(item.place, f"{', '.join(ways + senses) or 'neither'} in {item.address}", expected)
            return None
        sense = senses[0]
        when = bound = on = curve = None
        if ways[0] == "when":
            when, bound = read_key(LIMIT.fields["when"], item), item.number(sense)
        else:
            on = _source(self.reader, item.node_of("on"), ("rating", "score", "measure"))
            curve = self._curve(item, sense)
        if None in (when, bound) and None in (on, curve):
            return None
        return made(LIMIT, item, sense=sense, when=when, bound=bound, on=on, curve=curve)


def _source(reader: Reader, node: Node | None, kinds: tuple[str, ...]) -> str | None:
    if not isinstance(node, Scalar):
        if node is not None:
            reader.fault(node.place, "something that is no name", f"the name of a {' or '.join(kinds)}")
        return None
    name, known = node.text, reader.names.kinds
    if known.get(name) in kinds:
        return name
    is_what = f", which is a {known[name]}" if name in known else ""
    hint = nearest(name, [other for other, kind in known.items() if kind in kinds])
    if known.get(name) == "measure" and "rating" in kinds:
        rated = f"{name}_rating: {{measure: {name}, curve: {CURVE.as_in}}}"
        hint = f"Make a rating of it first, as in `{rated}` under `ratings`, and name that."
    reader.fault(node.place, f"`{clip(name)}`{is_what}", f"the name of a {' or '.join(kinds)}", hint)
    return None


def _read_missing(fields: Fields, sources: set[str] | None, blend: Choice | None) -> MissingRule:
    """The missing rule; `sources` are what it may need, None where nothing says what the output is made of."""
    node = fields.node_of("missing")
    own = fields.reader.noun(node, fields.path("missing"), MISSING)
    is_total = blend is not None and BLENDS[blend.value].weights is Weights.MULTIPLIERS
    if own is None:
        unsaid_rule = MissingRule(**all_unsaid(MISSING, fields, "missing"))
        absent = fields.default_choice(tuple(NOT_APPLICABLE), "missing", "not_applicable")
        return replace(unsaid_rule, not_applicable=absent if is_total else None)
    rule = made(MISSING, own)
    assert rule is not None  # none of its keys must be written
    if is_total and rule.not_applicable is None:
        rule = replace(rule, not_applicable=own.default_choice(tuple(NOT_APPLICABLE), "not_applicable"))
    _check_not_applicable(own, rule, blend, is_total=is_total)
    needs = own.node_of("needs")
    for name in rule.needs:
        if sources is not None and name not in sources and needs is not None:
            hint = nearest(name, sorted(sources))
            fields.reader.fault(needs.place, f"`{name}` in {own.path('needs')}", "a part of this output", hint)
    if rule.otherwise.value == "lowest" and "absent_above" not in own:
        return replace(rule, absent_above=own.default_number(1.0, "absent_above"))
    return rule


def _check_not_applicable(own: Fields, rule: MissingRule, blend: Choice | None, *, is_total: bool) -> None:
    """What is written for a total says nothing beside another blend; nor does any word where no parts are blended."""
    node, address = own.node_of("not_applicable"), own.path("not_applicable")
    if node is None or not own.reader.as_typed:
        return
    if blend is None:
        found, expected = f"`not_applicable` in {own.address}, which blends no parts", "no such key"
        own.reader.fault(node.place, found, expected, "Where what it is made from does not apply, it does not, either.")
    elif rule.leaves_out and not is_total:
        hint = "In a mean, what is left out leaves its weight to the rest: write `reweight`."
        own.reader.fault(node.place, f"`left out` for {address}, beside a {blend.value}", "absent or reweight", hint)
