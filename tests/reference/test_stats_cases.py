"""The generated reference cases whose method is in the statistics room, each at its worst figure.

The programs and versions behind the figures stand in reference_cases.json.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.stats.censored import LifeRegression, fit_lives
from wearlab.stats.detectable import cutters_needed, equivalence_power, t_power
from wearlab.stats.equivalence import two_one_sided
from wearlab.stats.line import fit_line
from wearlab.stats.lives import Lives
from wearlab.stats.permutation import exact_mean_difference, exact_sign_flip
from wearlab.stats.two_groups import blocked, paired, student, welch


def _with_constant(*columns):
    return np.column_stack([np.ones(len(columns[0])), *columns])


def _regression_figures(fit: LifeRegression) -> dict[str, float]:
    return {
        "intercept": fit.beta[0],
        "slope": fit.beta[1],
        "scale": fit.sigma,
        "loglik": fit.loglik,
        "se_intercept": fit.standard_errors[0],
        "se_slope": fit.standard_errors[1],
        "se_logscale": fit.standard_errors[2],
    }


def _lives(given) -> Lives:
    if "event" in given:
        return Lives.right_censored(given["T"], given["event"])
    return Lives(given["lower"], [math.inf if one is None else one for one in given["upper"]])


def test_taylor_line(case):
    one = case("taylor_ols")
    ln_v, ln_t = np.log(one.input["V"]), np.log(one.input["T"])
    fit = fit_line(_with_constant(ln_v), ln_t, ["intercept", "ln V"])
    slope = fit.interval([0, 1])
    n = slope.map(lambda b: -1 / b)
    x = [1.0, math.log(150)]
    mean, following = fit.mean(x).exp(), fit.prediction(x).exp()
    back = fit_line(_with_constant(ln_t), ln_v)
    one.check(
        {
            "intercept": fit.beta[0], "slope": fit.beta[1], "se_slope": fit.standard_errors[1], "s":
            fit.sigma, "slope_lo": slope.low, "slope_hi": slope.high, "n": -1 / fit.beta[1], "n_lo": n.low,
            "n_hi": n.high, "C": math.exp(-fit.beta[0] / fit.beta[1]), "T150": math.exp(fit.estimate(x)),
            "T150_ci_lo": mean.low, "T150_ci_hi": mean.high, "T150_pi_lo": following.low, "T150_pi_hi":
            following.high, "n_reverse": -back.beta[1],
        }
    )  # fmt: skip


def test_complete_lognormal_lives_give_the_t_interval(case):
    """Not a stored case: with every life known the F cut of the profile must be Student's interval."""
    one = case("taylor_ols")
    ln_v = np.log(one.input["V"])
    fit = fit_lives(_with_constant(ln_v), Lives(one.input["T"], one.input["T"]))
    slope, median = fit.interval([0, 1]), fit.quantile_interval([1, math.log(150)])
    figures = ["slope_lo", "slope_hi", "T150_ci_lo", "T150_ci_hi"]
    assert [slope.low, slope.high, median.low, median.high] == pytest.approx(
        [one.expected[name] for name in figures], rel=1e-11
    )


def test_lives_right_censored(case):
    for name in ("aft_right_lognormal", "aft_right_weibull"):
        one = case(name)
        x = np.log(np.array(one.input["V"]) / 140)
        fit = fit_lives(_with_constant(x), _lives(one.input), name.rsplit("_", 1)[1])
        at_140 = [1.0, 0.0]
        figures = _regression_figures(fit) | {
            "n": -1 / fit.beta[1],
            "median_at_140": fit.median(at_140),
            "b10_at_140": fit.quantile(at_140, 0.10),
        }
        one.check(figures)


def test_lives_of_every_kind(case):
    one = case("aft_interval_lognormal")
    fit = fit_lives(_with_constant(np.log(np.array(one.input["V"]) / 140)), _lives(one.input))
    one.check(_regression_figures(fit))


def test_profile_limits(case):
    one = case("profile_slope_lognormal")
    fit = fit_lives(_with_constant(np.log(np.array(one.input["V"]) / 140)), _lives(one.input))
    by_f, by_chi = fit.interval([0, 1]), fit.interval([0, 1], reference="chi-square")
    t = 2.306004135033371  # Student, 97.5 %, 8 degrees of freedom (R qt)
    one.check(
        {
            "F_lo": by_f.low, "F_hi": by_f.high, "chi2_lo": by_chi.low, "chi2_hi": by_chi.high,
            "F_crit": fit.failures * math.log1p(t**2 / fit.df),
        }
    )  # fmt: skip


def test_extended_taylor(case):
    one = case("extended_taylor")
    names = ["intercept", "ln V", "ln f"]
    X = _with_constant(np.log(one.input["V"]), np.log(one.input["f"]))
    fit = fit_line(X, np.log(one.input["T"]), names)
    one.check(
        {
            "intercept": fit.beta[0], "bV": fit.beta[1], "bf": fit.beta[2], "s": fit.sigma,
            "se_bV": fit.standard_errors[1], "se_bf": fit.standard_errors[2],
        },
        without=("vif",),
    )  # fmt: skip


