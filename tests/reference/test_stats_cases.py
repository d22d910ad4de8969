"""The generated reference cases whose method is in the statistics room, each at its worst figure.

The programs and versions behind the figures stand in reference_cases.json.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.stats.censored import LifeRegression, fit_lives
from wearlab.stats.collinearity import collinearity
from wearlab.stats.detectable import cutters_needed, equivalence_power, t_power
from wearlab.stats.equivalence import two_one_sided
from wearlab.stats.gauge import crossed_study
from wearlab.stats.gauge_reml import reml_study
from wearlab.stats.lack_of_fit import lack_of_fit
from wearlab.stats.line import fit_line
from wearlab.stats.lives import Lives
from wearlab.stats.log_rank import log_rank
from wearlab.stats.one_way import one_way
from wearlab.stats.permutation import exact_mean_difference, exact_sign_flip
from wearlab.stats.pooling import pool
from wearlab.stats.prior import with_prior
from wearlab.stats.several_groups import against_standard, all_pairs
from wearlab.stats.survival import kaplan_meier
from wearlab.stats.tolerance import normal_factor
from wearlab.stats.two_groups import blocked, paired, student, welch
from wearlab.stats.value_of_information import worth_of_more


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
            "vif": collinearity(X, names).inflation[0],
        }
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


def test_slopes_of_cutters_answer_as_the_mixed_model_does(case):
    """R lme4 1.1-31, lmer(vb ~ t * strategy + (1 + t centred || cutter)), REML, with lmerTest 3.1-3 (Satterthwaite):
    in a balanced trial the two-stage answer is the mixed model's, standard error and degrees of freedom included."""
    a, b = _slopes(case("naive_trap").input)
    found = student(a, b)
    assert b.mean() - a.mean() == pytest.approx(-1.458095238095, rel=1e-11)
    assert found.se == pytest.approx(0.466162973560, rel=2e-7)
    assert found.df == 4
    assert found.p_value == pytest.approx(0.0352577848, rel=5e-7)


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


def test_lack_of_fit(case):
    one = case("lack_of_fit")
    test = lack_of_fit(_with_constant(np.log(one.input["V"])), np.log(one.input["T"]))
    one.check({"F": test.f, "p": test.p_value, "pure_error_sd": math.sqrt(test.ms_error)})


def test_log_rank(case):
    one = case("logrank")
    a = Lives.right_censored(one.input["ta"], one.input["ea"])
    b = Lives.right_censored(one.input["tb"], one.input["eb"])
    test = log_rank(a, b)
    one.check(
        {
            "chi2": test.chi_square, "p": test.p_value, "O1": test.observed, "E1": test.expected,
            "V11": test.variance,
        }
    )  # fmt: skip


def test_kaplan_meier(case):
    one = case("km")
    curve = kaplan_meier(Lives.right_censored(one.input["t"], one.input["e"]))
    limits = curve.interval(60)
    one.check({"S50": curve.at(50), "S60": curve.at(60), "lo60": limits.low, "hi60": limits.high})


def _log_groups(given):
    return {name: np.log(given[name]) for name in ("std", "x", "y", "z")}


def test_tukey(case):
    one = case("tukey")
    groups = _log_groups(one.input)
    family = {(pair.a, pair.b): pair for pair in all_pairs(groups, "tukey").contrasts}
    against = family["std", "x"]  # std - x; the stored one is x - std
    limits = against.interval()
    one.check(
        {
            "F": one_way(list(groups.values())).f, "x_std_diff": -against.difference, "x_std_lo": -limits.high,
            "x_std_hi": -limits.low, "x_std_p": against.p_value, "z_y_p": family["y", "z"].p_value,
        }
    )  # fmt: skip


def test_dunnett(case):
    one = case("dunnett")
    family = against_standard(_log_groups(one.input), "std", "dunnett")
    one.check({"p": [pair.p_value for pair in family.contrasts]})


def test_holm(case):
    one = case("holm")
    groups = _log_groups(one.input)
    family = against_standard(groups, "std", "holm_welch")
    raw = [welch(groups[name], groups["std"]).p_value for name in "xyz"]
    one.check({"raw": raw, "adj": [pair.p_value for pair in family.contrasts]})


def test_gauge_study(case):
    one = case("gauge")
    rows = (one.input["part"], one.input["oper"], one.input["y"])
    study, reml = crossed_study(*rows), reml_study(*rows)
    parts, total, repeat = study.components(), study.gauge_interval(), study.repeatability_interval()
    names = ("MS_part", "MS_oper", "MS_int", "MS_err")
    one.check(
        dict(zip(names, study.mean_squares, strict=True))
        | {
            "v_repeat": parts.repeatability, "v_int": parts.interaction, "v_oper": parts.operator,
            "v_part": parts.part, "total_gauge": parts.gauge, "mls_lo": total.low, "mls_hi": total.high,
            "repeat_sd_lo": repeat.low, "repeat_sd_hi": repeat.high, "reml_part": reml.components.part,
            "reml_oper": reml.components.operator, "reml_int": reml.components.interaction,
            "reml_err": reml.components.repeatability, "reml_loglik": reml.loglik,
        }
    )  # fmt: skip
    # The tolerance of the case is that of the REML programs; the mean squares agree far better.
    assert [*study.mean_squares, total.low, total.high] == pytest.approx(
        [one.expected[name] for name in (*names, "mls_lo", "mls_hi")], rel=1e-9
    )


def test_tolerance_factors(case):
    figures = {f"n{n}": normal_factor(n) for n in (3, 5, 8, 12, 20)}
    case("tolerance_k").check(figures | {"n10_95_95": normal_factor(10, 0.95, 0.95)})


def test_prior(case):
    one = case("nig")
    x, y = np.log(one.input["V"]), np.log(one.input["T"])
    found = with_prior(x, y, 0.25, 0.06)
    slope = found.interval()
    n = slope.map(lambda b: -1 / b)
    one.check(
        {
            "slope": found.slope, "s2": found.sigma**2, "df": found.df, "se_slope": found.se_slope,
            "slope_lo": slope.low, "slope_hi": slope.high, "n": -1 / found.slope, "n_lo": n.low, "n_hi": n.high,
            "intercept": found.intercept,
        }
    )  # fmt: skip


def test_pooling(case):
    one = case("meta")
    moment = pool(one.input["b"], one.input["v"])
    balanced = pool(one.input["b"], one.input["v"], "paule-mandel")
    limits = moment.interval()
    one.check(
        {
            "tau2_dl": moment.between, "mean_dl": moment.mean, "se_dl": moment.se, "Q": moment.q,
            "mean_fe": moment.common, "tau2_pm": balanced.between, "hksj_se": moment.se_t,
            "hksj_lo": limits.low, "hksj_hi": limits.high, "blup1": moment.shrunken[0],
        }
    )  # fmt: skip


def test_worth_of_more(case):
    worth = worth_of_more(0.05, 0.15, 3, 2)
    case("evsi").check({"evsi": worth.expected, "evpi": worth.certainty})


def test_every_case_is_checked(case):
    """A case that nobody calls would be a silent gap."""
    import json
    from pathlib import Path

    stored = json.loads((Path(__file__).parent / "reference_cases.json").read_text())["cases"]
    assert len(stored) == 30
    text = Path(__file__).read_text()
    assert [one["id"] for one in stored if f'"{one["id"]}"' not in text] == []
