"""Whatever is said of the errors of measures, in whatever layout, is read back as it was meant, and can be set to any other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from hypothesis import given
from hypothesis import strategies as st
from written_forms import form_of

from scoring.addresses.addresses import addresses, difference, read, set_address, written
from scoring.form import ErrorComponent, Form

Draw = Callable[[st.SearchStrategy], object]
SCATTERS = ("repeatability", "between_sessions", "between_specimens")
MEASURES = ("x", "y", "z")


@dataclass(frozen=True, slots=True)
class Meant:
    """One component as it is meant, and the keys and values, or the one figure or word, that it is written with."""

    kind: str
    amount: float | None
    freedom: float | None
    distribution: str
    written: dict[str, str] | str


@st.composite
def figures(draw: Draw) -> tuple[str, str, float]:
    """A figure in the unit or as a share: its text, its kind and its value."""
    hundredths = draw(st.integers(1, 9999))
    text, is_share = f"{hundredths / 100:.2f}", draw(st.booleans())
    sign = draw(st.sampled_from(("%", " %")))
    return (f"{text}{sign}", "relative", hundredths / 10_000) if is_share else (text, "absolute", hundredths / 100)


@st.composite
def components(draw: Draw, key: str) -> Meant:
    """A component in any of the ways in which it may be written."""
    text, kind, amount = draw(figures())
    is_systematic = key == "systematic"
    ways = [
        "figure",
        "deviation",
        *(["half-width"] if is_systematic else ["word"]),
        *["none"] * (key != "repeatability"),
    ]
    way = draw(st.sampled_from(ways))
    if way == "figure":
        return Meant(kind, amount, None, "normal", text)
    if way in ("word", "none"):
        word = draw(st.sampled_from(("pooled", "pooled relative"))) if way == "word" else "none"
        return Meant(word, None, None, "normal", word)
    if way == "half-width":
        shape = draw(st.sampled_from(("rectangular", "triangular")))
        own = {} if shape == "rectangular" and draw(st.booleans()) else {"distribution": shape}
        return Meant(kind, amount, None, shape, {"half_width": text, **own})
    freedom = draw(st.one_of(st.none(), st.sampled_from(("0.5", "3", "12.25", "1e3"))))
    own = {} if freedom is None else {"degrees_of_freedom": freedom}
    name = "standard_uncertainty" if is_systematic else "standard_deviation"
    return Meant(kind, amount, None if freedom is None else float(freedom), "normal", {name: text, **own})


@st.composite
def measures(draw: Draw) -> dict[str, Meant]:
    """Some of the components, in any order."""
    keys = draw(st.lists(st.sampled_from((*SCATTERS, "systematic")), unique=True))
    return {key: draw(components(key)) for key in keys}


def in_layout(key: str, meant: Meant, order: list[str], *, in_block: bool) -> str:
    """A component as lines of a block, or in braces."""
    if isinstance(meant.written, str):
        return f"    {key}: {meant.written}\n"
    entries = {name: meant.written[name] for name in sorted(meant.written, key=order.index)}
    if in_block:
        lines = "".join(f"      {name}: {value}   # so\n" for name, value in entries.items())
        return f"    {key}:\n{lines}"
    return f"    {key}: {{{', '.join(f'{name}: {value}' for name, value in entries.items())}}}\n"


@st.composite
def forms(draw: Draw) -> tuple[str, dict[str, dict[str, Meant]]]:
    """A formula of three measures, and what is meant of each."""
    names = ("standard_deviation", "standard_uncertainty", "half_width", "distribution", "degrees_of_freedom")
    said = {name: draw(measures()) for name in MEASURES}
    text = "formula: drawn\nmeasures:\n"
    for name, errors in said.items():
        lines = ["    unit: mm\n"]
        order = draw(st.permutations(names))
        lines += [in_layout(key, one, order, in_block=draw(st.booleans())) for key, one in errors.items()]
        text += f"  {name}:\n{''.join(draw(st.permutations(lines)))}"
    return text + "ratings: {r: {value: x}}\n", said


def is_meant(found: ErrorComponent | None, meant: Meant) -> bool:
    """Whether a component that was read is what was meant."""
    assert found is not None
    amount = found.amount.value if found.amount is not None else None
    freedom = found.freedom.value if found.freedom is not None else None
    read_as = found.kind.value, amount, freedom, found.distribution.value, found.is_half_width
    is_half_width = isinstance(meant.written, dict) and "half_width" in meant.written
    return read_as == (meant.kind, meant.amount, meant.freedom, meant.distribution, is_half_width)


@given(forms())
def test_any_placement_of_keys_reads_back(drawn: tuple[str, dict[str, dict[str, Meant]]]) -> None:
    """Each component is what was meant, those that are not written are none, and every address holds what can be set there."""
    text, said = drawn
    form = form_of(text)
    for measure in form.measures:
        for key, meant in said[measure.name].items():
            assert is_meant(measure.errors[key], meant)
            assert measure.declares(key) == (meant.kind != "none")
        unsaid = [key for key in (*SCATTERS, "systematic") if key not in said[measure.name]]
        assert not any(measure.declares(key) for key in unsaid)
    for address, noun in addresses(form).items():
        if address.startswith("measures."):
            assert difference(form, set_address(form, address, written(form, noun))) == ()


@given(forms(), st.data())
def test_any_component_can_be_set_to_any_other(
    drawn: tuple[str, dict[str, dict[str, Meant]]], data: st.DataObject
) -> None:
    """From what stands there, or from nothing, to what was drawn, in one line; nothing else changes."""
    form = form_of(drawn[0])
    key = data.draw(st.sampled_from(("between_sessions", "between_specimens", "systematic")))
    meant = data.draw(components(key))
    value = meant.written
    if isinstance(value, dict):
        value = "{" + ", ".join(f"{name}: {one}" for name, one in value.items()) + "}"
    keeps_share = written_as_share(form, key) and meant.kind == "absolute" and isinstance(meant.written, str)
    new = set_address(form, f"measures.y.{key}", value)
    if not keeps_share:  # a bare figure in the place of 5% is one of percent, as everywhere
        assert is_meant(new.measures[1].errors[key], meant)
        assert written(new, read(new, f"measures.y.{key}")) == value
    edits = difference(form, new)
    assert all(edit.address.startswith(f"measures.y.{key}") for edit in edits)


def written_as_share(form: Form, key: str) -> bool:
    """Whether a bare share stands there now."""
    error = form.measures[1].errors[key]
    return error.kind.value == "relative" and not error.in_braces


@given(st.lists(st.floats(-1, 1), min_size=3, max_size=3).map(lambda row: [round(value, 3) for value in row]))
def test_correlations_are_taken_where_their_matrix_has_no_eigenvalue_below_0(row: list[float]) -> None:
    """By the determinant of three, worked out by hand: 1 + 2abc - a^2 - b^2 - c^2."""
    a, b, c = row
    determinant = 1 + 2 * a * b * c - a * a - b * b - c * c
    if abs(determinant) < 1e-6:
        return
    lines = "".join(
        f"  r{index}: {{measures: [{pair}], coefficient: {value:.3f}}}\n"
        for index, (pair, value) in enumerate(zip(("x, y", "y, z", "z, x"), row, strict=True))
    )
    text = "formula: t\nmeasures:\n" + "".join(f"  {name}: {{unit: mm, repeatability: 1}}\n" for name in MEASURES)
    text += f"ratings: {{r: {{value: x}}}}\nerror_correlations:\n{lines}"
    try:
        form_of(text)
    except Exception as fault:
        assert "correlations that no errors can have" in str(fault)
        assert determinant < 0
    else:
        assert determinant > 0
