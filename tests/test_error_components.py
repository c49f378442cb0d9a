"""What the errors of readings are made of, as it is written in a form: read, set, and refused with what to write instead."""

from __future__ import annotations

import pytest
from written_forms import faults_of, form_of

from scoring.addresses.addresses import addresses, read, set_address, written
from scoring.errors import AddressError
from scoring.form import ErrorComponent

TEXT = """\
formula: trial
measures:
  x: {unit: mm, repeatability: 1, between_sessions: 1, systematic: 1}
  y: {unit: mm, repeatability: 1, between_sessions: 1}
  z: {unit: mm, repeatability: 1}
ratings: {r: {measure: x, curve: {line: {worst: 0, best: 9}}}}
"""
PLAIN = TEXT.replace(", repeatability: 1, between_sessions: 1, systematic: 1", "")


def error(key: str, text: str) -> ErrorComponent:
    """One component of the errors of x, as it is written."""
    return form_of(PLAIN.replace("x: {unit: mm", f"x: {{unit: mm, {key}: {text}")).measures[0].errors[key]


def said(one: ErrorComponent) -> tuple[str, float | None, float | None, str, bool]:
    """A component without its places."""
    figures = [number.value if number is not None else None for number in (one.amount, one.freedom)]
    return one.kind.value, figures[0], figures[1], one.distribution.value, one.is_half_width


SCATTERS = {
    "0.2": ("absolute", 0.2, None, "normal", False),
    "5%": ("relative", 0.05, None, "normal", False),
    "pooled": ("pooled", None, None, "normal", False),
    "pooled relative": ("pooled relative", None, None, "normal", False),
    "{standard_deviation: 0.2}": ("absolute", 0.2, None, "normal", False),
    "{standard_deviation: 5 %, degrees_of_freedom: 2.5}": ("relative", 0.05, 2.5, "normal", False),
}


@pytest.mark.parametrize("key", ["repeatability", "between_sessions", "between_specimens"])
@pytest.mark.parametrize("text", SCATTERS)
def test_a_scatter_is_a_figure_a_word_or_all_in_braces(key: str, text: str) -> None:
    """The same ways for each component; degrees of freedom that are not stated are those of what is known."""
    assert said(error(key, text)) == SCATTERS[text]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("0.2", ("absolute", 0.2, None, "normal", False)),
        ("3%", ("relative", 0.03, None, "normal", False)),
        ("{standard_uncertainty: 0.2, degrees_of_freedom: 8}", ("absolute", 0.2, 8, "normal", False)),
        ("{half_width: 2%}", ("relative", 0.02, None, "rectangular", True)),
        ("{half_width: 0.3, distribution: triangular}", ("absolute", 0.3, None, "triangular", True)),
    ],
)
def test_a_systematic_error_is_a_standard_uncertainty_or_a_half_width(
    text: str, expected: tuple[str, float, float | None, str, bool]
) -> None:
    """A half-width is rectangular where nothing else is said, by the GUM."""
    assert said(error("systematic", text)) == expected


@pytest.mark.parametrize("key", ["between_sessions", "between_specimens", "systematic"])
@pytest.mark.parametrize("text", ["", "none", "null"])
def test_what_is_not_written_is_none_and_has_an_address(key: str, text: str) -> None:
    """So that any value can be tried there."""
    form = form_of(PLAIN.replace("x: {unit: mm", f"x: {{unit: mm, {key}: {text}") if text else PLAIN)
    address = f"measures.x.{key}"
    assert said(form.measures[0].errors[key]) == ("none", None, None, "normal", False)
    assert written(form, read(form, address)) == "none"
    assert not form.measures[0].declares(key)
    half = "{half_width: 0.3, distribution: triangular}"
    deviation = "{standard_deviation: 0.1, degrees_of_freedom: 12}"
    for value in ("0.1", "5%", *((half,) if key == "systematic" else ("pooled", "pooled relative", deviation))):
        new = set_address(form, address, value)
        assert written(new, read(new, address)) == value
        assert new.measures[0].declares(key)
        back = set_address(new, f"{address}.kind" if f"{address}.kind" in addresses(new) else address, "none")
        assert said(back.measures[0].errors[key]) == said(form.measures[0].errors[key])


