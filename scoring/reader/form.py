"""Reading a whole formula: its own text, and the neighbour it takes measures from, into one form."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path

from scoring.document import Node, Scalar, read_document
from scoring.errors import FormulaError, Place, Problem, nearest
from scoring.expression import STATISTICS
from scoring.form import Attribute, Band, ErrorCorrelation, Form, Gate, Measure, Number, Output, Ranks, Term
from scoring.reader import keys, options
from scoring.reader.checklist import read_checklist
from scoring.reader.error_correlations import check_error_correlations, read_error_correlations
from scoring.reader.fields import NAME, Fields, Names, Reader
from scoring.reader.measure import read_attributes, read_column, read_measures
from scoring.reader.output import read_outputs
from scoring.reader.scale import read_scale
from scoring.reader.sources import TOP_KEYS, load_sources, sources_sha256
from scoring.reader.wording import clip
from scoring.source import Source

TAKEN = tuple(options.TAKEN)
RANK_KEYS = tuple(keys.RANKS)
RANKS_ON = tuple(options.RANKS_ON)
TIES = tuple(options.TIES)
BEST = tuple(options.BEST)
BANDS_ON = tuple(options.BANDS_ON)
UNKNOWN = tuple(options.UNKNOWN)
GATE_KEYS = tuple(keys.GATE)
GUARD = re.compile(r"(?P<number>[0-9.eE+-]+)(?P<unit>\s*u)")


def read_form(path: Path) -> Form:
    """The form written in a formula file, with what it takes from a neighbour.

    Raises
    ------
    FormulaError
        Every fault of the files, each with its file, line and column.
    """
    return read_sources(load_sources(path))


def read_sources(sources: Sequence[Source]) -> Form:
    """The form written in the given texts: a formula, and the neighbour that it takes from, if any.

    Raises
    ------
    FormulaError
        Every fault of the texts.
    """
    problems: list[Problem] = []
    roots: list[Node] = []
    for source in sources:
        try:
            roots.append(read_document(source.text, source.name))
        except FormulaError as fault:
            problems += fault.problems
    if problems:
        raise FormulaError(problems)
    form = _Sections(sources, roots, problems).form()
    if problems or form is None:
        raise FormulaError(sorted(set(problems), key=lambda problem: problem.place))
    return form


class _Sections:
    """The sections of a formula and its neighbour, read in the order in which they need each other."""

    def __init__(self, sources: Sequence[Source], roots: Sequence[Node], problems: list[Problem]) -> None:
        self.sources = tuple(sources)
        self.problems = problems
        self.own = Reader(0, problems)
        self.fields = self.own.fields(roots[0], "", TOP_KEYS, "a formula")
        self.taken: Fields | None = None
        self.taken_sections: tuple[str, ...] = ()
        if self.fields is not None and len(roots) > 1:
            self._take(roots[1])

    def _take(self, root: Node) -> None:
        assert self.fields is not None  # only called where it is there
        takes = self.own.fields(self.fields.node_of("takes"), "takes", tuple(keys.TAKES), "`takes`")
        self.taken = Reader(1, self.problems).fields(root, "", TOP_KEYS, "a formula")
        if takes is None or self.taken is None:
            return
        self.taken_sections = takes.words("sections") or ("constants", "attributes", "measures")
        for name in self.taken_sections:
            if name not in TAKEN:
                expected = "one of " + ", ".join(TAKEN)
                self.own.fault(takes.place, f"the section `{clip(name)}` under takes", expected, nearest(name, TAKEN))
        if "takes" in self.taken:
            self.own.fault(takes.place, "a neighbour that itself takes from a file", "one step only")

    def _nodes(self, section: str) -> Iterator[tuple[Reader, Node | None]]:
        """The section in the neighbour, where it is taken, then in the formula itself."""
        if self.taken is not None and section in self.taken_sections:
            node = self.taken.node_of(section)
            if node is None:
                self.own.fault(self.taken.place, f"no `{section}`", f"`{section}`, which the formula takes from here")
            yield self.taken.reader, node
        assert self.fields is not None  # read before any section
        yield self.own, self.fields.node_of(section)

    def form(self) -> Form | None:
        fields = self.fields
        if fields is None:
            return None
        hint = "Its first line names it, as in `formula: beds`."
        name = fields.text("formula") if fields.required("formula", hint) is not None else ""
        scale = read_scale(self.own, fields, None)
        constants = tuple(self._constants())
        attributes = tuple(self._attributes())
        measures = tuple(m for reader, node in self._nodes("measures") for m in read_measures(reader, node))
        names = self._names(constants, {a.name: a.values for a in attributes}, measures)
        outputs: dict[str, tuple[Output, ...]] = {}
        for section in ("ratings", "scores"):
            outputs[section] = tuple(
                output
                for reader, node in self._nodes(section)
                for output in read_outputs(reader, node, section, names, scale)
            )
        if not (outputs["ratings"] or outputs["scores"]) and not self.problems:
            self.own.fault(fields.place, "neither ratings nor scores", "at least one of them")
        return Form(
            name=name,
            version=fields.text("version"),
            title=fields.text("title", name),
            note=fields.text("note"),
            scale=scale,
            ranks=self._ranks(fields),
            bands=tuple(self._bands(fields)),
            bands_on=fields.choice("bands_on", BANDS_ON),
            constants=constants,
            attributes=attributes,
            measures=measures,
            error_correlations=self._error_correlations(measures),
            ratings=outputs["ratings"],
            scores=outputs["scores"],
            gates=tuple(self._gates(fields, names, outputs["scores"] or outputs["ratings"])),
            cautions=fields.words("cautions"),
            sources=self.sources,
            sha256=sources_sha256(self.sources),
            checklist=tuple(read_checklist(self.own, fields.node_of("checklist"))),
            product_column=read_column(self.own, fields, "product_column"),
            renamed=(*(self.taken.reader.renamed if self.taken is not None else ()), *self.own.renamed),
        )

    def _attributes(self) -> Iterator[Attribute]:
        taken: set[str] = set()
        for reader, node in self._nodes("attributes"):
            for attribute in read_attributes(reader, node):
                if attribute.name in taken:
                    found = f"the attribute `{attribute.name}` again, which the formula takes from its neighbour"
                    reader.fault(attribute.place, found, "a name that means one thing")
                taken.add(attribute.name)
                yield attribute

    def _constants(self) -> Iterator[tuple[str, Number]]:
        for reader, node in self._nodes("constants"):
            for key, value, address in reader.named(node, "constants", "constants"):
                number = reader.number(value, address)
                if number is not None:
                    yield key.text, number

    def _error_correlations(self, measures: Sequence[Measure]) -> tuple[ErrorCorrelation, ...]:
        found = tuple(
            correlation
            for reader, node in self._nodes("error_correlations")
            for correlation in read_error_correlations(reader, node, measures)
        )
        check_error_correlations(self.own, found)
        return found

    def _names(
        self,
        constants: Sequence[tuple[str, Number]],
        words: dict[str, tuple[str, ...]],
        measures: Sequence[Measure],
    ) -> Names:
        """Every name and what it is; a name that is used twice is a problem."""
        kinds: dict[str, str] = {}
        for name, number in constants:
            self._claim(kinds, words, name, "constant", number.place)
        for measure in measures:
            self._claim(kinds, words, measure.name, "measure", measure.place)
        for section, kind in (("ratings", "rating"), ("scores", "score")):
            for _, node in self._nodes(section):
                for key, _ in getattr(node, "entries", ()):
                    if NAME.fullmatch(key.text):
                        self._claim(kinds, words, key.text, kind, key.place)
        return Names(kinds, words)

    def _claim(
        self, kinds: dict[str, str], words: dict[str, tuple[str, ...]], name: str, kind: str, place: Place
    ) -> None:
        other = kinds.get(name) or ("attribute" if name in words else None)
        if other is not None:
            found = f"the name `{name}` for a {kind} and a{'n' if other[0] in 'aeiou' else ''} {other}"
            self.own.fault(place, found, "a name that means one thing", f"Call the {kind} {name}_{kind}, say.")
        kinds.setdefault(name, kind)

    def _ranks(self, fields: Fields) -> Ranks:
        own = self.own.fields(fields.node_of("ranks"), "ranks", RANK_KEYS, "the rank rule")
        if own is None:
            return Ranks(
                fields.default_choice(RANKS_ON, "ranks", "on"),
                fields.default_choice(TIES, "ranks", "ties"),
                fields.default_choice(BEST, "ranks", "best"),
            )
        return Ranks(own.choice("on", RANKS_ON), own.choice("ties", TIES), own.choice("best", BEST))

    def _bands(self, fields: Fields) -> Iterator[Band]:
        node = fields.node_of("bands")
        own = self.own.fields(node, "bands", [k.text for k, _ in getattr(node, "entries", ())], "bands")
        bands = []
        for key, value in own.node.entries if own is not None else ():
            if not key.text.strip() or "=" in key.text:
                self.own.fault(key.place, f"the name `{clip(key.text)}` of a band", "a name without `=`")
            edge = self.own.number(value, f"bands.{key.text}")
            if edge is not None:
                bands.append(Band(key.text.strip(), edge))
        bands.sort(key=lambda band: band.edge.value)
        for below, above in pairwise(bands):
            if below.edge.value == above.edge.value:
                found = f"the bands `{below.name}` and `{above.name}` both from {above.edge.text}"
                self.own.fault(above.edge.place, found, "a different lower edge for each band")
        yield from bands

    def _gates(self, fields: Fields, names: Names, outputs: tuple[Output, ...]) -> Iterator[Gate]:
        taken: set[str] = set()
        for index, node in enumerate(self.own.items(fields.node_of("gates"), "gates", "gates"), start=1):
            item = self.own.fields(node, f"gates.{index}", GATE_KEYS, "a gate")
            if item is not None:
                name = self.own.label(item, index, taken)
                yield from self._gate(item, name, names, tuple(output.name for output in outputs))

    def _gate(self, item: Fields, name: str, names: Names, outputs: tuple[str, ...]) -> Iterator[Gate]:
        item.address = f"gates.{name}"
        node = item.required("when")
        when = self.own.expression(node, item.path("when"), names, condition=True) if node is not None else None
        if not {"withhold", "remark"} & {key.text for key, _ in item.node.entries}:
            self.own.fault(
                item.place, f"a gate that does nothing ({item.address})", "`withhold: why` or `remark: text`"
            )
        if "guard" in item and "near" not in item:
            self.own.fault(item.place, f"`guard` without `near` in {item.address}", "`near: what to say`")
        chosen = item.words("scores")
        for output in chosen:
            if output not in outputs:
                self.own.fault(item.place, f"`{output}` in {item.path('scores')}", "a score", nearest(output, outputs))
        guard = self._guard(item)
        if when is not None:
            if guard is not None and (len(when.names) != 1 or names.kinds.get(when.names[0]) != "measure"):
                self.own.fault(item.place, f"`guard` in {item.address}", "a condition on one measure")
            elif guard is not None and _leans(when.term):
                self.own.fault(
                    item.place, f"`guard` in {item.address}", "a condition without statistics of the catalogue"
                )
            yield Gate(
                name,
                when,
                guard,
                item.text("withhold"),
                item.text("remark"),
                item.text("near"),
                item.text("missing"),
                item.choice("unknown", UNKNOWN),
                chosen,
                item.address,
                item.place,
            )

    def _guard(self, item: Fields) -> Number | None:
        """The guard band: a number of standard uncertainties, written `1.645 u`."""
        node = item.node_of("guard")
        if node is None:
            return None
        match = GUARD.fullmatch(node.text.strip()) if isinstance(node, Scalar) else None
        if match is None or not isinstance(node, Scalar) or node.quoted:
            self.own.fault(node.place, "a guard without its unit", "a number of standard uncertainties, as `1.645 u`")
            return None
        inner = Scalar(match["number"], False, node.place, node.start, node.start + len(match["number"]))
        return self.own.number(inner, item.path("guard"), above=0)


def _leans(term: Term) -> bool:
    """Whether an expression leans on a statistic of the catalogue."""
    return term.op in STATISTICS or any(_leans(arg) for arg in term.args if isinstance(arg, Term))
