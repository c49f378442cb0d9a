"""Figures in words: percentages never claim 0 or 100 that they are not, intervals keep their ends, lists say what they leave out."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from written_studies import demo, study_of

from analysis.study import default_study
from analysis.wording import KINDS, MANY, between, counted, kind_in_words, listed, percent, places, some

SHARES = st.one_of(
    st.floats(0, 1),
    st.floats(0, 0.012),
    st.floats(0.988, 1),
    st.sampled_from([0.0, 1.0, 5e-324, 1 - 2**-53, 0.01, 0.99]),
)


@given(SHARES)
def test_only_exact_shares_are_said_to_be_0_or_100(share: float) -> None:
    """Anything between is under 1, over 99, or the whole percent that it rounds to, which is from 1 to 99."""
    said = percent(share)
    assert (said == "0 %") == (share == 0)
    assert (said == "100 %") == (share == 1)
    assert (said == "under 1 %") == (0 < share < 0.01)
    assert (said == "over 99 %") == (0.99 < share < 1)
    if 0.01 <= share <= 0.99:
        assert abs(int(said.removesuffix(" %")) - 100 * share) <= 0.5 + 1e-9


@pytest.mark.parametrize(("share", "said"), [(-0.02, "0 %"), (1.013, "100 %"), (float("nan"), "–")])
def test_estimates_beyond_the_ends_are_held_there(share: float, said: str) -> None:
    """The noise of an estimate may carry it below 0 or above 1; no figure at all is a dash."""
    assert percent(share) == said


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (0.54, 0.58, "54 to 58 %"),
        (0.0, 0.034, "0 to 3 %"),
        (-0.01, 0.034, "0 to 3 %"),
        (0.002, 0.034, "under 1 % to 3 %"),
        (0.002, 0.004, "under 1 %"),
        (0.83, 1.18, "83 to 100 %"),
        (0.97, 0.995, "97 % to over 99 %"),
        (0.262, 0.264, "26.2 to 26.4 %"),
        (0.0, 0.0, "0 %"),
        (1.0, 1.2, "100 %"),
        (float("nan"), float("nan"), "–"),
    ],
)
def test_intervals(low: float, high: float, said: str) -> None:
    """Each end as a share by itself; to a tenth where both would be the same."""
    assert between(low, high) == said


@given(SHARES, SHARES)
def test_an_interval_never_ends_at_0_or_100_that_it_does_not_reach(one: float, other: float) -> None:
    """Whatever the ends, "0" and "100" are exact."""
    low, high = sorted((one, other))
    figures = re.findall(r"[\d.]+", between(low, high).replace("under 1", "").replace("over 99", ""))
    assert ("0" in figures) == (low == 0)
    assert ("100" in figures) == (high == 1)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], ""),
        (["a"], "a"),
        (["a", "b"], "a and b"),
        (["a", "b", "c"], "a, b and c"),
        (["a", "b", "c", "d"], "a, b, c and 1 more"),
    ],
)
def test_lists_say_how_many_they_leave_out(words: list[str], said: str) -> None:
    """Three of them at most."""
    assert some(words, 3) == said
    assert listed(words) == (said if len(words) < 4 else "a, b, c and d")


def test_places_and_counts() -> None:
    """One of a thing is not many."""
    assert [places(2, 2), places(2, 5)] == ["place 2", "places 2 to 5"]
    assert [counted(1, "draw"), counted(2, "draw"), counted(0, "draw")] == ["1 draw", "2 draws", "0 draws"]


def test_every_kind_of_argument_has_its_words() -> None:
    """Of all that a study can vary, no group is left with its bare keyword; what is many takes a plural verb."""
    form, catalogue = demo()
    kinds = {factor.kind for factor in default_study(form, catalogue).factors}
    vary = "{leave_out: two_abed}\n{readings: bootstrap}\n{address: scores.two_abed.missing.absent_above, uniform: [0.1, 0.3]}"
    kinds |= {factor.kind for factor in study_of(vary, form, catalogue).factors}
    assert kinds <= set(KINDS)
    assert set(KINDS) >= MANY
    assert kind_in_words("weights") == "all weights together"
    assert kind_in_words("the makers' own words") == "the makers' own words"
