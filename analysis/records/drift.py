"""Drift: what differs between two states of a publication, each difference in words, by product, measure, score or address."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby, zip_longest
from typing import Any

from analysis.cautions import CAUTIONS, EARLIER
from analysis.changes.changes import changes
from analysis.records.record import Finding, Sections, near
from analysis.records.sections import BELOW, Cell, same_cell, same_cells
from analysis.wording import some
from scoring.catalogue import roles_of
from scoring.catalogue.as_read import Said
from scoring.form import Form, named_words
from scoring.numbers.rounding import show
from scoring.renamed import remark_today, settings_today, with_later_keys

ABSENT = "–"
#: What a double holds of any decimal: more digits are the dust of binary arithmetic, far below what counts as a drift.
DIGITS = 15
#: Characters of a name that a line or a table shows; the ends of a longer one are shown.
LONGEST = 40


def plain(figure: float | str | None) -> str:
    """A figure or a word as it stands, a dash for none."""
    if figure is None or figure == "":
        return ABSENT
    if isinstance(figure, str):
        return figure
    text = f"{figure:.17g}" if isinstance(figure, int) else repr(figure)
    return text if len(text) <= DIGITS else f"{figure:.{DIGITS}g}"


def as_shown(shown: float | None, step: float) -> str:
    """A shown figure with the decimals of its step; as it stands where it is no multiple of that, a dash for none."""
    try:
        return ABSENT if shown is None else show(shown, step)
    except ValueError:
        return plain(shown)


def shortened(name: str) -> str:
    """A name in at most `LONGEST` characters, by its two ends."""
    half = LONGEST // 2
    return name if len(name) <= LONGEST else f"{name[: half - 1]}…{name[-half:]}"


#: Repeats of one reading that a line names.
MOST_REPEATS = 4
STANDING = ("value", "shown", "rank", "band", "status", "remarks")


def formula_drift(old: Form, new: Form) -> tuple[Finding, ...]:
    """Every change of the formula, in words."""
    found = changes(old, new)
    return tuple(Finding("formula", f"{one.says} (at {one.at})", before=one.before, after=one.after) for one in found)


def address_drift(old: Mapping[str, str], new: Mapping[str, str]) -> tuple[Finding, ...]:
    """Addresses where something else stands; told where two forms have no `changes`: defaults of two tools may differ."""
    old, new = settings_today(old), settings_today(new)
    old = with_later_keys(old, new)
    return tuple(
        Finding(
            "formula",
            f"{address}: {plain(old.get(address))} -> {plain(new.get(address))}",
            before=old.get(address),
            after=new.get(address),
        )
        for address in dict.fromkeys((*old, *new))
        if old.get(address) != new.get(address)
    )


def data_drift(old: Sections, new: Sections, units: Mapping[str, str]) -> tuple[Finding, ...]:
    """Products gone and added; attributes and readings that differ, by product and measure."""
    before, after = _by_id(old["readings"]), _by_id(new["readings"])
    found = [Finding("product", f"{product} is gone", product=product) for product in before if product not in after]
    found += (Finding("product", f"{product} was added", product=product) for product in after if product not in before)
    for product in before:
        if product in after and before[product] != after[product]:
            found += _attributes(product, before[product]["attributes"], after[product]["attributes"])
            found += _readings(product, before[product]["measures"], after[product]["measures"], units)
    return tuple(found)


def names_apart(found: Iterable[Finding], form: Form) -> tuple[Finding, ...]:
    """The findings with a changed name or maker told apart from the data that figures rest on, where no condition goes by it."""
    roles = roles_of(form)
    said = {roles.name: "called", roles.maker: "made by"}
    free = {role: words for role, words in said.items() if role and not named_words(form, role)}
    return tuple(
        _called(one, free[one.measure]) if one.kind == "data" and one.measure in free else one for one in found
    )


def _called(one: Finding, words: str) -> Finding:
    before, now = plain(one.before), plain(one.after)
    return replace(one, kind="name", says=f"{one.product}: published as {words} {before}, now {words} {now}")


def _by_id(products: Sequence[Mapping[str, Any]]) -> dict[str, Mapping[str, Any]]:
    return {product["id"]: product for product in products}


def _attributes(product: str, old: Mapping[str, str], new: Mapping[str, str]) -> Iterator[Finding]:
    """Attributes of both; that one was declared or dropped is a change of the formula."""
    for name in (name for name in old if name in new):
        if old[name] != new[name]:
            says = f"{product}, {name}: {plain(old[name])} -> {plain(new[name])}"
            yield Finding("data", says, product=product, measure=name, before=old[name], after=new[name])


def _readings(
    product: str, old: Mapping[str, Any], new: Mapping[str, Any], units: Mapping[str, str]
) -> Iterator[Finding]:
    """Measures of both; that one was declared or dropped is a change of the formula."""
    for name in (name for name in old if name in new):
        yield from _conditions(product, name, old[name], new[name])
        if same_cells(old[name], new[name]):
            continue
        unit = f" {units[name]}" if units.get(name, "1") != "1" else ""
        ends = _reading(old[name], unit), _reading(new[name], unit)
        moved = f"{ends[0]} as before" if ends[0] == ends[1] else f"{ends[0]} -> {ends[1]}"
        says = f"{product}, {name}: {moved} ({_repeats(old[name], new[name])})"
        yield Finding("data", says, product=product, measure=name, before=old[name], after=new[name])


def _conditions(product: str, name: str, old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Finding]:
    """Sessions and specimens of both; that one was declared or dropped is a change of the formula."""
    for key in ("sessions", "specimens"):
        if old.get(key) is not None and new.get(key) is not None and old[key] != new[key]:
            says = f"{product}, {name}: {key} {_in_runs(old[key])} -> {_in_runs(new[key])}"
            yield Finding("data", says, product=product, measure=name, before=old, after=new)


def _in_runs(names: Sequence[str]) -> str:
    """Names in their order, repeats of one in a row counted: S1, S2 (3 times); none for what has no name."""
    runs = [(name or "none", len(list(run))) for name, run in groupby(names)]
    return ", ".join(name if count == 1 else f"{name} ({count} times)" for name, count in runs)


def _reading(reading: Mapping[str, Any], unit: str) -> str:
    """The summarised value. One repeat below the limit makes it below: of several, nothing is said of the others."""
    value, state = reading["value"], reading["state"]
    if value is None:
        return str(state)
    several = sum(not isinstance(cell, str) or cell.startswith(BELOW) for cell in _present(reading["repeats"])) > 1
    words = " (with readings below the reporting limit)" if several else " (below the reporting limit)"
    return f"{value:.6g}{unit}" + (words if state == "below" else "")


def _present(repeats: Sequence[Cell] | None) -> list[float | str]:
    return [cell for cell in repeats or () if cell is not None]


def _repeats(old: Mapping[str, Any], new: Mapping[str, Any]) -> str:
    """The repeats that differ, the first few of them."""
    if old["repeats"] is None or new["repeats"] is None:
        return "a column for it came" if old["repeats"] is None else "its column is gone"
    differ = [
        f"#{number} {_cell(*before)} -> {_cell(*after)}"
        for number, (before, after) in enumerate(zip_longest(_told(old), _told(new), fillvalue=(None, None)), start=1)
        if not same_cell(before[0], after[0])
    ]
    return ("repeats " if len(differ) > 1 else "repeat ") + some(differ, MOST_REPEATS)


def _told(reading: Mapping[str, Any]) -> Iterator[tuple[Cell, Mapping[str, Any] | None]]:
    """Each repeat with what its cell says where it was converted."""
    return zip_longest(reading["repeats"], reading.get("as_read", ()))


def _cell(cell: Cell, as_read: Mapping[str, Any] | None) -> str:
    if cell is None:
        return "none"
    beside = f" ({Said(**as_read)})" if as_read else ""
    if isinstance(cell, str):
        return ("below the reporting limit" if cell == BELOW else cell) + beside
    return f"{cell:.10g}{beside}"


def reference_drift(old: Sections, new: Sections) -> tuple[Finding, ...]:
    """Statistics of the catalogue that live references and expressions lean on."""
    before, after = ({_statistic(one): one["value"] for one in side["reference"]} for side in (old, new))
    found = []
    for name in (name for name in before if name in after):
        pair = before[name], after[name]
        if len(pair[0]) != len(pair[1]) or not all(near(a, b) for a, b in zip(*pair, strict=True)):
            single = len(pair[0]) == len(pair[1]) == 1
            says = _apart(pair[0][0], pair[1][0]) if single else "other values"
            found.append(Finding("reference", f"{name}: {says}", before=pair[0], after=pair[1]))
    return tuple(found)


def _apart(old: float | None, new: float | None) -> str:
    """Two figures, to six digits where these tell them apart."""
    texts = [plain(one) if one is None else f"{one:.6g}" for one in (old, new)]
    return " -> ".join(texts if texts[0] != texts[1] else (plain(old), plain(new)))


def _statistic(figure: Mapping[str, Any]) -> str:
    share = f" {figure['share']:g}" if figure["statistic"] == "percentile" else ""
    return f"{figure['statistic']}{share} of {figure['measure']} over the catalogue"


def figure_drift(old: Sections, new: Sections) -> tuple[Finding, ...]:
    """Ratings and scores gone and added; then every figure of a product in both that differs, scores first."""
    before, after = old["rules"]["outputs"], new["rules"]["outputs"]
    found = [
        Finding("output", f"{_noun(rules[name])} {name} {what}", output=name)
        for rules, others, what in ((before, after, "is gone"), (after, before, "was added"))
        for name in rules
        if name not in others
    ]
    sides = standings(old), standings(new)
    for (product, name), standing in sides[0].items():
        now = sides[1].get((product, name))
        if now is not None and not same_standing(standing, now):
            differ = differences(standing, now, before[name]["step"], after[name]["step"])
            says = f"{product}, {name}: {'; '.join(f'{what} {said}' for what, said in differ.items())}"
            found.append(Finding("figure", says, product=product, output=name, before=standing, after=now))
    return tuple(found)


def _noun(rule: Mapping[str, Any]) -> str:
    return str(rule["section"]).removesuffix("s")


def standings(sections: Sections) -> dict[tuple[str, str], Mapping[str, Any]]:
    """(product, output) to how it stands; scores first, then ratings, each in the order of the catalogue."""
    return {
        (product["id"], name): standing
        for section in ("scores", "ratings")
        for product in sections["figures"]
        for name, standing in product[section].items()
    }


def same_standing(old: Mapping[str, Any], new: Mapping[str, Any]) -> bool:
    """The unrounded value within `TOLERANCE`, all else exactly."""
    same = all(old[name] == new[name] for name in STANDING[1:]) and old.get("within") == new.get("within")
    return near(old["value"], new["value"]) and same


def in_class_plain(within: Mapping[str, Any] | None) -> str:
    """A place within a class as a record has it: `1/11 hybrid`, a dash for none."""
    if within is None or within["rank"] is None:
        return plain(None)
    return f"{within['rank']:g}/{within['of']:g} {within['word']}"


def differences(old: Mapping[str, Any], new: Mapping[str, Any], step: float, step_now: float) -> dict[str, str]:
    """What differs between two standings, in words, by what it is."""
    found = {}
    if not near(old["value"], new["value"]):
        found["value"] = f"{plain(old['value'])} -> {plain(new['value'])}"
    texts = as_shown(old["shown"], step), as_shown(new["shown"], step_now)
    if texts[0] != texts[1] or old["shown"] != new["shown"]:
        found["shown"] = f"{texts[0]} -> {texts[1]}"
    for name, what in (("rank", "place"), ("band", "band"), ("status", "status")):
        if old[name] != new[name]:
            found[what] = f"{plain(old[name])} -> {plain(new[name])}"
    classes = in_class_plain(old.get("within")), in_class_plain(new.get("within"))
    if classes[0] != classes[1]:
        found["in class"] = f"{classes[0]} -> {classes[1]}"
    gone = [f"no longer `{remark}`" for remark in old["remarks"] if remark_today(remark) not in new["remarks"]]
    known = [remark_today(remark) for remark in old["remarks"]]
    came = [f"now `{remark}`" for remark in new["remarks"] if remark not in known]
    if known != new["remarks"]:
        found["remarks"] = ", ".join(gone + came) or "in another order or number"
    return found


def caution_drift(old: Sections, new: Sections) -> tuple[Finding, ...]:
    """Each caution that is in the old or the new alone, by its words; the general one may be that of an earlier time."""
    before, after = old["cautions"], new["cautions"]
    if tuple(before) == EARLIER and tuple(after) == CAUTIONS:
        return ()
    gone = (one for one in before if one not in after)
    came = (one for one in after if one not in before)
    found = [Finding("caution", f"in the record, and no caution of the formula: `{one}`", before=one) for one in gone]
    found += (
        Finding("caution", f"a caution of the formula, and not in the record: `{one}`", after=one) for one in came
    )
    if before != after and not found:
        return (Finding("caution", "the cautions stand in another order or number", before=before, after=after),)
    return tuple(found)
