"""Published cases of the statistics room, on the raw scale of their books; the source stands beside each."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.stats.censored import fit_lives
from wearlab.stats.censored_many import fit_lives_many
from wearlab.stats.gauge import average_and_range, crossed_study
from wearlab.stats.line import fit_line
from wearlab.stats.lives import Lives
from wearlab.stats.log_rank import log_rank
from wearlab.stats.one_way import nested_f, one_way
from wearlab.stats.several_groups import all_pairs
from wearlab.stats.survival import kaplan_meier


def _with_constant(*columns):
    return np.column_stack([np.ones(len(columns[0])), *columns])


def _figures(fit):
    return [*fit.beta, *fit.standard_errors[:-1], fit.sigma, fit.loglik]


class TestAcceleratedLife:
    def test_a01_insulating_fluid_weibull(self, published):
        """Nelson 1972 and 1990, Lawless 1982 (from memory: 64.84, -17.73, 1.288, se 1.607); R survreg 3.5-3."""
        fluid = published("nelson_fluid")
        fit = fit_lives(
            _with_constant(np.log(fluid["kV"])), Lives(fluid["minutes"], fluid["minutes"]), "weibull"
        )
        expected = [64.847, -17.730, 5.620, 1.607, 1.2877, -300.817]
        assert _figures(fit) == pytest.approx(expected, abs=1e-3)
        assert -1 / fit.beta[1] == pytest.approx(0.0564, abs=5e-5)

    def test_a02_insulating_fluid_rows_in_r(self, published):
        """R survival 3.5-3 ifluid, 41 rows: not comparable with the book's figures."""
        fluid = published("ifluid")
        fit = fit_lives(
            _with_constant(np.log(fluid["voltage"])), Lives(fluid["time"], fluid["time"]), "weibull"
        )
        assert _figures(fit) == pytest.approx([65.304, -17.870, 6.771, 1.937, 1.1993, -160.820], abs=1e-3)

    def test_a03_insulating_fluid_lognormal_is_least_squares(self, published):
        """Same rows; computed with R 4.2.2."""
        fluid = published("nelson_fluid")
        X = _with_constant(np.log(fluid["kV"]))
        fit = fit_lives(X, Lives(fluid["minutes"], fluid["minutes"]))
        found = [*fit.beta, fit.sigma, fit.loglik]
        assert found == pytest.approx([59.446, -16.391, 1.5375, -303.602], abs=1e-3)
        line = fit_line(X, np.log(fluid["minutes"]))
        limits = line.interval([0, 1])
        assert [line.sigma, limits.low, limits.high] == pytest.approx([1.5582, -20.077, -12.704], abs=1e-3)
        assert fit.sigma == pytest.approx(line.sigma * math.sqrt(74 / 76), rel=1e-12)
        by_profile = fit.interval([0, 1])
        assert (by_profile.low, by_profile.high) == pytest.approx((limits.low, limits.high), rel=1e-10)

    def test_a05_motorettes(self, published):
        """Venables and Ripley, Modern Applied Statistics with S, ch. 13 (from memory): 33,813 h (se 7506) at 130."""
        motors = published("motors")
        lives = Lives.right_censored(motors["time"], motors["cens"])
        fit = fit_lives(_with_constant(motors["temp"]), lives, "weibull")
        null = fit_lives(np.ones((len(lives), 1)), lives, "weibull")
        assert [*fit.beta, *fit.standard_errors[:2]] == pytest.approx(
            [16.3185, -0.04531, 0.6230, 0.00319], abs=1e-4
        )
        assert [math.log(fit.sigma), fit.standard_errors[2]] == pytest.approx([-1.0956, 0.2148], abs=1e-4)
        assert fit.sigma == pytest.approx(0.334, abs=5e-4)
        assert [fit.loglik, null.loglik] == pytest.approx([-147.4, -169.5], abs=0.06)
        assert 2 * (fit.loglik - null.loglik) == pytest.approx(44.32, abs=0.01)
        x = np.array([1.0, 130.0])
        predicted = math.exp(x @ fit.beta)
        se = predicted * math.sqrt(x @ fit.covariance[:2, :2] @ x)
        assert [predicted, se] == pytest.approx([33813, 7506], abs=1)

    def test_a08_glass_capacitors(self, published):
        """Zelen 1959; example of the survreg help page of R survival 3.5-3."""
        rows = published("capacitor")
        lives = Lives.right_censored(rows["time"], rows["status"])
        fit = fit_lives(_with_constant(rows["temperature"], rows["voltage"]), lives, "weibull")
        expected = [13.4070, -0.02890, -0.005911, 2.2958, 0.01290, 0.001040, 0.3638, -244.242]
        np.testing.assert_allclose(_figures(fit), expected, rtol=5e-4)
        power = _with_constant(11605 / (rows["temperature"] + 273.15), np.log(rows["voltage"]))
        law = fit_lives(power, lives, "weibull")
        found = [law.beta[2], law.standard_errors[2], law.beta[1], law.sigma, law.loglik]
        assert found == pytest.approx([-1.623, 0.279, 0.5357, 0.3554, -243.628], abs=5e-4)

    def test_a13_load(self, published):
        """M. Modarres, shipped with reliability 0.9.0; its fitter and R survreg agree."""
        rows = published("load")
        fit = fit_lives(_with_constant(np.log(rows["load"])), Lives(rows["life"], rows["life"]), "weibull")
        found = [fit.beta[1], fit.standard_errors[1], fit.beta[0], 1 / fit.sigma, fit.loglik]
        assert found == pytest.approx([-1.9619, 0.2274, 17.1584, 2.614, -128.230], abs=1e-3)

    def test_a15_film(self, published):
        """Hirose 1993, R boot hirose: 44 rows, 3 still good."""
        rows = published("hirose")
        lives = Lives.right_censored(rows["time"], rows["cens"])
        assert len(lives) - lives.failures == 3
        fit = fit_lives(_with_constant(np.log(rows["volt"])), lives, "weibull")
        found = [fit.beta[1], fit.standard_errors[1], fit.beta[0], fit.sigma, fit.loglik]
        assert found == pytest.approx([-6.876, 0.272, 19.640, 0.8793, -240.183], abs=1e-3)


