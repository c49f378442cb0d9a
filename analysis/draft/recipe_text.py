"""The text of a first recipe: how the files of a bench are read, every guess in it marked with what it rests on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from analysis.draft.cell_kinds import Gap, Kind, is_known_word, kind_of_text
from analysis.draft.findings import Findings, GapWord, MeasureFound, stem_of
from analysis.draft.marked import DECIDE, listed, marked, written
from analysis.draft.measured import Look
from analysis.draft.recipe_tables import Draft, entries, product_columns, table_lines, told_of
from analysis.wording import counted
from scoring.catalogue.by_recipe.header import header_name

HEAD = """\
# A first recipe, written by `steelyard new`: how the files are read. The files themselves stay as they are.
# What follows `guess:` was not known: look at each, change it, and take the mark away.
"""


def draft_recipe(draft: Draft) -> str:
    """A recipe for the tables, as YAML: what a human must decide stands first."""
    findings = draft.findings
    stem = stem_of(findings.looks[0].table.file)
    lines = [HEAD, f"readings: {written(stem)}"]
    lines += _words(findings.words)
    lines += _duplicates(findings)
    lines += _decimal(findings)
    lines += _product(findings.looks)
    lines += ["", "measures:", *_measures(draft), "", "tables:"]
    for number in entries(findings):
        lines += table_lines(draft, number)
    return "\n".join(lines).rstrip() + "\n"


def _decimal(findings: Findings) -> Iterator[str]:
    """What texts write between whole and part, where all tables that say it agree."""
    said = [one for one in findings.decimals if one.commas + one.points]
    if said and all(one.comma for one in said):
        commas, points = sum(one.commas for one in said), sum(one.points for one in said)
        yield marked("decimal: comma", f"{counted(commas, 'text')} with a comma, {points} with a point")


def _words(words: Sequence[GapWord]) -> Iterator[str]:
    """The words that mean no number, those to be decided first, each with the likelier of its meanings."""
    said = [one for one in words if not is_known_word(one.word) and not _has_digit(one.word)]
    by_key = {
        "missing": sorted((one for one in said if one.gap not in (Gap.APPLICABLE, Gap.BELOW)), key=_is_certain),
        "not_applicable": [one for one in said if one.gap is Gap.APPLICABLE],
        "below": [one for one in said if one.gap is Gap.BELOW],
    }
    if said:
        yield "words:"
    before = "  # missing: {}" if said else "# words: {{missing: {}}}"
    for key, own in by_key.items():
        if own:
            yield f"  {key}:"
        for one in own:
            yield marked(f"    - {written(one.word)}", _why(one))
        if key == "missing":
            yield from _no_numbers(words, "" if own else before)


def _no_numbers(words: Sequence[GapWord], before: str) -> Iterator[str]:
    """Cells with digits that are no number, such as `31.5*`: no recipe reads them, but a human may have them missing.

    before : the key that words for what is missing have at this place, "" where it stands above
    """
    own = [one for one in words if one.gap is None and not is_known_word(one.word) and _has_digit(one.word)]
    unread = [one for one in own if kind_of_text(one.word) is Kind.TEXT]
    if not unread:
        return
    away = "take the first `# ` away to read it as missing"
    if not before:
        for one in unread:
            because = f"{DECIDE}: {_where(one)}, is no number that can be read; {away}"
            yield marked(f"    # - {written(one.word)}", because)
        return
    told = "; ".join(map(_where, unread[:3])) + (f"; and {len(unread) - 3} more" if len(unread) > 3 else "")
    line = before.format(listed(one.word for one in unread))
    yield marked(line, f"{DECIDE}: {told}: no number that can be read; {away}")


def _is_certain(one: GapWord) -> bool:
    return one.gap not in (Gap.AVAILABLE, Gap.DETECTED)


def _why(one: GapWord) -> str:
    """Where a word stands, and what else it may mean."""
    if one.gap is Gap.AVAILABLE:
        return f'{DECIDE}: {_where(one)}; "not available", or does it mean `not_applicable`? Move it there'
    if one.gap is Gap.DETECTED:
        return f'{DECIDE}: {_where(one)}; "not determined", or "not detected"? Then it belongs under `below`'
    return _where(one) if one.gap else f"{_where(one)}; what it means is not known"


def _has_digit(word: str) -> bool:
    return any(sign.isdigit() for sign in word)


def _where(one: GapWord) -> str:
    between = "; " if any("," in cell for cell in one.cells[:3]) else ", "
    shown = between.join(one.cells[:3]) + (" ..." if len(one.cells) > 3 else "")
    return f"`{one.word}` in {counted(len(one.cells), 'cell')}, {shown}"


def _duplicates(findings: Findings) -> Iterator[str]:
    """What a second row of a product means: a human says it, but where most products have one, or an id has a slip."""
    usual = max((second.usual for second in findings.second), default=0)
    again = [one for second in findings.second for one in second.again if not one.slips]
    if usual:
        yield marked("duplicates: repeats", f"most products have {usual} rows")
    elif again:
        told = "; ".join(map(told_of, again[:3])) + (f"; and {len(again) - 3} more" if len(again) > 3 else "")
        yield marked("duplicates: fault", f"{DECIDE}: {told}. Write `repeats` or `specimens`, or `skip` a row below")


def _product(looks: Sequence[Look]) -> Iterator[str]:
    names = product_columns(looks)
    if len(set(names)) == 1:
        yield marked(f"product: {written(names[0])}", "its cells name the products")


def _measures(draft: Draft) -> Iterator[str]:
    for number, measure in enumerate(draft.findings.measures):
        yield f"  {draft.names[number]}: {_columns(measure)}"


def _columns(measure: MeasureFound) -> str:
    """Which columns hold a measure: one name where a recipe takes them all for it, else each."""
    first = measure.parts[0]
    if first.look.is_long:
        return f"{{column: {written(first.head.text)}}}"
    texts = list(dict.fromkeys(column.head.text for part in measure.parts for column in part.columns))
    read = [header_name(text) for text in texts]
    is_stated = all(name.unit for name in read) or first.look.extent.units
    unit = f", unit: {written(measure.unit)}" if measure.unit and not is_stated else ""
    names = {name.name for name in read}
    if len(names) == 1 and all(name.is_sound for name in read):
        return f"{{column: {written(names.pop())}{unit}}}"
    return f"{{columns: {listed(texts)}{unit}}}"
