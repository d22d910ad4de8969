"""Certified sets of the National Institute of Standards and Technology (StRD), each to the digits that its
data hold.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from wearlab.stats.curve import fit_curve
from wearlab.stats.line import fit_line
from wearlab.stats.one_way import nested_f, one_way

# SmLs07 to 09 carry 13 constant leading digits: as floats their data are only good to about four digits.
DIGITS = {
    "SiRstv": 9, "AtmWtAg": 9, "SmLs01": 9, "SmLs02": 9, "SmLs03": 9, "SmLs04": 9, "SmLs05": 9, "SmLs06": 9,
    "SmLs07": 4, "SmLs08": 4, "SmLs09": 4,
}  # fmt: skip


@pytest.mark.parametrize("name, digits", DIGITS.items())
def test_one_way(name, digits, nist_anova):
    groups, certified = nist_anova(name)
    found = one_way(groups)
    assert (found.df, found.df_error) == (certified["df_between"], certified["df_within"])
    worst = abs(found.f / certified["f"] - 1)
    assert worst < 10.0**-digits, f"{-np.log10(worst):.1f} digits"
    if digits == 9:
        mine = [found.ss, found.ss_error, found.ms_error**0.5]
        assert mine == pytest.approx([certified[one] for one in ("ss_between", "ss_within", "sd")], rel=1e-9)


@pytest.mark.parametrize("name", ["AtmWtAg", "SmLs04", "SmLs07"])
def test_one_way_against_fractions(name, nist_anova):
    """What is missing in the hard sets is missing in the data: exact arithmetic on the same floats agrees."""
    floats, _ = nist_anova(name)
    groups = [[Fraction(float(value)) for value in group] for group in floats]
    means = [sum(group) / len(group) for group in groups]
    n = sum(len(group) for group in groups)
    grand = sum(sum(group) for group in groups) / n
    between = sum(len(group) * (mean - grand) ** 2 for group, mean in zip(groups, means, strict=True))
    within = sum((value - mean) ** 2 for group, mean in zip(groups, means, strict=True) for value in group)
    found = one_way(floats)
    exact = between / (len(groups) - 1) / (within / (n - len(groups)))
    assert [found.ss, found.ss_error, found.f] == pytest.approx(
        [float(between), float(within), float(exact)], rel=1e-13
    )


def test_norris(nist_rows):
    rows = nist_rows("Norris", 61)
    y, x = rows.T
    fit = fit_line(np.column_stack([np.ones(len(x)), x]), y)
    flat = fit_line(np.ones((len(x), 1)), y)
    found = [*fit.beta, *fit.standard_errors, fit.sigma, fit.r_squared, nested_f(flat, fit).f]
    certified = [
        -0.262323073774029, 1.00211681802045, 0.232818234301152, 0.000429796848199937, 0.884796396144373,
        0.999993745883712, 5436385.54079785,
    ]  # fmt: skip
    assert found == pytest.approx(certified, rel=5e-10)


@pytest.mark.parametrize("start", [(1.0, 5.0), (0.7, 4.0)], ids=["far", "near"])
def test_danwood(start, nist_rows):
    """A pure power law; its certified starts, six digits."""
    y, x = nist_rows("DanWood", 61).T
    fit = fit_curve(lambda b: b[0] * x ** b[1], y, start)
    certified = [0.76886226176, 3.8604055871, 0.018281973860, 0.051726610913, 0.0043173084083]
    assert [*fit.beta, *fit.standard_errors, fit.rss] == pytest.approx(certified, rel=5e-7)
    # A fit in logs is another estimator, not an error: 0.74995 and 3.9172.
    logs = fit_line(np.column_stack([np.ones(len(x)), np.log(x)]), np.log(y))
    assert [np.exp(logs.beta[0]), logs.beta[1]] == pytest.approx([0.74995, 3.9172], rel=1e-5)


@pytest.mark.parametrize("start", [(2.0, 0.0001, -0.01), (2.5, 0.000000005, -0.05)], ids=["far", "near"])
def test_nelson(start, nist_rows):
    """Degradation of insulation (Nelson 1981), 128 rows; five digits."""
    y, x1, x2 = nist_rows("Nelson", 61).T
    fit = fit_curve(lambda b: b[0] - b[1] * x1 * np.exp(-b[2] * x2), np.log(y), start)
    certified = [2.5906836021, 5.6177717026e-9, -0.057701013174, 3.7976833176]
    assert [*fit.beta, fit.rss] == pytest.approx(certified, rel=5e-6)
