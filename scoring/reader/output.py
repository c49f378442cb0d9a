"""Reading ratings and scores: parts under a blend or an expression, limits, the missing rule, rounding."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, count

from scoring.blends import BLENDS
from scoring.document import Mapping, Node, Scalar
from scoring.errors import nearest
from scoring.form import Choice, Limit, MissingRule, Number, Output, Part, Scale
from scoring.reader import keys, options
from scoring.reader.curve import read_curve
from scoring.reader.fields import Fields, Names, Reader
from scoring.reader.measure import read_rounding
from scoring.reader.scale import read_scale
from scoring.reader.wording import AS_IN, clip, describe
from scoring.source import Spot

RATING_KEYS = tuple(keys.RATING)
SCORE_KEYS = tuple(keys.SCORE)
MIX_KEYS = tuple(keys.MIX)
LIMIT_KEYS = tuple(keys.LIMIT)
MISSING_KEYS = tuple(keys.MISSING)
OTHERWISE = tuple(options.OTHERWISE)
APPLY = tuple(options.APPLY)


def read_outputs(reader: Reader, node: Node | None, section: str, names: Names, scale: Scale) -> tuple[Output, ...]:
    """Every rating under `ratings`, or every score under `scores`."""
    known = RATING_KEYS if section == "ratings" else SCORE_KEYS
    read = []
    for key, body, address in reader.named(node, section, section):
        fields = reader.fields(body, address, known, "a rating" if section == "ratings" else "a score")
        if fields is not None:
            read.append(_read_output(reader, fields, section, key.text, names, scale))
    return tuple(read)


def _read_output(reader: Reader, fields: Fields, section: str, name: str, names: Names, form_scale: Scale) -> Output:
    scale = read_scale(reader, fields, form_scale)
    parts = tuple(_read_parts(reader, fields, section, names, scale))
    value_node = fields.node_of("value")
    value = None
    if value_node is not None:
        value = reader.expression(value_node, fields.path("value"), names, condition=False)
    _check_ways(reader, fields, section)
    blended = {"mix", "weights", "parts"} & fields.keys
    blend = fields.choice("blend", tuple(BLENDS)) if blended else None
    settled = bool(_ways(fields)) and all(name in names.kinds for name in _written_sources(fields))
    sources = {part.source for part in parts} | set(value.names if value else ()) | set(_written_sources(fields))
    return Output(
        section=section,
        name=name,
        label=fields.text("label", name.replace("_", " ").capitalize()),
        blend=blend,
        exponent=_read_exponent(reader, fields, blend),
        parts=parts,
        value=value,
        limits=tuple(_read_limits(reader, fields, names, scale)),
        missing=_read_missing(reader, fields, sources if settled else None),
        round=read_rounding(reader, fields, "round"),
        scale=scale,
        neutral=fields.flag("neutral"),
        note=fields.text("note"),
        address=fields.address,
        place=fields.place,
    )


def _ways(fields: Fields) -> list[str]:
    return [key for key in ("measure", "mix", "weights", "parts", "value") if key in fields]


def _written_sources(fields: Fields) -> Iterator[str]:
    """What `weights` or `parts` name, be it known or not, and its weight right or not."""
    for key in ("weights", "parts"):
        node = fields.node_of(key)
        yield from (name.text for name, _ in node.entries) if isinstance(node, Mapping) else ()
        yield from (item.text for item in getattr(node, "items", ()) if isinstance(item, Scalar))


def _check_ways(reader: Reader, fields: Fields, section: str) -> None:
    """One way to a value: a measure with its curve, a mix, weights, or an expression."""
    ways = _ways(fields)
    wanted = "`measure` with `curve`, `mix`, or `value`" if section == "ratings" else "`weights`, `parts`, or `value`"
    if len(ways) != 1:
        found = "no value" if not ways else "several ways to a value (" + ", ".join(ways) + ")"
        hint = (
            "Keep one of them."
            if ways
            else f"As in `{AS_IN['a rating' if section == 'ratings' else 'a score'][1:-1]}`."
        )
        reader.fault(fields.place, f"{found} in {fields.address}", f"one of {wanted}", hint)
    if "curve" in fields and "measure" not in fields:
        reader.fault(fields.place, f"`curve` without `measure` in {fields.address}", "`measure: ...` beside it")
    if "blend" in fields and ways and not {"mix", "weights", "parts"} & fields.keys:
        reader.fault(
            fields.place, f"`blend` without parts in {fields.address}", "`weights`, `parts` or `mix` beside it"
        )


def _read_parts(reader: Reader, fields: Fields, section: str, names: Names, scale: Scale) -> Iterator[Part]:
    open_top = scale.high is None
    if section == "scores":
        yield from _read_weights(reader, fields, names)
        yield from _read_equal_parts(reader, fields, names)
    elif "measure" in fields:
        source = _source(reader, fields.node_of("measure"), names, ("measure",))
        curve = read_curve(reader, fields.required("curve"), fields.path("curve"), open_top=open_top)
        if source and curve:
            yield Part(source, curve, None, fields.address, fields.place)
    yield from _read_mix(reader, fields, names, open_top)


def _read_mix(reader: Reader, fields: Fields, names: Names, open_top: bool) -> Iterator[Part]:
    mix = fields.node_of("mix")
    taken: set[str] = set()
    weights: list[Number] = []
    nodes = reader.items(mix, fields.path("mix"), "parts")
    for index, node in enumerate(nodes, start=1):
        item = reader.fields(node, f"{fields.path('mix')}.{index}", MIX_KEYS, "a part")
        for part in (
            _read_mix_part(reader, item, names, taken, fields.path("mix"), open_top) if item is not None else ()
        ):
            weights += [part.weight] if part.weight is not None else []
            yield part
    if mix is not None and len(weights) == len(nodes) and not any(weight.value > 0 for weight in weights):
        reader.fault(mix.place, f"no weight above 0 in {fields.address}", "at least one")


def _read_mix_part(
    reader: Reader, item: Fields, names: Names, taken: set[str], address: str, open_top: bool
) -> Iterator[Part]:
    kinds = [kind for kind in ("measure", "rating") if kind in item]
    if len(kinds) != 1:
        reader.fault(
            item.place, f"{' and '.join(kinds) or 'neither measure nor rating'} in {item.address}", "one of them"
        )
        return
    source = _source(reader, item.node_of(kinds[0]), names, (kinds[0],))
    if source is None:
        return
    called = next(name for name in chain([source], (f"{source}_{n}" for n in count(2))) if name not in taken)
    taken.add(called)
    item.address = f"{address}.{called}"
    curve = None
    if kinds[0] == "measure" or "curve" in item:
        curve = read_curve(reader, item.required("curve"), item.path("curve"), open_top=open_top)
        if curve is None:
            return
    weight = item.number("weight", default=1, least=0)
    if weight is not None:
        yield Part(source, curve, weight, item.address, item.place)


def _read_weights(reader: Reader, fields: Fields, names: Names) -> Iterator[Part]:
    node = fields.node_of("weights")
    if node is None:
        return
    if not isinstance(node, Mapping):
        names_written = [item.text for item in getattr(node, "items", ()) if isinstance(item, Scalar)]
        hint = f"For equal weights write `parts: [{clip(', '.join(names_written))}]`." if names_written else ""
        reader.fault(node.place, f"{describe(node)} under weights", "`weights: {rating: weight, ...}`", hint)
        return
    weights = []
    for key, value in node.entries:
        source = _source(reader, key, names, ("rating", "score"))
        weight = reader.number(value, f"{fields.path('weights')}.{key.text}", least=0)
        if source and weight:
            weights.append(weight.value)
            yield Part(source, None, weight, weight.address, key.place)
    if len(weights) == len(node.entries) and not any(weights):
        reader.fault(node.place, f"no weight above 0 in {fields.address}", "at least one")


def _read_equal_parts(reader: Reader, fields: Fields, names: Names) -> Iterator[Part]:
    """Parts of equal weight, as a list. A weight that is set turns the list into `weights` that name each part."""
    nodes = reader.items(fields.node_of("parts"), fields.path("parts"), "names")
    if "parts" in fields and not nodes:
        reader.fault(fields.place, f"no parts in {fields.address}", "`parts: [NAME, ...]`")
    sources = [(_source(reader, node, names, ("rating", "score")), node) for node in nodes]
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
        yield Part(source, None, Number(1.0, "1", address, node.place, spot), address, node.place)


def _source(reader: Reader, node: Node | None, names: Names, kinds: tuple[str, ...]) -> str | None:
    if not isinstance(node, Scalar):
        if node is not None:
            reader.fault(node.place, "something that is no name", f"the name of a {' or '.join(kinds)}")
        return None
    name = node.text
    if names.kinds.get(name) in kinds:
        return name
    known = [known for known, kind in names.kinds.items() if kind in kinds]
    is_what = f", which is a {names.kinds[name]}" if name in names.kinds else ""
    reader.fault(node.place, f"`{clip(name)}`{is_what}", f"the name of a {' or '.join(kinds)}", nearest(name, known))
    return None


def _read_exponent(reader: Reader, fields: Fields, blend: Choice | None) -> Number | None:
    if "exponent" not in fields:
        if blend is not None and blend.value == "power mean":
            fields.required("exponent")
        return None
    exponent = fields.number("exponent", least=-64, most=64)
    if exponent is not None and exponent.value == 0:
        hint = "Say `blend: geometric mean`, which is what exponent 0 means."
        reader.fault(exponent.place, f"exponent 0 in {fields.address}", "an exponent other than 0", hint)
    return exponent


def _read_limits(reader: Reader, fields: Fields, names: Names, scale: Scale) -> Iterator[Limit]:
    taken: set[str] = set()
    for index, node in enumerate(reader.items(fields.node_of("limits"), fields.path("limits"), "limits"), start=1):
        item = reader.fields(node, f"{fields.path('limits')}.{index}", LIMIT_KEYS, "a limit")
        if item is not None:
            item.address = f"{fields.path('limits')}.{reader.label(item, index, taken)}"
            yield from _read_limit(reader, item, names, scale)


def _read_limit(reader: Reader, item: Fields, names: Names, scale: Scale) -> Iterator[Limit]:
    senses = [sense for sense in ("at_most", "at_least") if sense in item]
    ways = [way for way in ("when", "on") if way in item]
    if len(senses) != 1 or len(ways) != 1:
        expected = "one of at_most and at_least, and one of when and on"
        reader.fault(item.place, f"{', '.join(ways + senses) or 'neither'} in {item.address}", expected)
        return
    sense, apply = senses[0], item.choice("apply", APPLY)
    if ways[0] == "when":
        node = item.node_of("when")
        when = reader.expression(node, item.path("when"), names, condition=True) if node is not None else None
        bound = item.number(sense)
        if when is not None and bound is not None:
            yield Limit(sense, when, bound, None, None, apply, item.address, item.place)
        return
    on = _source(reader, item.node_of("on"), names, ("rating", "score", "measure"))
    curve = read_curve(reader, item.node_of(sense), item.path(sense), open_top=scale.high is None)
    if on is not None and curve is not None:
        yield Limit(sense, None, None, on, curve, apply, item.address, item.place)


def _read_missing(reader: Reader, fields: Fields, sources: set[str] | None) -> MissingRule:
    """The missing rule; `sources` are what it may need, None where nothing says what the output is made of."""
    node = fields.node_of("missing")
    own = reader.fields(node, fields.path("missing"), MISSING_KEYS, "a missing rule")
    if own is None:
        share = fields.default_number(0.0, "missing", "absent_above")
        return MissingRule((), share, fields.default_choice(OTHERWISE, "missing", "otherwise"))
    needs = own.words("needs")
    needs_node = own.node_of("needs")
    for name in needs:
        if sources is not None and name not in sources and needs_node is not None:
            hint = nearest(name, sorted(sources))
            reader.fault(needs_node.place, f"`{name}` in {own.path('needs')}", "a part of this output", hint)
    otherwise = own.choice("otherwise", OTHERWISE)
    default = 1.0 if otherwise.value == "lowest" else 0.0
    share = own.number("absent_above", default=default, least=0, most=1) or own.default_number(default, "absent_above")
    return MissingRule(needs, share, otherwise)
