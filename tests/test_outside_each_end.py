"""What holds beyond the anchors, said for each end by itself."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from test_curves import OUTSIDE
from typer.testing import CliRunner
from written_forms import curve_form, faults_of, form_of, score, values_of

from analysis.cli.main import app
from scoring.addresses.addresses import addresses, set_address
from scoring.checks import check
from scoring.curves import KINDS
from scoring.errors import ScoringError
from scoring.program.program import compile_form
from scoring.reader import read_sources

SCALE = "{from: -100, to: 100}"
#: A curve, what holds at its ends, and its rating at a reading below, at both anchors and above.
WORKED = {
    "line: {worst: 20, best: 40}": {0: -300, 20: -100, 40: 100, 50: 200},
    "line: {worst: 40, best: 20}": {0: 300, 20: 100, 40: -100, 50: -200},
    "points: {20: 0, 30: 5, 40: 6}": {0: -10, 20: 0, 40: 6, 50: 7},
    "log: {worst: 20, best: 40}": {10: -300, 20: -100, 40: 100, 80: 300},
}
OPEN = "{from: -100}"


@pytest.mark.parametrize("curve", WORKED)
@pytest.mark.parametrize(("below", "above"), [("held", "extended"), ("extended", "held"), ("extended", "extended")])
def test_each_end_goes_its_own_way(curve: str, below: str, above: str) -> None:
    """The line is carried on at one end, and the rating at the anchor holds at the other; worked by hand."""
    places, expected = zip(*sorted(WORKED[curve].items()), strict=True)
    text = curve_form(f"{curve}, outside: {{below: {below}, above: {above}}}", "{from: -1000, to: 1000}")
    wide = {"from": -1000, "to": 1000}
    if not curve.startswith("points"):  # the ends of the scale are the anchors' ratings
        text = text.replace("scale: {from: -1000, to: 1000}", "scale: {from: -100, to: 100}")
        wide = {"from": -100, "to": 100}
    found = list(expected)
    found[0] = found[0] if below == "extended" else found[1]
    found[-1] = found[-1] if above == "extended" else found[-2]
    read = {at: value for at, value in zip(places, found, strict=True) if wide["from"] <= value <= wide["to"]}
    assert values_of(text, "r", x=list(read)) == pytest.approx(list(read.values()), abs=1e-9)
    for at, value in zip(places, found, strict=True):
        if at not in read:
            with pytest.raises(ScoringError, match="a number from"):
                score(text, {"x": [float(at)]})
            assert not wide["from"] <= value <= wide["to"]


@pytest.mark.parametrize("kind", [name for name, kind in KINDS.items() if "error" in kind.outside])
def test_one_end_refuses_and_the_other_holds(kind: str) -> None:
    """At each end in turn, for every kind that has ends."""
    form = form_of(curve_form(OUTSIDE[kind]))
    curve = form.ratings[0].parts[0].curve
    assert curve is not None
    ends = KINDS[kind].ends
    assert ends is not None
    low, high = (end.value for end in ends(curve))
    outside = {"below": low - 0.5, "above": high + 0.5}
    for refused, other in (("below", "above"), ("above", "below")):
        text = curve_form(f"{OUTSIDE[kind]}, outside: {{{other}: held, {refused}: error}}")
        with pytest.raises(ScoringError, match=rf"says `outside: {{{refused}: error}}`"):
            score(text, {"x": [outside[refused]]})
        held = values_of(text, "r", x=[outside[other], low, high])
        assert held[0] == held[1 if other == "below" else 2]


def test_one_word_for_both_ends_is_the_same_as_two() -> None:
    """Held, extended and refused alike."""
    readings = [20.0, 30.0, 40.0]
    for word in ("held", "extended", "error"):
        one = values_of(curve_form(f"line: {{worst: 20, best: 40}}, outside: {word}"), "r", x=readings)
        two = curve_form(f"line: {{worst: 20, best: 40}}, outside: {{below: {word}, above: {word}}}")
        assert values_of(two, "r", x=readings) == one


def test_each_end_has_an_address() -> None:
    """It is listed, and set in the text; an end that is not written gets its word there."""
    form = form_of(curve_form("line: {worst: 20, best: 40}, outside: {above: error}"))
    found = [address for address in addresses(form) if ".outside" in address]
    assert found == ["ratings.r.curve.outside.below", "ratings.r.curve.outside.above"]
    held = set_address(form, "ratings.r.curve.outside.above", "held")
    assert "outside: {above: held}" in held.sources[0].text
    both = set_address(form, "ratings.r.curve.outside.below", "error")
    again = read_sources(list(both.sources)).ratings[0].parts[0].curve
    assert again is not None
    assert [choice.value for choice in again.outside] == ["error", "error"]


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("{below: holds}", "`holds` for ratings.r.curve.outside.below; expected one of held, extended, error"),
        ("{under: held}", "the key `under` in ratings.r.curve.outside; expected a known key"),
        ("[held, error]", "for ratings.r.curve.outside; expected one of held, extended, error"),
    ],
)
def test_what_cannot_be_read_is_said(written: str, says: str) -> None:
    """With what may stand there."""
    assert any(says in fault for fault in faults_of(curve_form(f"line: {{worst: 20, best: 40}}, outside: {written}")))


def test_what_is_proved_goes_by_each_end() -> None:
    """A line that is carried on above leaves its scale there, and not below; steps that refuse above say so."""
    text = curve_form("line: {worst: 20, best: 40}, outside: {above: extended}").replace(
        'x: {unit: "1"}', 'x: {unit: "1", better: higher, plausible: [0, %s]}'
    )
    verdicts = {}
    for top in (40, 60):
        report = check(compile_form(form_of(text % top)))
        verdicts[top] = {one.kind: one.verdict for one in report.findings}
    assert verdicts[60]["scale"] == "refuted"
    assert verdicts[40]["direction"] == verdicts[60]["direction"] == "proved"
    assert verdicts[40]["continuity"] == verdicts[60]["continuity"] == "proved"
    steps = curve_form("steps: {0: 1, 30: 7}, outside: {below: held, above: error}").replace(
        'x: {unit: "1"}',
        'x: {unit: "1", plausible: [-5, 50]}',  # what is held below is written, and is no gap
    )
    (finding,) = (one for one in check(compile_form(form_of(steps))).findings if one.kind == "steps")
    assert finding.detail == "above 30 a reading is refused (`outside: {above: error}`)"


def test_the_commands_say_it(tmp_path: Path) -> None:
    """A difference of two formulas, the appendix, and the page's model."""
    files = {
        "one": curve_form("line: {worst: 20, best: 40}, outside: held"),
        "two": curve_form("line: {worst: 20, best: 40}, outside: {below: held, above: error}"),
        "three": curve_form("line: {worst: 20, best: 40}, outside: {below: error, above: error}"),
    }
    for name, text in files.items():
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "c.csv").write_text("product,x\na,20\nb,30\n", encoding="utf-8")

    def said(*command: str) -> str:
        result = CliRunner().invoke(app, [*command])
        assert result.exit_code == 0, result.output
        return " ".join(result.stdout.split())

    one, two, three, catalogue = (str(tmp_path / name) for name in ("one.yaml", "two.yaml", "three.yaml", "c.csv"))
    assert "outside the anchors of its curve held -> below: held, above: error" in said("compare", one, two, catalogue)
    assert "below the lowest anchor of x held -> error" in said("compare", two, three, catalogue)
    said("appendix", two, catalogue, "--out", str(tmp_path / "a.md"))
    document = (tmp_path / "a.md").read_text(encoding="utf-8")
    assert "below the lowest anchor the figure at the nearer one holds" in document
    assert "a reading above the highest of its anchors is refused" in document
    found = json.loads(said("check", two, "--addresses", "--json"))
    assert np.isin("ratings.r.curve.outside.above", [one["address"] for one in found])