class TestSurvival:
    def test_w04_diesel_fans(self, published):
        """Nelson 1982; Meeker and Escobar 1998 (from memory: mean 28,701 h); R survreg."""
        fans = published("genfan")
        lives = Lives.right_censored(fans["hours"], fans["status"])
        total, failures = fans["hours"].sum(), lives.failures
        assert (total, failures) == (344_440, 12)
        assert total / failures == pytest.approx(28_703, abs=1)
        half = 1.959964 / math.sqrt(failures)
        limits = [total / failures * math.exp(-half), total / failures * math.exp(half)]
        assert limits == pytest.approx([16_301, 50_542], abs=2)
        for distribution, expected in (("weibull", [10.177, 0.9448]), ("lognormal", [10.143, 1.680])):
            fit = fit_lives(np.ones((70, 1)), lives, distribution)
            assert [fit.beta[0], fit.sigma] == pytest.approx(expected, abs=1e-3)

    def test_w07_leukaemia(self, published):
        """Gehan 1965; Kalbfleisch and Prentice (16.8, from memory); R survdiff and lifelines 16.793."""
        rows = published("gehan")
        treated = rows["treat"] == "6-MP"
        lives = Lives.right_censored(rows["time"], rows["cens"])
        test = log_rank(lives.take(treated), lives.take(~treated))
        assert test.chi_square == pytest.approx(16.793, abs=5e-4)
        assert test.p_value == pytest.approx(4.17e-5, abs=5e-8)
        assert [test.expected, 30 - test.expected] == pytest.approx([19.25, 10.75], abs=0.005)
        curve = kaplan_meier(lives.take(treated))
        shares = [curve.at(t) for t in (6, 7, 10, 13, 16, 22, 23)]
        assert shares == pytest.approx([0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448], abs=5e-4)
        assert [curve.median(), kaplan_meier(lives.take(~treated)).median()] == [23, 8]
        fit = fit_lives(_with_constant(~treated), lives, "weibull")
        found = [fit.beta[1], fit.standard_errors[1], fit.sigma]
        assert found == pytest.approx([-1.267, 0.311, 0.732], abs=1e-3)

    def test_w08_maintenance(self, published):
        """Miller 1981 (from memory); R survival documentation."""
        rows = published("aml")
        kept = rows["x"] == "Maintained"
        lives = Lives.right_censored(rows["time"], rows["status"])
        test = log_rank(lives.take(kept), lives.take(~kept))
        assert [test.chi_square, test.p_value] == pytest.approx([3.40, 0.0653], abs=5e-3)
        assert test.p_value == pytest.approx(0.0653, abs=5e-5)
        shares = kaplan_meier(lives.take(kept)).survival
        assert shares == pytest.approx([0.909, 0.818, 0.716, 0.614, 0.491, 0.368, 0.184], abs=1e-3)
        fit = fit_lives(_with_constant(~kept), lives, "weibull")
        found = [*fit.beta, fit.standard_errors[1], fit.sigma, fit.loglik]
        assert found == pytest.approx([4.109, -0.929, 0.383, 0.791, -80.522], abs=1e-3)

    def test_w09_lung(self, published):
        """R survival documentation (from memory); status 2 is dead, sex 2 is female."""
        rows = published("lung")
        lives = Lives.right_censored(rows["time"], rows["status"] == 2)
        male = rows["sex"] == 1
        test = log_rank(lives.take(male), lives.take(~male))
        assert test.chi_square == pytest.approx(10.33, abs=5e-3)
        assert test.p_value == pytest.approx(0.0013, abs=5e-5)
        curve = kaplan_meier(lives)
        limits = curve.median_interval()
        assert curve.median() == 310
        # R survfit(conf.type = "log-log"), survival 3.5-3; the printed 285 to 363 are limits on the scale of ln S.
        assert (limits.low, limits.high) == (284, 361)
        width = 1.959963985 * np.sqrt(curve.variance)
        printed = [curve.times[np.flatnonzero(curve.survival * np.exp(k * width) <= 0.5)[0]] for k in (-1, 1)]
        assert printed == [285, 363]
        fit = fit_lives(_with_constant(rows["sex"]), lives, "weibull")
        found = [fit.beta[1], fit.standard_errors[1], fit.sigma, fit.loglik]
        assert found == pytest.approx([0.3956, 0.1276, 0.755, -1148.652], abs=1e-3)

    def test_w11_turbine_wheels(self, published):
        """One look a wheel (Nelson 1982): R glm, cloglog on ln hours, -8.367 and 2.176, deviance 9.83 on 9."""
        rows = published("turbine")
        hours, failed, seen = rows["hours"], rows["failed"], rows["inspected"]
        lower = np.concatenate([np.zeros(11), hours])
        upper = np.concatenate([hours, np.full(11, np.inf)])
        counts = np.concatenate([failed, seen - failed])
        used = counts > 0
        fit = fit_lives_many(
            np.ones((used.sum(), 1)), lower[used], upper[used], "weibull", weights=counts[used]
        )
        shape = 1 / fit.sigma[0]
        assert [-fit.beta[0, 0] * shape, shape] == pytest.approx([-8.367, 2.176], abs=1e-3)
        share = failed / seen
        with np.errstate(divide="ignore", invalid="ignore"):
            best = np.nansum(failed * np.log(share)) + np.nansum((seen - failed) * np.log1p(-share))
        assert 2 * (best - fit.loglik[0]) == pytest.approx(9.83, abs=5e-3)


