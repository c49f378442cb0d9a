"""Repeatability against published analyses and tables: pooled scatter, sessions, effective freedom, critical values."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from forms import form, measure

from analysis.repeats.critical_values import (
    cochran_critical,
    furthest,
    grubbs_critical,
    mandel_h_critical,
    mandel_k_critical,
)
from analysis.repeats.repeatability import Precision, effective_freedom, precisions
from scoring.catalogue import from_arrays

#: NIST, Statistical Reference Datasets, analysis of variance, SiRstv: resistivity of silicon at five instruments, five
#: readings each. The readings are from memory, and agree with the certified values, read in a public test file of R.
SILICON = [
    [196.3052, 196.1240, 196.1890, 196.2569, 196.3403],
    [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
    [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
    [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
    [196.2119, 196.1051, 196.1850, 196.0052, 196.2090],
]


def one_product_by_session(rows: list[list[float]]) -> Precision:
    """One product read in a session a row."""
    catalogue = from_arrays(["wafer"], {"resistivity": np.ravel(rows)[np.newaxis]})
    sessions = np.repeat([f"instrument {i}" for i in range(len(rows))], len(rows[0])).astype(object)
    held = replace(catalogue, extras={"session": {"resistivity": sessions[np.newaxis]}})
    return precisions(form([measure("resistivity")]), held)[0]


def test_silicon_readings_give_the_certified_analysis_of_variance() -> None:
    """Certified sums of squares, F and residual standard deviation; s_r, s_L^2 and s_R worked out from them here."""
    found = one_product_by_session(SILICON)
    part = found.sessions
    assert part is not None
    assert (found.freedom, part.freedom_between, part.n_bar) == (20, 4, pytest.approx(5))
    assert found.sd == pytest.approx(0.104076068334656, rel=1e-10)
    assert found.sd**2 * 20 == pytest.approx(0.21663656, rel=1e-9)
    assert part.mean_square * 4 == pytest.approx(0.0511462616, rel=1e-9)
    assert part.mean_square / found.sd**2 == pytest.approx(1.18046237440255, rel=1e-9)
    assert part.between_sd**2 == pytest.approx(0.00039094748, rel=1e-7)
    assert part.total_sd == pytest.approx(0.1059376, rel=1e-6)


def test_level_three_standard_deviations_pool_as_in_the_handbook() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 2.4.4.3 (read): five with one degree each, pooled 0.0197."""
    half = np.array([0.0223, 0.0027, 0.0289, 0.0133, 0.0205]) / math.sqrt(2)
    catalogue = from_arrays([f"wafer {i}" for i in range(5)], {"gauge": np.column_stack([-half, half])})
    found = precisions(form([measure("gauge")]), catalogue)[0]
    assert (found.sd, found.freedom) == (pytest.approx(0.0197, abs=5e-5), 5)


