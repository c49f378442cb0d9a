"""Reading a study file: what varies and how, every fault gathered with its line and column."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path

from analysis.study.building import bootstrap_move, noise_move
from analysis.study.default import TOP
from analysis.study.items import ItemReader
from analysis.study.moves import LeaveOutMove
from analysis.study.study import Move, Study
from scoring.catalogue import Catalogue
from scoring.document import MOST_CHARACTERS, Node, read_document
from scoring.errors import FormulaError, Place, Problem, StudyError, nearest
from scoring.form import Form
from scoring.reader.fields import Fields, Reader

KEYS = ("study", "note", "formula", "scores", "top", "beats", "vary", "correlations")
CORRELATION_KEYS = ("between", "correlation")


def load_study(path: Path, form: Form, catalogue: Catalogue) -> Study:
    """The study written in a file, for a formula and a catalogue.

    Raises
    ------
    StudyError
        Every fault of the file, each with its file, line and column.
    """
    try:
        raw = Path(path).read_bytes()
        text = raw.decode("utf-8-sig").replace("\r\n", "\n")
    except (OSError, UnicodeDecodeError) as fault:
        why = "not UTF-8 text" if isinstance(fault, UnicodeDecodeError) else fault.strerror or "cannot be read"
        raise StudyError([Problem(Place(str(path)), why, "a study file (YAML)")]) from None
    if len(text) > MOST_CHARACTERS:
        raise StudyError([Problem(Place(str(path)), f"{len(text)} characters", f"at most {MOST_CHARACTERS}")])
    return read_study(text, str(path), form, catalogue)


def read_study(text: str, source: str, form: Form, catalogue: Catalogue) -> Study:
    """The study written in a text.

    Raises
    ------
    StudyError
        Every fault of the text.
    """
    problems: list[Problem] = []
    try:
        study = _read(read_document(text, source), Reader(0, problems), text, source, form, catalogue)
    except FormulaError as fault:
        raise StudyError(fault.problems) from None
    if problems or study is None:
        raise StudyError(sorted(set(problems), key=lambda problem: problem.place))
    return study


def _read(root: Node, reader: Reader, text: str, source: str, form: Form, catalogue: Catalogue) -> Study | None:
    fields = reader.fields(root, "", KEYS, "a study")
    if fields is None:
        return None
    fields.required("study")
    fields.required("vary")
    _check_formula(reader, fields, form)
    moves, notes = _moves(reader, fields, form, catalogue)
    if not moves and not reader.problems:
        reader.fault(fields.place, "a study that varies nothing", "something under `vary`")
    names = {factor.name: factor.columns for move in moves for factor in move.factors}
    return Study(
        name=fields.text("study"),
        source=source,
        form=form,
        moves=tuple(moves),
        scores=_scores(reader, fields, form),
        top=_top(reader, fields, catalogue),
        pairs=_pairs(reader, fields, catalogue),
        correlations=_correlations(reader, fields, names),
        sha256=hashlib.sha256(text.encode()).hexdigest(),
        notes=tuple(notes),
    )


def _check_formula(reader: Reader, fields: Fields, form: Form) -> None:
    name, node = fields.text("formula"), fields.node_of("formula")
    if node is not None and name != form.name:
        reader.fault(node.place, f"a study of `{name}`", f"the formula it is run with, `{form.name}`")


def _scores(reader: Reader, fields: Fields, form: Form) -> tuple[str, ...]:
    known = [output.name for output in form.outputs]
    names = fields.words("scores") if "scores" in fields else ()
    for name in names:
        if name not in known:
            node = fields.node_of("scores")
            place = node.place if node is not None else fields.place
            reader.fault(place, f"`{name}` under scores", "the name of a score or rating", nearest(name, known))
    return names or tuple(output.name for output in form.scores or form.ratings)


def _top(reader: Reader, fields: Fields, catalogue: Catalogue) -> int:
    number = fields.number("top", default=TOP, least=1, most=len(catalogue.products))
    if number is None:
        return TOP
    if number.value != int(number.value):
        reader.fault(number.place, f"`top: {number.text}`", "a whole number of places")
    return int(number.value)


def _pairs(reader: Reader, fields: Fields, catalogue: Catalogue) -> tuple[tuple[str, str], ...]:
    pairs = []
    for node in reader.items(fields.node_of("beats"), "beats", "pairs of products"):
        ids = tuple(reader.text(item, "beats") for item in reader.items(node, "beats", "two product ids"))
        for product in ids:
            if product not in catalogue.products:
                hint = nearest(product, catalogue.products)
                reader.fault(node.place, f"`{product}` under beats", "a product of the catalogue", hint)
        if len(ids) != 2 or ids[0] == ids[1]:
            reader.fault(node.place, f"{len(ids)} ids under beats", "two different products, as [A-01, A-02]")
        else:
            pairs.append((ids[0], ids[1]))
    return tuple(pairs)


def _moves(reader: Reader, fields: Fields, form: Form, catalogue: Catalogue) -> tuple[list[Move], list[str]]:
    items = ItemReader(reader, form, catalogue)
    moves: list[Move] = []
    notes: list[str] = []
    for number, node in enumerate(reader.items(fields.node_of("vary"), "vary", "things that vary"), 1):
        item = reader.fields(node, f"vary.{number}", items.keys, "one thing that varies")
        if item is None:
            continue
        if "readings" in item:
            read, said = _readings(item, items, form, catalogue)
            moves += read
            notes += said
        else:
            moves += items.moves(item)
    return list(_each_once(reader, moves, fields)), notes


def _readings(item: Fields, items: ItemReader, form: Form, catalogue: Catalogue) -> tuple[list[Move], tuple[str, ...]]:
    items.only(item, "readings")
    how = item.choice("readings", ("repeatability", "bootstrap")).value
    wording = items.wording(item)
    if how == "bootstrap":
        move, notes = bootstrap_move(form, catalogue, wording)
        return [move], notes
    noise, notes = noise_move(form, catalogue, wording)
    if noise is None:
        expected = "a measure with a repeatability, stated or pooled from repeats"
        item.reader.fault(item.place, "no repeatability of any measure", expected)
        return [], notes
    return [noise], notes


def _each_once(reader: Reader, moves: list[Move], fields: Fields) -> Iterator[Move]:
    """The moves, those that leave parts out last; a thing that varies twice is a fault."""
    seen: set[str] = set()
    for move in moves:
        names = {factor.name for factor in move.factors}
        if not isinstance(move, LeaveOutMove):  # leaving a part out goes with any move of the weights
            names |= set(getattr(move, "addresses", ())) | {getattr(move, "address", move.factors[0].name)}
        for name in sorted(names & seen):
            node = fields.node_of("vary")
            place = node.place if node is not None else fields.place
            reader.fault(place, f"{name} twice under vary", "each thing that varies once")
        seen |= names
    yield from sorted(moves, key=lambda move: isinstance(move, LeaveOutMove))


def _correlations(reader: Reader, fields: Fields, columns: dict[str, int]) -> tuple[tuple[str, str, float], ...]:
    found = []
    for number, node in enumerate(reader.items(fields.node_of("correlations"), "correlations", "pairs"), 1):
        item = reader.fields(node, f"correlations.{number}", CORRELATION_KEYS, "a correlation")
        if item is None:
            continue
        names = item.words("between")
        value = item.number("correlation", least=-0.999, most=0.999)
        for name in names:
            if name not in columns:
                reader.fault(
                    item.place, f"`{name}` under correlations", "something that varies", nearest(name, columns)
                )
            elif columns[name] != 1:
                reader.fault(item.place, f"`{name}` under correlations", "a factor that is one number or choice")
        if len(names) != 2 or names[0] == names[1]:
            reader.fault(item.place, f"{len(names)} names under between", "two different things that vary")
        elif value is not None:
            found.append((names[0], names[1], value.value))
    return tuple(found)