class TestDesignedExperiments:
    EFFECTS = ("A", "B", "C", "AB", "AC", "BC", "ABC")

    def _factors(self, rows):
        a, b, c = rows["speed_A"], rows["geometry_B"], rows["angle_C"]
        return {"A": a, "B": b, "C": c, "AB": a * b, "AC": a * c, "BC": b * c, "ABC": a * b * c}

    def _fit(self, rows, names, keep=None):
        keep = np.ones(len(rows["life_h"]), dtype=bool) if keep is None else keep
        factors = self._factors(rows)
        columns = [factors[name][keep] for name in names]
        return fit_line(
            np.column_stack([np.ones(keep.sum()), *columns]), rows["life_h"][keep], ["mean", *names]
        )

    def test_r01_effects(self, published):
        """Montgomery, Design and Analysis of Experiments, Problem 6.1 (8th ed.)."""
        fit = self._fit(published("montgomery_tool_life"), self.EFFECTS)
        expected = [0.333, 11.333, 6.833, -1.667, -8.833, -2.833, -2.167]
        assert (2 * fit.beta[1:]).tolist() == pytest.approx(expected, abs=1e-3)
        assert fit.beta[0] == pytest.approx(40.833, abs=1e-3)

    def test_r02_analysis_of_variance(self, published):
        """As R01: sums of squares and F; the standard error of a coefficient is 1.1211."""
        rows = published("montgomery_tool_life")
        full = self._fit(rows, self.EFFECTS)
        squares, ratios = [], []
        for name in self.EFFECTS:
            test = nested_f(self._fit(rows, [one for one in self.EFFECTS if one != name]), full)
            squares.append(test.ss)
            ratios.append(test.f)
        assert squares == pytest.approx([0.667, 770.667, 280.167, 16.667, 468.167, 48.167, 28.167], abs=0.01)
        assert ratios == pytest.approx([0.02, 25.55, 9.29, 0.55, 15.52, 1.60, 0.93], abs=0.01)
        assert [full.rss, full.df, full.sigma**2] == pytest.approx([482.667, 16, 30.167], abs=0.01)
        assert full.standard_errors[1] == pytest.approx(1.1211, abs=5e-5)
        total = float(np.sum((rows["life_h"] - rows["life_h"].mean()) ** 2))
        assert total == pytest.approx(2095.333, abs=0.01)

    def test_r03_reduced_model(self, published):
        """Montgomery's solutions (2012), 6.1: speed kept for the sake of its interaction."""
        rows = published("montgomery_tool_life")
        fit, flat = self._fit(rows, ["A", "B", "C", "AC"]), self._fit(rows, [])
        model = nested_f(flat, fit)
        assert fit.beta.tolist() == pytest.approx([40.833, 0.1667, 5.6667, 3.4167, -4.4167], abs=1e-3)
        assert [model.ss, model.df, model.f] == pytest.approx([1519.67, 4, 12.54], abs=0.01)
        assert [fit.rss, fit.df, fit.r_squared] == pytest.approx([575.67, 19, 0.7253], abs=0.01)
        without = self._fit(rows, ["B", "C", "AC"])
        assert [without.rss, without.sigma**2] == pytest.approx([576.333, 28.817], abs=1e-3)
        assert [fit.r_squared, without.r_squared] == pytest.approx([0.7253, 0.7249], abs=1e-4)

    def test_r04_two_replicates(self, published):
        """Walpole and others, Probability and Statistics, Exercise 15.11."""
        rows = published("montgomery_tool_life")
        keep = rows["replicate"] < 3
        full = self._fit(rows, self.EFFECTS, keep)
        expected = [1.625, 8.375, 7.125, -0.875, -12.125, -2.375, -3.625]
        assert (2 * full.beta[1:]).tolist() == pytest.approx(expected, abs=1e-3)
        assert [full.sigma**2, full.df] == pytest.approx([23.8125, 8], abs=1e-4)
        ratios = [
            nested_f(self._fit(rows, [one for one in self.EFFECTS if one != name], keep), full).f
            for name in ("B", "C", "AC")
        ]
        assert ratios == pytest.approx([11.78, 8.53, 24.70], abs=0.01)

    def test_r10_two_factors(self):
        """Walpole and others, 9th ed., ch. 14 (from memory); which factor owns 675 depends on the layout."""
        life = np.array([22, 28, 20, 34, 37, 29, 18, 15, 16, 11, 10, 10], dtype=float)
        a, b = np.repeat([1.0, 1, -1, -1], 3), np.repeat([1.0, -1, 1, -1], 3)
        columns = {"a": a, "b": b, "ab": a * b}
        full = fit_line(_with_constant(*columns.values()), life)
        tests = [
            nested_f(fit_line(_with_constant(*(columns[k] for k in columns if k != name)), life), full)
            for name in columns
        ]
        assert [one.ss for one in tests] == pytest.approx([675.0, 12.0, 192.0], abs=1e-9)
        assert [one.f for one in tests] == pytest.approx([74.31, 1.32, 21.14], abs=0.01)
        assert [tests[1].p_value, tests[2].p_value] == pytest.approx([0.284, 0.0018], abs=5e-4)
        assert [full.rss, full.df] == pytest.approx([72.667, 8], abs=1e-3)

    def test_n07_hardwood(self):
        """Montgomery and Runger, Applied Statistics and Probability, Table S13-2 (data from memory); q 3.96."""
        groups = {
            "05": [7, 8, 15, 11, 9, 10], "10": [12, 17, 13, 18, 19, 15], "15": [14, 18, 19, 17, 16, 18],
            "20": [19, 25, 22, 23, 18, 20],
        }  # fmt: skip
        test = one_way(list(groups.values()))
        assert [test.ss, test.ss_error, test.f] == pytest.approx([382.79, 130.17, 19.61], abs=0.006)
        limits = [one.interval() for one in all_pairs(groups, "tukey").contrasts]
        expected = [
            (1.542, 9.791), (2.876, 11.124), (7.042, 15.291), (-2.791, 5.458), (1.376, 9.624), (0.042, 8.291)
        ]  # fmt: skip
        # a - b with the lower concentration first: the book's larger less smaller, mirrored.
        found = [(-one.high, -one.low) for one in limits]
        np.testing.assert_allclose(found, expected, atol=0.0025)
        assert limits[-1].high < 0