def test_repeatability_that_is_not_written_stays_unknown() -> None:
    """It is no component with an address: nothing is known of the scatter, not that there is none."""
    form = form_of(PLAIN)
    assert form.measures[0].repeatability is None
    assert "measures.x.repeatability" not in addresses(form)
    assert not form.measures[0].declares("repeatability")


@pytest.mark.parametrize("before", ["0.2", "5%", "pooled", "{standard_deviation: 5%, degrees_of_freedom: 12}"])
@pytest.mark.parametrize("after", ["0.3%", "pooled relative", "{standard_deviation: 0.4, degrees_of_freedom: 3}"])
def test_any_way_of_writing_can_take_the_place_of_any_other(before: str, after: str) -> None:
    """A figure in that of a word, braces in that of a figure, and so on."""
    form = form_of(PLAIN.replace("x: {unit: mm", f"x: {{unit: mm, repeatability: {before}"))
    new = set_address(form, "measures.x.repeatability", after)
    assert written(new, read(new, "measures.x.repeatability")) == after


@pytest.mark.parametrize(
    ("key", "text", "says"),
    [
        ("repeatability", "poled", "form.yaml:3:32: `poled` for measures.x.repeatability; expected a number above 0, a share as `8%`, `pooled`, `pooled relative`, or `{standard_deviation: ...}`. Did you mean `pooled`?"),
        ("repeatability", "none", "form.yaml:3:32: `none` for measures.x.repeatability; expected a number above 0, a share as `8%`, `pooled`, `pooled relative`, or `{standard_deviation: ...}`. Leave the line out where it is not known."),
        ("repeatability", "0", "form.yaml:3:32: 0 for measures.x.repeatability; expected a number above 0. Leave the line out where it is not known."),
        ("between_sessions", "0", "form.yaml:3:35: 0 for measures.x.between_sessions; expected a number above 0. `between_sessions: none` says that there is none."),
        ("between_sessions", "[1]", "form.yaml:3:35: a list; expected a number for measures.x.between_sessions."),
        ("between_sessions", "{standard_deviation: 0.2, degrees_of_freedom: 0}", "form.yaml:3:81: 0 for measures.x.between_sessions.degrees_of_freedom; expected a number above 0. Leave the key out where the figure is taken as known."),
        ("between_sessions", "{standard_deviation: 0.2, degrees_of_freedom: -3}", "form.yaml:3:81: -3 for measures.x.between_sessions.degrees_of_freedom; expected a number above 0. Leave the key out where the figure is taken as known."),
        ("between_specimens", "{degrees_of_freedom: 3}", "form.yaml:3:36: `standard_deviation` in measures.x.between_specimens"),
        ("between_specimens", "{standard_deviation: pooled, degrees_of_freedom: 3}", "form.yaml:3:57: `pooled` for measures.x.between_specimens.standard_deviation; expected a number above 0, or a share as `8%`. Write `between_specimens: pooled` alone: the catalogue says how many degrees of freedom it has."),
        ("between_specimens", "{standard_deviation: 1, distribution: triangular}", "form.yaml:3:60: the key `distribution` in measures.x.between_specimens; expected a known key."),
        ("systematic", "pooled", "form.yaml:3:29: `pooled` for measures.x.systematic; expected a standard uncertainty above 0, a share as `3%`, `{standard_uncertainty: ...}` or `{half_width: ...}`. All readings share it, so that no repeats can show it: take it from the calibration or the method."),
        ("systematic", "{half_width: 0.3, standard_uncertainty: 0.2}", "form.yaml:3:29: `standard_uncertainty` and `half_width` in measures.x.systematic; expected one of the two."),
        ("systematic", "{distribution: triangular}", "form.yaml:3:29: neither `standard_uncertainty` nor `half_width` in measures.x.systematic; expected `standard_uncertainty: ...` or `half_width: ...`."),
        ("systematic", "{half_width: 0.3, degrees_of_freedom: 8}", "form.yaml:3:67: `degrees_of_freedom` beside `half_width` in measures.x.systematic; expected them beside `standard_uncertainty`. Leave them out: the half-width is taken as known."),
        ("systematic", "{standard_uncertainty: 0.3, distribution: triangular}", "form.yaml:3:71: `distribution` beside `standard_uncertainty` in measures.x.systematic; expected it beside `half_width`. Leave it out: what is stated by a standard uncertainty is taken as normal."),
        ("systematic", "{half_width: 0.3, distribution: normal}", "form.yaml:3:61: `normal` for measures.x.systematic.distribution; expected one of rectangular, triangular."),
    ],
)  # fmt: skip
def test_a_fault_says_where_and_what_to_write(key: str, text: str, says: str) -> None:
    """One line for each fault, and none that only comes of it."""
    swap = f"x: {{unit: mm, {key}: {text}"
    (fault,) = faults_of(PLAIN.replace("x: {unit: mm", swap))
    assert fault.startswith(says)


