"""Steps under every choice: which choices change a step, what follows an option, and limits that are switched off."""

from __future__ import annotations

from written_forms import form_of

from analysis.page.variants import PASSED_ON, StepVariants, variants_of
from scoring.program.javascript import Registers

TEXT = """
formula: small
measures:
  noise: {unit: dB}
  sit: {unit: mm}
ratings:
  quiet: {measure: noise, curve: {line: {worst: 46, best: 22}}}
  edge: {measure: sit, curve: {steps: {0: 1, 40: 6, 80: 10}}, round: {step: 0.5, rule: half-up}}
scores:
  calm:
    weights: {quiet: 2, edge: 1}
    limits:
      - {name: loud, when: quiet < 4, at_most: 6, apply: never}
      - {name: soft, when: edge < 4, at_most: 5}
"""


def steps_of(text: str) -> tuple[dict[tuple[str, str, str], StepVariants], Registers]:
    registers = Registers()
    return {step.key: step for step in variants_of(form_of(text), registers).steps}, registers


def test_a_limit_that_is_off_passes_the_value_on_and_can_be_switched_on() -> None:
    """It stands among the steps in its place, before the one that is on."""
    steps, _ = steps_of(TEXT)
    loud = steps["calm", "limit", "scores.calm.limits.loud"]
    assert loud.choices == ("scores.calm.limits.loud.apply",)
    assert loud.codes[0] == PASSED_ON
    assert "minimum(x.v" in loud.codes[1]
    order = [key[1:] for key in steps if key[0] == "calm"]
    assert order == [
        ("take", "calm"),
        ("limit", "scores.calm.limits.loud"),
        ("limit", "scores.calm.limits.soft"),
    ]


def test_a_step_that_two_choices_change_is_printed_for_each_combination() -> None:
    """The blend and the missing rule: seven blends by two rules, as stated first; a power mean has no exponent to take."""
    steps, _ = steps_of(TEXT)
    take = steps["calm", "take", "calm"]
    assert take.choices == ("scores.calm.blend", "scores.calm.missing.otherwise")
    assert len(take.codes) == 14
    assert len(set(take.codes)) == 14
    assert "where(x.h" in take.codes[0]
    assert not any("**" in code or "pow" in code for code in take.codes)


def test_a_rounding_rule_is_a_choice_of_its_step() -> None:
    """Each rule prints its own name, and nothing else in the output depends on it."""
    steps, _ = steps_of(TEXT)
    rounding = steps["edge", "round", "ratings.edge"]
    assert rounding.choices == ("ratings.edge.round.rule",)
    assert [code.split("'")[1] for code in rounding.codes] == ["half-up", "half-even", "down", "up"]


def test_a_number_that_nobody_wrote_follows_an_option() -> None:
    """Where missing parts count as the lowest rating, nothing is absent by default."""
    variants = variants_of(form_of(TEXT), Registers())
    found = {(f.choice, f.option, f.number): f.value for f in variants.followers}
    assert found["scores.calm.missing.otherwise", "lowest", "scores.calm.missing.absent_above"] == 1.0


def test_registers_hold_no_text_of_the_formula() -> None:
    """Code is numbers, registers and functions: a name like `alert` gets nowhere."""
    text = TEXT.replace("noise", "alert").replace("quiet", "constructor")
    steps, registers = steps_of(text)
    code = " ".join(code for step in steps.values() for code in step.codes)
    assert "alert" not in code
    assert "constructor" not in code
    assert "alert" in registers.of("m")