def test_welch_and_student_ratio(case):
    for name, method in (("welch_ratio", welch), ("student_ratio", student)):
        one = case(name)
        result = method(np.log(one.input["a"]), np.log(one.input["b"]))
        ratio = result.interval().exp()
        figures = {
            "t": result.statistic, "df": result.df, "p": result.p_value, "ratio": math.exp(result.difference),
            "lo": ratio.low, "hi": ratio.high,
        }  # fmt: skip
        one.check(figures)


def test_exact_permutation(case):
    one = case("perm_exact")
    result = exact_mean_difference(np.log(one.input["a"]), np.log(one.input["b"]))
    one.check({"p_two": result.p_value, "n_perm": result.splits})
    assert result.exact


def test_sign_flip(case):
    one = case("signflip_exact")
    result = exact_sign_flip(np.log(one.input["a"]) - np.log(one.input["b"]))
    one.check({"p_two": result.p_value})
    assert result.smallest_p == 2 / 64


def test_pairs_and_blocks(case):
    one = case("paired_t")
    a, b = np.log(one.input["a"]), np.log(one.input["b"])
    result = paired(a, b)
    ratio = result.interval().exp()
    one.check(
        {
            "t": result.statistic, "p": result.p_value, "ratio": math.exp(result.difference),
            "lo": ratio.low, "hi": ratio.high,
        }
    )  # fmt: skip
    blocks = [1, 2, 3, 4, 5, 6]
    in_blocks = blocked(np.concatenate([b, a]), ["a"] * 6 + ["b"] * 6, blocks * 2)
    case("block_ols").check({"diff": in_blocks.difference, "p": in_blocks.p_value, "se": in_blocks.se})


def test_equivalence(case):
    one = case("tost")
    result = welch(np.log(one.input["z"]), np.log(one.input["std"]))
    both = two_one_sided(result, -math.log(1.25), math.log(1.25))
    ninety = result.interval(0.90)
    one.check(
        {"p_lower": both.p_lower, "p_upper": both.p_upper, "ci90_lo": ninety.low, "ci90_hi": ninety.high}
    )


def test_power(case):
    one = case("power")
    one.check({"n5": t_power(0.15, 1.3, 5, 5)}, without=("n_needed",))
    assert cutters_needed(0.15, 1.25) == math.ceil(one.expected["n_needed"])


def test_power_of_equivalence(case):
    case("tost_power").check(
        {
            "n9": equivalence_power(0.15, 9, 9, 1.25),
            "n6": equivalence_power(0.15, 6, 6, 1.25),
            "n9_off": equivalence_power(0.15, 9, 9, 1.25, ratio=1.05),
        }
    )


def test_weibull_of_one_group(case):
    one = case("weibull_uni")
    fit = fit_lives(np.ones((8, 1)), Lives.right_censored(one.input["t"], one.input["e"]), "weibull")
    one.check(
        {
            "eta": math.exp(fit.beta[0]), "beta": 1 / fit.sigma, "loglik": fit.loglik,
            "b10": fit.quantile([1.0], 0.10),
        }
    )  # fmt: skip


def test_zones(case):
    one = case("zone")
    a = np.log(np.array(one.input["A_bottom"]) / one.input["A_upper"])
    b = np.log(np.array(one.input["B_bottom"]) / one.input["B_upper"])
    result = welch(b, a)
    ratio = result.interval().exp()
    one.check(
        {
            "ratio_A": math.exp(a.mean()), "ratio_B": math.exp(b.mean()),
            "ratio_of_ratios": math.exp(result.difference), "lo": ratio.low, "hi": ratio.high,
            "p": result.p_value, "df": result.df,
        }
    )  # fmt: skip


def _slopes(given) -> tuple[np.ndarray, np.ndarray]:
    cutter, t = np.array(given["cutter"]), np.array(given["t"], dtype=float)
    slopes = [
        fit_line(_with_constant(t[cutter == one]), np.array(given["vb"])[cutter == one]).beta[1] * 1000
        for one in range(1, 7)
    ]
    return np.array(slopes[:3]), np.array(slopes[3:])


def test_slopes_of_cutters(case):
    one = case("cutter_slopes")
    a, b = _slopes(one.input)
    one.check(
        {
            "slopes": np.concatenate([a, b]), "student_p": student(a, b).p_value, "diff": b.mean() - a.mean(),
            "welch_p": welch(a, b).p_value,
        }
    )  # fmt: skip


def test_the_trap_of_counting_readings(case):
    one = case("naive_trap")
    t, in_b = np.array(one.input["t"], dtype=float), np.array(one.input["strategy"]) == "B"
    naive = fit_line(_with_constant(t, in_b, in_b * t), 1000 * np.array(one.input["vb"]))
    a, b = _slopes(one.input)
    one.check(
        {
            "interaction": naive.beta[3], "p_all_readings": naive.p_value([0, 0, 0, 1]),
            "p_cutters_student": student(a, b).p_value, "p_cutters_welch": welch(a, b).p_value,
        }
    )  # fmt: skip