def test_no_fault_of_a_correlation_comes_of_one_of_a_measure() -> None:
    """A component that is written wrong is declared, whatever it is."""
    text = TEXT.replace("z: {unit: mm, repeatability: 1}", "z: {unit: mm, repeatability: poled}")
    found = faults_of(text + "error_correlations: {run: {measures: [x, z], coefficient: 0.5}}\n")
    assert len(found) == 1
    assert "poled" in found[0]


def correlated(*lines: str) -> str:
    """The formula with correlations of errors."""
    return TEXT + "error_correlations:\n" + "".join(f"  {line}\n" for line in lines)


def test_correlations_are_read() -> None:
    """With a coefficient, or one that the readings say; the component is repeatability where nothing else is said."""
    form = form_of(
        correlated(
            "run: {measures: [x, y, z], coefficient: 0.8}",
            "day: {measures: [x, y], component: between_sessions, coefficient: -1}",
        )
    )
    run, day = form.error_correlations
    assert (run.name, run.measures, run.component.value, run.estimated) == (
        "run",
        ("x", "y", "z"),
        "repeatability",
        None,
    )
    assert run.coefficient is not None
    assert (run.coefficient.value, run.coefficient.address) == (0.8, "error_correlations.run.coefficient")
    assert (day.component.value, day.component.address) == ("between_sessions", "error_correlations.day.component")
    pooled = set_address(form, "error_correlations.run.coefficient", "pooled")
    assert pooled.error_correlations[0].coefficient is None
    assert written(pooled, read(pooled, "error_correlations.run.coefficient")) == "pooled"
    again = set_address(pooled, "error_correlations.run.coefficient", "0.8")
    assert again.sources[0].text == form.sources[0].text