class TestGauge:
    def test_g01_average_and_range(self, published):
        """AIAG, Measurement Systems Analysis, 4th ed. (from memory); the manual rounds the range of averages."""
        rows = published("aiag_gauge")
        study = average_and_range(rows["part"], rows["appraiser"], rows["value"])
        found = [study.equipment, study.appraiser, study.gauge, study.part, study.total]
        assert found == pytest.approx([0.20188, 0.22963, 0.30575, 1.10456, 1.14610], abs=1e-4)
        ranges = [study.mean_range, study.appraiser_range, study.part_range]
        assert ranges == pytest.approx([0.3417, 0.4447, 3.511], abs=5e-4)
        shares = [100 * one / study.total for one in found[:4]]
        assert shares == pytest.approx([17.62, 20.04, 26.68, 96.38], abs=0.011)
        assert int(study.distinct_categories) == 5

    def test_g02_analysis_of_variance(self, published):
        """The same manual's report by mean squares (from memory, recomputed)."""
        rows = published("aiag_gauge")
        study = crossed_study(rows["part"], rows["appraiser"], rows["value"])
        squares = [study.ss_part, study.ss_operator, study.ss_interaction, study.ss_error]
        assert squares == pytest.approx([88.3619, 3.1673, 0.3590, 2.7589], abs=1e-4)
        assert sum(squares) == pytest.approx(94.6471, abs=1e-4)
        assert study.df == (9, 2, 18, 60)
        assert [study.interaction.f, study.interaction.p_value] == pytest.approx([0.434, 0.974], abs=5e-4)
        pooled = study.components(pooled=True)
        assert pooled.repeatability == pytest.approx(0.039973, abs=1e-6)
        part, operator, _, _ = study.mean_squares
        assert [part / pooled.repeatability, operator / pooled.repeatability] == pytest.approx(
            [245.6, 39.6], abs=0.05
        )
        roots = [math.sqrt(one) for one in (pooled.repeatability, pooled.operator, pooled.gauge, pooled.part)]
        # The printed gauge sd is 1.5e-6 above the root of the printed components.
        assert roots == pytest.approx([0.199933, 0.226838, 0.302373, 1.042327], abs=2e-6)
        assert study.components().interaction == 0.0