def test_sums_of_squares_pool_as_in_the_handbook() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 2.4.4.4 (read): sums of five runs on 60 degrees each add up to
    3.17635 on 300. Two readings carry each sum, 59 stand at the mean."""
    sums = np.array([0.48115, 0.69209, 0.48483, 1.21752, 0.30076])
    readings = np.zeros((5, 61))
    readings[:, 0], readings[:, 1] = np.sqrt(sums / 2), -np.sqrt(sums / 2)
    found = precisions(form([measure("gauge")]), from_arrays(list("ABCDE"), {"gauge": readings}))[0]
    assert (found.sd**2 * 300, found.freedom) == (pytest.approx(3.17635, abs=5e-5), 300)
    assert found.sd == pytest.approx(0.102897, abs=5e-7)  # worked out here from the printed sum


def test_effective_freedom_of_a_printed_example() -> None:
    """Test file of the package suncal, example ENGR224 (read): u 0.57 on 9 and 0.25 known exactly give 12.8."""
    assert effective_freedom([0.57, 0.25], [9, math.inf]) == pytest.approx(12.8, abs=0.05)


def test_effective_freedom_of_the_end_gauge() -> None:
    """JCGM 100:2008, Guide to the expression of uncertainty in measurement, H.1 (read): 25 nm on 18, 9.7 nm on 25.6, 2.9 nm
    on 50 and 16.6 nm on 2 give 16, cut off from 16.7."""
    assert math.floor(effective_freedom([25, 9.7, 2.9, 16.6], [18, 25.6, 50, 2])) == 16


def test_grubbs_example_of_the_handbook() -> None:
    """Eight mass spectrometer readings, NIST/SEMATECH e-Handbook, 1.3.5.17.1, read in the front page of R's package
    outlierTests: G 2.468765, s 15.85256, one-sided critical value at 5 % 2.031652."""
    readings = np.array([[199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]])
    statistics, columns, testable = furthest(readings)
    assert (statistics[0], columns[0], testable[0]) == (pytest.approx(2.468765, abs=5e-7), 7, True)
    assert readings.std(ddof=1) == pytest.approx(15.85256, abs=5e-6)
    assert grubbs_critical(8, 0.05, sides=1) == pytest.approx(2.031652, abs=5e-7)


#: Two-sided critical values at 5 % and 1 %: D. Harvey, Analytical Chemistry, LibreTexts, Appendix 7 (read).
GRUBBS = {
    3: (1.155, 1.155),
    4: (1.481, 1.496),
    5: (1.715, 1.764),
    6: (1.887, 1.973),
    7: (2.202, 2.139),
    8: (2.126, 2.274),
    9: (2.215, 2.387),
    10: (2.290, 2.482),
    11: (2.355, 2.564),
    12: (2.412, 2.636),
    13: (2.462, 2.699),
    14: (2.507, 2.755),
    15: (2.549, 2.755),
}
#: Where the printed table cannot be right: at 7 two digits change places (the 5 % value is above the 1 % value and above
#: that of 8), at 15 the value of 14 stands once more.
MISPRINTED = {(7, 0.05): 2.020, (15, 0.01): 2.806}


def test_grubbs_values_are_those_printed_but_for_two_misprints() -> None:
    """26 values to three decimals, give or take one in the last place."""
    differences = {
        (n, level): round(float(grubbs_critical(n, level)), 3)
        for n, printed in GRUBBS.items()
        for level, value in zip((0.05, 0.01), printed, strict=True)
        if abs(grubbs_critical(n, level) - value) > 0.00101
    }
    assert differences == MISPRINTED


@pytest.mark.parametrize(("n", "printed"), [(4, 86.1), (5, 73.5), (8, 51.4), (12, 36.1), (20, 23.6), (30, 17.1)])
def test_grubbs_values_agree_with_a_simulated_table(n: int, printed: float) -> None:
    """AOAC INTERNATIONAL, Official Methods of Analysis, 2005, Appendix D, p. 11 (read): by how many per cent taking the
    suspect out lowers the standard deviation, 2.5 % two-tailed, simulated there with about 7000 cycles and smoothed."""
    g = float(grubbs_critical(n, 0.025))
    lowered = 100 * (1 - math.sqrt((n - 1) / (n - 2) * (1 - n * g**2 / (n - 1) ** 2)))
    assert lowered == pytest.approx(printed, abs=0.9)


#: Rows are numbers of variances, columns degrees of freedom 1 to 10, 16, 36, 144, at 1 %: Cochran's test, tables beside
#: Biostatistics, University of Washington, faculty.washington.edu/heagerty/Books/Biostatistics/TABLES/Cochran (read).
COCHRAN_ONE_PER_CENT = """
2  .9999 .9950 .9794 .9586 .9373 .9172 .8988 .8823 .8674 .8539 .7949 .7067 .6062
3  .9933 .9423 .8831 .8335 .7933 .7606 .7335 .7107 .6912 .6743 .6059 .5153 .4230
4  .9676 .8643 .7814 .7212 .6761 .6410 .6129 .5897 .5702 .5536 .4884 .4057 .3251
5  .9279 .7885 .6957 .6329 .5875 .5531 .5259 .5037 .4854 .4697 .4094 .3351 .2644
6  .8828 .7218 .6258 .5635 .5195 .4866 .4608 .4401 .4229 .4084 .3529 .2858 .2229
7  .8376 .6644 .5685 .5080 .4659 .4347 .4105 .3911 .3751 .3616 .3105 .2494 .1929
8  .7945 .6152 .5209 .4627 .4226 .3932 .3704 .3522 .3373 .3248 .2779 .2214 .1700
9  .7544 .5727 .4810 .4251 .3870 .3592 .3378 .3207 .3067 .2950 .2514 .1992 .1521
10 .7175 .5358 .4469 .3934 .3572 .3308 .3106 .2945 .2813 .2704 .2297 .1811 .1376
12 .6528 .4751 .3919 .3428 .3099 .2861 .2680 .2535 .2419 .2320 .1961 .1535 .1157
15 .5747 .4069 .3317 .2882 .2593 .2386 .2228 .2104 .2002 .1918 .1612 .1251 .0934
20 .4799 .3297 .2654 .2288 .2048 .1877 .1748 .1646 .1567 .1501 .1248 .0960 .0709
24 .4247 .2871 .2295 .1970 .1759 .1608 .1495 .1406 .1338 .1283 .1060 .0810 .0595
30 .3632 .2412 .1913 .1635 .1454 .1327 .1232 .1157 .1100 .1054 .0867 .0658 .0480
40 .2940 .1915 .1508 .1281 .1135 .1033 .0957 .0898 .0853 .0816 .0668 .0503 .0363
60 .2151 .1371 .1069 .0902 .0796 .0722 .0668 .0625 .0594 .0567 .0461 .0344 .0245
"""
FREEDOM = (*range(1, 11), 16, 36, 144)
#: Rows are numbers of data sets, columns numbers of values 2 to 5, at 5 %: National Measurement System, chemical and
#: biological metrology, Cochran test, 14 January 2009 (read).
COCHRAN_FIVE_PER_CENT = """
2  .998 .975 .939 .906
3  .967 .871 .798 .746
4  .906 .768 .684 .629
5  .841 .684 .598 .544
6  .781 .616 .532 .480
7  .727 .561 .480 .431
8  .680 .516 .438 .391
9  .638 .477 .403 .358
10 .602 .445 .373 .331
15 .471 .335 .276 .242
20 .389 .270 .221 .192
"""


def rows_of(table: str) -> dict[int, list[float]]:
    """A printed table by the number at the head of each row."""
    rows = [line.split() for line in table.split("\n") if line]
    return {int(row[0]): [float(value) for value in row[1:]] for row in rows}


@pytest.mark.parametrize(("n_cells", "printed"), rows_of(COCHRAN_ONE_PER_CENT).items())
def test_cochran_values_at_one_per_cent_are_those_printed(n_cells: int, printed: list[float]) -> None:
    """208 values: within 0.00015 for 1 to 8 degrees of freedom; columns 9, 10, 16 and 36 are less exact in print."""
    for freedom, value in zip(FREEDOM, printed, strict=True):
        found = cochran_critical(freedom, n_cells * freedom, n_cells, 0.01)
        assert found == pytest.approx(value, abs=0.000151 if freedom <= 8 else 0.0009), freedom


@pytest.mark.parametrize(("n_sets", "printed"), rows_of(COCHRAN_FIVE_PER_CENT).items())
def test_cochran_values_at_five_per_cent_are_those_printed(n_sets: int, printed: list[float]) -> None:
    """44 values, all of them to the last digit."""
    for repeats, value in enumerate(printed, start=2):
        found = cochran_critical(repeats - 1, n_sets * (repeats - 1), n_sets, 0.05)
        assert found == pytest.approx(value, abs=0.000501), repeats


#: h, then k for 2 to 10 repeats, at 1 %, by number of laboratories: ISO 5725-2:1994, table 6, as quoted on the pages
#: "Statistical methods" at metrology.wordpress.com (read).
MANDEL_ONE_PER_CENT = """
3  1.15 1.71 1.64 1.58 1.53 1.49 1.46 1.43 1.41 1.39
4  1.49 1.91 1.77 1.67 1.60 1.55 1.51 1.48 1.45 1.43
5  1.72 2.05 1.85 1.73 1.65 1.59 1.55 1.51 1.48 1.46
6  1.87 2.14 1.90 1.77 1.68 1.62 1.57 1.53 1.50 1.47
7  1.98 2.20 1.94 1.79 1.70 1.63 1.58 1.54 1.51 1.48
8  2.06 2.25 1.97 1.81 1.71 1.65 1.59 1.55 1.52 1.49
9  2.13 2.29 1.99 1.82 1.73 1.66 1.60 1.56 1.53 1.50
10 2.18 2.32 2.00 1.84 1.74 1.66 1.61 1.57 1.53 1.50
11 2.22 2.34 2.01 1.85 1.74 1.67 1.62 1.57 1.54 1.51
12 2.25 2.36 2.02 1.85 1.75 1.68 1.62 1.58 1.54 1.51
13 2.27 2.38 2.03 1.86 1.76 1.68 1.63 1.58 1.55 1.52
14 2.30 2.39 2.04 1.87 1.76 1.69 1.63 1.58 1.55 1.52
15 2.32 2.41 2.05 1.87 1.76 1.69 1.63 1.59 1.55 1.52
"""


def test_mandel_values_are_those_of_the_standard() -> None:
    """130 values to two decimals: h everywhere, k in 100 of 117; the others differ by one in the last place."""
    rows = rows_of(MANDEL_ONE_PER_CENT)
    h = np.array([mandel_h_critical(n, 0.01) for n in rows])
    k = np.array([[mandel_k_critical(m - 1, n * (m - 1), 0.01) for m in range(2, 11)] for n in rows])
    printed = np.array(list(rows.values()))
    np.testing.assert_allclose(h, printed[:, 0], rtol=0, atol=0.00501)
    np.testing.assert_allclose(k, printed[:, 1:], rtol=0, atol=0.0091)
    assert int((np.abs(k - printed[:, 1:]) <= 0.00501).sum()) == 100
