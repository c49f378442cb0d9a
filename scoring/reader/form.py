"""Reading a whole formula: its own text, and the neighbour it takes measures from, into one form."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import zip_longest
from pathlib import Path

from scoring.errors import FormulaError, Place, Problem, nearest
from scoring.form import (
    FORM,
    SECTIONS,
    TAKES,
    Attribute,
    ErrorCorrelation,
    Form,
    Measure,
    Number,
    Output,
    Ranks,
    Takes,
)
from scoring.reader.bands import read_edges
from scoring.reader.declared import made, read_key
from scoring.reader.error_correlations import check_error_correlations, read_error_correlations
from scoring.reader.fields import NAME, Fields, Names, Reader
from scoring.reader.output import Published, read_outputs
from scoring.reader.scale import read_scale
from scoring.reader.sections import check_roles, read_attributes, read_checklist, read_gates, read_measures
from scoring.reader.sources import Written, load_written, sources_sha256
from scoring.reader.wording import clip
from scoring.texts.document import Node, read_document
from scoring.texts.source import Source

TAKEN = tuple(SECTIONS.means)


def read_form(path: Path) -> Form:
    """The form written in a formula file, with what it takes from a neighbour.

    Raises
    ------
    FormulaError
        Every fault of the files, each with its file, line and column.
    """
    return _form_of(load_written(path), as_typed=True)


def read_sources(sources: Sequence[Source], documents: Sequence[Node | None] = ()) -> Form:
    """The form written in the given texts: a formula, and the neighbour that it takes from, if any.

    Settings may have been made in these texts: a number that stands there for another blend is no fault, as it is in a file.

    Parameters
    ----------
    documents : what the texts are read as, where that is known; None for one that is not

    Raises
    ------
    FormulaError
        Every fault of the texts.
    """
    problems: list[Problem] = []
    written: list[Written] = []
    for source, known in zip_longest(sources, documents):
        try:
            written.append(Written(source, known or read_document(source.text, source.name)))
        except FormulaError as fault:
            problems += fault.problems
    if problems:
        raise FormulaError(problems)
    return _form_of(written, as_typed=False)


def _form_of(written: Sequence[Written], *, as_typed: bool) -> Form:
    problems: list[Problem] = []
    form = _Sections(written, problems, as_typed=as_typed).form()
    if problems or form is None:
        raise FormulaError(sorted(set(problems), key=lambda problem: problem.place))
    # kept with the form as if it had been asked for: the texts are not read again
    vars(form)["documents"] = tuple(one.root for one in written)
    return form


class _Sections:
    """The sections of a formula and its neighbour, read in the order in which they need each other."""

    def __init__(self, written: Sequence[Written], problems: list[Problem], *, as_typed: bool) -> None:
        self.sources = tuple(one.source for one in written)
        self.problems = problems
        self.as_typed = as_typed
        self.own = Reader(0, problems, as_typed=as_typed)
        self.fields = self.own.noun(written[0].root, "", FORM)
        self.taken: Fields | None = None
        self.takes: Takes | None = None
        self.taken_sections: tuple[str, ...] = ()
        if self.fields is not None and len(written) > 1:
            self._take(written[1].root)

    def _take(self, root: Node) -> None:
        assert self.fields is not None  # only called where it is there
        takes = self.own.noun(self.fields.node_of("takes"), "takes", TAKES)
        self.taken = Reader(1, self.problems, as_typed=self.as_typed).noun(root, "", FORM)
        if takes is None or self.taken is None:
            return
        said = made(TAKES, takes)
        assert said is not None  # the neighbour was found by its file
        self.takes, self.taken_sections = said, said.sections or SECTIONS.default
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
        name = read_key(FORM.fields["name"], fields)
        scale = read_scale(fields, None)
        bands = read_edges(self.own, fields.node_of("bands"), "bands")
        constants = tuple(self._constants())
        attributes = tuple(self._attributes())
        measures = tuple(m for reader, node in self._nodes("measures") for m in read_measures(reader, node))
        check_roles(self.own, attributes, measures)
        self._name(constants, {a.name: a.values for a in attributes}, measures)
        ranks = read_key(FORM.fields["ranks"], fields)  # which may name an attribute
        published = Published(scale, ranks, bands)
        outputs: dict[str, tuple[Output, ...]] = {}
        for section in ("ratings", "scores"):
            outputs[section] = tuple(
                output
                for reader, node in self._nodes(section)
                for output in read_outputs(reader, node, section, published)
            )
        self._check_classes((ranks, *(output.ranks for own in outputs.values() for output in own)), attributes)
        if not (outputs["ratings"] or outputs["scores"]) and not self.problems:
            self.own.fault(fields.place, "neither ratings nor scores", "at least one of them")
        return made(
            FORM,
            fields,
            name=name,
            title=fields.text("title", name),
            takes=self.takes,
            scale=scale,
            ranks=ranks,
            bands=bands,
            constants=constants,
            attributes=attributes,
            measures=measures,
            error_correlations=self._error_correlations(measures),
            ratings=outputs["ratings"],
            scores=outputs["scores"],
            gates=tuple(read_gates(self.own, fields.node_of("gates"), outputs["scores"] or outputs["ratings"])),
            checklist=tuple(read_checklist(self.own, fields.node_of("checklist"))),
            sources=self.sources,
            sha256=sources_sha256(self.sources),
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

    def _check_classes(self, every: Sequence[Ranks], attributes: Sequence[Attribute]) -> None:
        """Places within classes would publish a word that is not to be published."""
        private = {attribute.name for attribute in attributes if not attribute.public}
        for within in {ranks.within for ranks in every if ranks.classes in private}:
            found = f"`{within.value}` for {within.address}, an attribute with `public: no`"
            hint = "Places within its words would publish them."
            self.own.fault(within.place, found, "an attribute that is published", hint)

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

    def _name(
        self, constants: Sequence[tuple[str, Number]], words: dict[str, tuple[str, ...]], measures: Sequence[Measure]
    ) -> None:
        """Every name and what it is, for all that follows; a name that is used twice is a problem."""
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
        self.own.names = Names(kinds, words)
        if self.taken is not None:
            self.taken.reader.names = self.own.names

    def _claim(
        self, kinds: dict[str, str], words: dict[str, tuple[str, ...]], name: str, kind: str, place: Place
    ) -> None:
        other = kinds.get(name) or ("attribute" if name in words else None)
        if other is not None:
            found = f"the name `{name}` for a {kind} and a{'n' if other[0] in 'aeiou' else ''} {other}"
            self.own.fault(place, found, "a name that means one thing", f"Call the {kind} {name}_{kind}, say.")
        kinds.setdefault(name, kind)
