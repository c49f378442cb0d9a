"""Reading a study file by its keys, each declared once: what varies and how, every fault gathered with its line and column."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

from analysis.study.consistency import Placed, check_together, least_eigenvalue
from analysis.study.default import TOP as DEFAULT_TOP
from analysis.study.items import Items, item_keys, moves_of
from analysis.study.keys import NAME, Amount, Defined, Keyed, Listed
from analysis.study.study import Move, Study
from scoring.catalogue import Catalogue
from scoring.declaration import Key
from scoring.errors import FormulaError, Place, Problem, StudyError, nearest
from scoring.form import Form
from scoring.reader.fields import Fields, Reader
from scoring.reader.wording import clip, describe
from scoring.texts.document import Mapping, Node, Scalar, Sequence, read_document
from scoring.texts.file_limits import FORMULA_BYTES, FORMULA_CHARACTERS
from scoring.texts.input_files import file_bytes
from scoring.units.role import UnitRole

#: Every item is tried on the formula, which takes its time.
MOST_ITEMS = 500
MOST_CORRELATED = 0.999
#: What the schema calls the definition of an item.
ITEM = "item"

TOP = Amount(UnitRole.COUNT, least=1, default=DEFAULT_TOP, whole=True)
COEFFICIENT = Amount(UnitRole.COEFFICIENT, least=-MOST_CORRELATED, most=MOST_CORRELATED)
PAIR = Listed(NAME, "`[product, product]`", fewest=2, most=2, once=True)
CORRELATION_KEYS = {
    "between": Key(
        Listed(NAME, "two things that vary", fewest=2, most=2, once=True),
        "The two, as `--resolved` calls them: each one number or choice.",
        "{between: [scores.two_abed.weights.edge, scores.two_abed.weights.quiet], correlation: 0.6}",
        required=True,
    ),
    "correlation": Key(
        COEFFICIENT,
        "Of the normal scores behind the two.",
        "{between: [scores.two_abed.weights.edge, scores.two_abed.weights.quiet], correlation: -0.3}",
        required=True,
    ),
}
STUDY_KEYS = {
    "study": Key(NAME, "The name of the study.", "study: judgement-and-bench", required=True),
    "note": Key(NAME, "A remark, for readers of the file.", "note: Ranges that the methods group agreed on."),
    "formula": Key(NAME, "The name of the formula that it is about; another is refused.", "formula: guest-bed"),
    "scores": Key(
        Listed(NAME, "a list of scores or ratings", fewest=1, once=True),
        "Which results are looked at; all scores by default, all ratings where there is no score.",
        "scores: [two_abed]",
    ),
    "top": Key(TOP, "How many places the top are, and no more than there are products.", "top: 3"),
    "beats": Key(
        Listed(PAIR, "a list of `[product, product]`"),
        "Pairs of which is asked whether the first stands above the second.",
        "beats: [[QB-029, QB-039]]",
    ),
    "vary": Key(
        Listed(Defined(ITEM), "a list of items", fewest=1, most=MOST_ITEMS),
        "What varies, and how: the items below.",
        "vary: [{weights: every score, factor: [0.7, 1.3]}]",
        required=True,
    ),
    "correlations": Key(
        Listed(Keyed(CORRELATION_KEYS), "a list of `{between: [...], correlation: ...}`"),
        "Which things that vary go together. What is not named is independent.",
        "correlations: [{between: [scores.two_abed.weights.edge, scores.two_abed.weights.quiet], correlation: 0.6}]",
    ),
}


def load_study(path: Path, form: Form, catalogue: Catalogue) -> Study:
    """The study written in a file, for a formula and a catalogue.

    Raises
    ------
    StudyError
        Every fault of the file, each with its file, line and column.
    """
    try:
        raw = file_bytes(Path(path), FORMULA_BYTES)
        text = raw.decode("utf-8-sig").replace("\r\n", "\n")
    except (OSError, UnicodeDecodeError) as fault:
        why = "not UTF-8 text" if isinstance(fault, UnicodeDecodeError) else fault.strerror or "cannot be read"
        raise StudyError([Problem(Place(str(path)), why, "a study file (YAML)")]) from None
    if len(text) > FORMULA_CHARACTERS:
        raise StudyError([Problem(Place(str(path)), f"{len(text)} characters", f"at most {FORMULA_CHARACTERS}")])
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
        raise StudyError(_of_a_study(problem) for problem in fault.problems) from None
    if problems or study is None:
        raise StudyError(sorted(dict.fromkeys(problems), key=lambda problem: problem.place))
    return study


def _of_a_study(problem: Problem) -> Problem:
    """What the reader of documents says of an empty file, said of a study."""
    if problem.found != "an empty file":
        return problem
    return replace(problem, expected="a study", hint="Start with `study: NAME`.")


def _fields_of(reader: Reader, root: Node) -> Fields | None:
    """The fields of the whole study; None, and a fault, where it is no mapping."""
    if not isinstance(root, Mapping):
        reader.fault(root.place, describe(root), "a study as a mapping of keys")
        return None
    written = [key.text for key, _ in root.entries]
    for key in (key for key, _ in root.entries if key.text not in STUDY_KEYS):
        hint = nearest(key.text, STUDY_KEYS)
        reader.fault(key.place, f"the key `{clip(key.text)}` in the study", "a known key", hint)
    for name, declared in STUDY_KEYS.items():
        if declared.required and name not in written:
            reader.fault(root.place, f"no `{name}` in the study", f"`{name}: ...`")
    return Fields(reader, root, "")


def _read(root: Node, reader: Reader, text: str, source: str, form: Form, catalogue: Catalogue) -> Study | None:
    fields = _fields_of(reader, root)
    if fields is None:
        return None
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
    if isinstance(node, Scalar) and name != form.name:
        reader.fault(node.place, f"a study of `{name}`", f"the formula it is run with, `{form.name}`")


def _scores(reader: Reader, fields: Fields, form: Form) -> tuple[str, ...]:
    known = [output.name for output in form.outputs]
    node, names = fields.node_of("scores"), fields.words("scores")
    for name in names:
        if name not in known:
            hint = nearest(name, known)
            place = node.place if node is not None else fields.place
            reader.fault(place, f"`{clip(name)}` under scores", "the name of a score or rating", hint)
    if isinstance(node, Sequence) and len(set(names)) < max(1, len(names)):
        reader.fault(node.place, f"{len(names)} names under scores", "one or more, each once")
    return names or tuple(output.name for output in form.scores or form.ratings)


def _top(reader: Reader, fields: Fields, catalogue: Catalogue) -> int:
    number = TOP.read(fields, "top", most=len(catalogue.products))
    if number is None:
        return DEFAULT_TOP
    if number.value != int(number.value):
        reader.fault(number.place, f"`top: {number.text}`", "a whole number of places")
    return int(number.value)


def _pairs(reader: Reader, fields: Fields, catalogue: Catalogue) -> tuple[tuple[str, str], ...]:
    pairs = []
    for node in reader.items(fields.node_of("beats"), "beats", "pairs of products"):
        ids = tuple(reader.text(item, "beats") for item in reader.items(node, "beats", "two product ids"))
        for product in ids:
            if product not in catalogue.products:
                hint = catalogue.hint_at(product)
                reader.fault(node.place, f"`{clip(product)}` under beats", "a product of the catalogue", hint)
        if not isinstance(node, Sequence):
            continue
        if len(ids) != 2 or ids[0] == ids[1]:
            reader.fault(node.place, f"{len(ids)} ids under beats", "two different products, as [A-01, A-02]")
        else:
            pairs.append((ids[0], ids[1]))
    return tuple(pairs)


def _moves(reader: Reader, fields: Fields, form: Form, catalogue: Catalogue) -> tuple[list[Move], list[str]]:
    """The moves, those that leave parts out last, and what is to be said of them."""
    items, known = Items(reader, form, catalogue), item_keys()
    placed: list[Placed] = []
    nodes = reader.items(fields.node_of("vary"), "vary", "things that vary")
    if len(nodes) > MOST_ITEMS:
        reader.fault(nodes[MOST_ITEMS].place, f"{len(nodes)} items under vary", f"at most {MOST_ITEMS}")
    for number, node in enumerate(nodes[:MOST_ITEMS], 1):
        item = reader.fields(node, f"vary.{number}", known, "one thing that varies")
        if item is None:
            continue
        before = len(reader.problems)
        moves = list(moves_of(items, item))
        if not moves and len(reader.problems) == before:
            reader.fault(item.place, f"{item.address}, which moves nothing", "something that the formula has")
        placed += [Placed(item.place, move) for move in moves]
    check_together(reader, form, placed)
    return sorted((one.move for one in placed), key=lambda move: bool(move.leaves_out)), items.notes


def _correlations(reader: Reader, fields: Fields, columns: dict[str, int]) -> tuple[tuple[str, str, float], ...]:
    found: dict[frozenset[str], tuple[str, str, float]] = {}
    listed = fields.node_of("correlations")
    for number, node in enumerate(reader.items(listed, "correlations", "pairs"), 1):
        item = reader.fields(node, f"correlations.{number}", CORRELATION_KEYS, "a correlation")
        if item is None:
            continue
        before = len(reader.problems)
        item.required("between")
        names = item.words("between")
        value = COEFFICIENT.read(item, "correlation")
        _check_correlated(reader, item, names, columns)
        if frozenset(names) in found:
            reader.fault(item.place, f"{' and '.join(names)} correlated twice", "each pair once")
        elif value is not None and len(reader.problems) == before:
            found[frozenset(names)] = (names[0], names[1], value.value)
    least = least_eigenvalue(columns, tuple(found.values()))
    if listed is not None and least < 0:
        said = f"correlations that contradict each other (the least eigenvalue of their matrix is {least:.3g})"
        reader.fault(listed.place, said, "correlations that things can have together, no eigenvalue below 0")
    return tuple(found.values())


def _check_correlated(reader: Reader, item: Fields, names: tuple[str, ...], columns: dict[str, int]) -> None:
    node = item.node_of("between")
    if node is None:
        return
    for name in names:
        if name not in columns:
            hint = nearest(name, columns)
            reader.fault(node.place, f"`{clip(name)}` under correlations", "something that varies", hint)
        elif columns[name] != 1:
            reader.fault(node.place, f"`{name}` under correlations", "a factor that is one number or choice")
    if isinstance(node, Sequence) and (len(names) != 2 or names[0] == names[1]):
        said = "one name twice" if len(names) == 2 else f"{len(names)} names"
        reader.fault(node.place, f"{said} under between", "two different things that vary")