def test_correlations_can_come_from_a_neighbour() -> None:
    """Before those of the formula itself; a name stands for one."""
    beside = TEXT.split("ratings")[0].replace("formula: trial\n", "")
    beside += "error_correlations: {run: {measures: [x, y], coefficient: 0.8}}\n"
    own = (
        "formula: own\ntakes: {file: beside.yaml, sections: [measures, error_correlations]}\n"
        "ratings: {r: {value: x}}\nerror_correlations: {day: {measures: [x, z], coefficient: 0.1}}\n"
    )
    assert [one.name for one in form_of(own, beside).error_correlations] == ["run", "day"]
    (fault,) = faults_of(own.replace("day", "run"), beside)
    assert "the correlation `run` again, which the formula takes from its neighbour" in fault


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        (["run: {measures: [x, yy], coefficient: 0.5}"], "form.yaml:8:23: `yy` in error_correlations.run.measures; expected a measure. Did you mean `y`?"),
        (["run: {measures: [x, y, x], coefficient: 0.5}"], "form.yaml:8:26: `x` again in error_correlations.run.measures; expected each measure once."),
        (["run: {measures: [x], coefficient: 0.5}"], "form.yaml:8:19: one measure in error_correlations.run.measures; expected two or more."),
        (["run: {measures: [], coefficient: 0.5}"], "form.yaml:8:19: no measure in error_correlations.run.measures; expected two or more."),
        (["run: {coefficient: 0.5}"], "form.yaml:8:8: no `measures` in error_correlations.run; expected `measures: ...`. As in `measures: [noise_dba, sit_drop]`."),
        (["run: {measures: [x, y]}"], "form.yaml:8:8: no `coefficient` in error_correlations.run; expected `coefficient: ...`. As in `coefficient: 0.8`."),
        (["run: {measures: [x, y], coefficient: 1.01}"], "form.yaml:8:40: 1.01 for error_correlations.run.coefficient; expected a number at least -1 and at most 1."),
        (["run: {measures: [x, y], coefficient: poold}"], "form.yaml:8:40: `poold` for error_correlations.run.coefficient; expected a number from -1 to 1, or `pooled`. Did you mean `pooled`?"),
        (["run: {measures: [x, y], component: between_sessions, coefficient: pooled}"], "form.yaml:8:69: `pooled` for error_correlations.run.coefficient, of the component between_sessions; expected a number from -1 to 1. State the coefficient; only repeats of one run show how their errors go together."),
        (["run: {measures: [x, z], component: between_sessions, coefficient: 0.5}"], "form.yaml:8:23: `z` in error_correlations.run.measures, which declares no `between_sessions`; expected measures that declare the component that is correlated. Write `between_sessions: ...` under measures.z, or leave `z` out here."),
        (["run: {measures: [x, y], coefficient: 0.5}", "plate: {measures: [z, y, x], coefficient: 0.2}"], "form.yaml:9:10: y with x in error_correlations.plate, as in error_correlations.run; expected each pair once for the component repeatability."),
        (["run: {measures: [x, y], coefficient: 0.8}", "plate: {measures: [z, y], coefficient: 0.8}"], "form.yaml:9:42: correlations that no errors can have (repeatability: x with y 0.8, z with y 0.8; an eigenvalue of -0.131); expected coefficients that make a covariance, with no eigenvalue below 0. Multiply each by 0.883 or less, or say how x with z goes: a pair that is not named counts as 0."),
        (["run: {measures: [x, y, z], coefficient: -0.6}"], "form.yaml:8:43: correlations that no errors can have (repeatability: x with y -0.6, x with z -0.6, y with z -0.6; an eigenvalue of -0.2); expected coefficients that make a covariance, with no eigenvalue below 0. Multiply each by 0.833 or less."),
    ],
)  # fmt: skip
def test_a_fault_of_a_correlation_says_where_and_what_to_write(lines: list[str], says: str) -> None:
    """One line for each."""
    assert faults_of(correlated(*lines)) == [says]


def test_correlations_on_the_edge_of_what_errors_can_have_are_taken() -> None:
    """Three measures that go together entirely have an eigenvalue of 0, and its dust is no fault; so have -0.5 each."""
    for coefficient in ("1", "-0.5", "0.999999"):
        assert faults_of(correlated(f"run: {{measures: [x, y, z], coefficient: {coefficient}}}")) == []


def test_the_factor_that_a_fault_names_is_enough_and_hardly_more_would_do() -> None:
    """Multiplying by it makes a covariance; by a thousandth more does not."""
    for factor, taken in ((0.883, True), (0.885, False)):
        lines = [
            f"{name}: {{measures: [{pair}], coefficient: {0.8 * factor:.6f}}}"
            for name, pair in (("a", "x, y"), ("b", "y, z"))
        ]
        assert (faults_of(correlated(*lines)) == []) == taken


def test_a_value_that_will_not_do_is_refused_and_braces_do_not_break_out() -> None:
    """What is set at an address is one value."""
    form = form_of(TEXT)
    for value in ("pooly", "{half_width: 1", "{standard_deviation: 1}, unit: {m: 1}", "1, unit: m", ""):
        with pytest.raises(AddressError, match=r"--set: `measures\.x\.repeatability="):
            set_address(form, "measures.x.repeatability", value)
