"""The distributions of a study file, each declared once: its key, what stands there, and what is made of it."""

from __future__ import annotations

from analysis.study.distributions import Distribution, Lognormal, Normal, Triangular, Uniform
from analysis.study.keys import Amount, Figures, Keyed, Law
from scoring.addresses.addresses import set_address
from scoring.declaration import Key
from scoring.errors import SteelyardError
from scoring.form import Form, Number
from scoring.reader.fields import Fields
from scoring.units.role import UnitRole

#: One standard deviation of a lognormal may be at most this factor.
MOST_FACTOR = 100
#: An address of the laboratory's formula, at which examples stand.
AT = "address: scores.two_abed.limits.1.at_most"

UNIFORM = Figures(("low", "high"), UnitRole.ALONG)
TRIANGULAR = Figures(("low", "likely", "high"), UnitRole.ALONG)
MEAN = Amount(UnitRole.ALONG)
SD = Amount(UnitRole.LENGTH, above=0)
MEDIAN = Amount(UnitRole.ALONG, above=0)
FACTOR = Amount(UnitRole.PLAIN, above=1, most=MOST_FACTOR)
NORMAL = Keyed(
    {
        "mean": Key(MEAN, "Its mean; the stated number by default.", f"{{{AT}, normal: {{mean: 5, sd: 0.5}}}}"),
        "sd": Key(SD, "Its standard deviation.", f"{{{AT}, normal: {{sd: 0.5}}}}", required=True),
    }
)
LOGNORMAL = Keyed(
    {
        "median": Key(
            MEDIAN,
            "Its median; the stated number by default, which must then be above 0.",
            f"{{{AT}, lognormal: {{median: 5, factor: 1.1}}}}",
        ),
        "factor": Key(
            FACTOR,
            "What one standard deviation of the logarithm multiplies or divides by.",
            f"{{{AT}, lognormal: {{factor: 1.1}}}}",
            required=True,
        ),
    }
)


def _uniform(item: Fields, _: Number) -> Distribution | None:
    ends = UNIFORM.read(item, "uniform")
    return Uniform(*ends) if ends is not None else None


def _triangular(item: Fields, _: Number) -> Distribution | None:
    figures = TRIANGULAR.read(item, "triangular")
    return Triangular(*figures) if figures is not None else None


def _normal(item: Fields, number: Number) -> Distribution | None:
    fields = NORMAL.read(item, "normal")
    if fields is None:
        return None
    mean, sd = MEAN.read(fields, "mean", default=number.value), SD.read(fields, "sd")
    return Normal(mean.value, sd.value) if mean is not None and sd is not None else None


def _lognormal(item: Fields, number: Number) -> Distribution | None:
    fields = LOGNORMAL.read(item, "lognormal")
    if fields is None:
        return None
    if "median" not in fields and number.value <= 0:
        item.reader.fault(item.place, f"a lognormal about {number.text} at {number.address}", "a `median` above 0")
        return None
    median, factor = MEDIAN.read(fields, "median", default=number.value), FACTOR.read(fields, "factor")
    return Lognormal(median.value, factor.value) if median is not None and factor is not None else None


#: Every distribution by its key. What one draws must be in `distributions`, or in a file of its own.
DISTRIBUTIONS: dict[str, Law[Number, Distribution]] = {
    "uniform": Law(
        Key(UNIFORM, "Every value between the two alike.", f"{{{AT}, uniform: [4, 6]}}"),
        read=_uniform,
    ),
    "normal": Law(
        Key(
            NORMAL,
            "A normal distribution, held at 4.75 standard deviations, so that all it can draw is checked.",
            f"{{{AT}, normal: {{sd: 0.5}}}}",
        ),
        read=_normal,
    ),
    "triangular": Law(
        Key(
            TRIANGULAR,
            "Likeliest at the middle figure, and falling straight to nothing at the ends.",
            f"{{{AT}, triangular: [4.5, 5, 5.5]}}",
        ),
        read=_triangular,
    ),
    "lognormal": Law(
        Key(
            LOGNORMAL,
            "Its logarithm is normal, held likewise: for numbers above 0 that are argued about by ratio.",
            f"{{{AT}, lognormal: {{factor: 1.1}}}}",
        ),
        read=_lognormal,
    ),
}


def fits(item: Fields, form: Form, number: Number, distribution: Distribution) -> bool:
    """Whether the formula still reads with the least and the greatest figure that can be drawn."""
    for end in distribution.ends:
        try:
            set_address(form, number.address, f"{end:.12g}")
        except SteelyardError as fault:
            problem = fault.problems[0]
            found = f"{end:.6g} at {number.address}, which {distribution.says} can draw: {problem.found}"
            item.reader.fault(item.place, found, problem.expected, problem.hint)
            return False
    return True
