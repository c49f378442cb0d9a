"""What is printed where a formula states no cautions, and where it states some."""

from __future__ import annotations

from written_forms import HEAD, form_of

from analysis.cautions import CAUTIONS, EARLIER, cautions
from analysis.records.drift import caution_drift

PLAIN = HEAD + "ratings:\n  a: {value: x}\n"


def test_a_formula_that_states_cautions_has_them_alone() -> None:
    """One that states none has the general one, which speaks of no trade."""
    assert cautions(form_of(PLAIN + "cautions: [Not for infants.]\n")) == ("Not for infants.",)
    assert cautions(form_of(PLAIN)) == CAUTIONS
    (said,) = CAUTIONS
    assert "no medical advice and no safety certificate" in said
    assert "local law and codes" in said
    assert not any(word in said for word in ("infant", "Fire", "entrapment", "bed"))


def test_a_record_with_the_general_caution_of_before_holds() -> None:
    """Only that one: any other caution that is gone is named."""
    now = {"cautions": list(CAUTIONS)}
    assert caution_drift({"cautions": list(EARLIER)}, now) == ()
    assert len(caution_drift({"cautions": list(EARLIER[:1])}, now)) == 2
    assert len(caution_drift({"cautions": list(EARLIER)}, {"cautions": ["Not for infants."]})) == 3
