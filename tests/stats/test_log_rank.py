from __future__ import annotations

import numpy as np
import pytest

from wearlab.core.errors import Refusal
from wearlab.stats.lives import Lives
from wearlab.stats.log_rank import log_rank, log_rank_scores
from wearlab.stats.permutation import score_test

TIMES = [42.5, 55.1, 61.0, 48.3, 70.0, 58.8, 64.2, 70.0, 70.0, 51.7]
FAILED = [1, 1, 1, 1, 0, 1, 1, 0, 0, 1]


class TestLogRank:
    def test_against_scipy(self):
        from scipy.stats import CensoredData, logrank

        rng = np.random.default_rng(5)
        a, b = rng.integers(1, 9, 12).astype(float), rng.integers(1, 12, 15).astype(float)
        fa, fb = rng.uniform(size=12) < 0.7, rng.uniform(size=15) < 0.7
        mine = log_rank(Lives.right_censored(a, fa), Lives.right_censored(b, fb))
        theirs = logrank(CensoredData.right_censored(a, ~fa), CensoredData.right_censored(b, ~fb))
        assert mine.chi_square == pytest.approx(theirs.statistic**2, rel=1e-12)
        assert mine.p_value == pytest.approx(theirs.pvalue, rel=1e-11)

    def test_scores_sum_to_expected_less_observed(self):
        lives = Lives.right_censored(TIMES, FAILED)
        in_a = np.arange(10) < 5
        test = log_rank(lives.take(in_a), lives.take(~in_a))
        scores = log_rank_scores(lives)
        assert scores[in_a].sum() == pytest.approx(test.expected - test.observed, rel=1e-12)
        assert scores.sum() == pytest.approx(0, abs=1e-12)
        assert score_test(scores, in_a).splits == 252

    def test_refusals(self):
        with pytest.raises(Refusal, match="no failures"):
            log_rank_scores(Lives.right_censored([3, 4.0], [0, 0]))
        with pytest.raises(Refusal, match="only between two looks"):
            log_rank(Lives([1.0], [2.0]), Lives([1.0], [1.0]))
