"""REML of a measurement study: studies on which the search once failed."""

from __future__ import annotations

import numpy as np
import pytest

from wearlab.core.errors import Refusal
from wearlab.stats.gauge_reml import reml_study


def test_parts_far_apart_against_lme4():
    # lme4 1.1-31, lmer(value ~ 1 + (1|part) + (1|operator) + (1|part:operator)): 100.74, 1.67, 0, 4.47 um.
    read = [254, 253, 247, 262, 295, 297, 298, 307, 239, 245, 245, 243, 452, 455, 464, 452, 190, 193, 194, 192]
    part, operator = np.repeat(np.arange(5), 4), np.tile(["A", "A", "B", "B"], 5)
    found = reml_study(part.tolist(), operator.tolist(), read).components
    assert np.sqrt(found.part) == pytest.approx(100.74, abs=0.006)
    assert np.sqrt(found.operator) == pytest.approx(1.67, abs=0.006)
    assert found.interaction == 0
    assert np.sqrt(found.repeatability) == pytest.approx(4.47, abs=0.006)


def test_each_part_read_by_one_operator_alone_is_refused():
    part, operator = np.repeat(np.arange(4), 2), np.repeat(["A", "B"], 4)
    with pytest.raises(Refusal, match="read by one operator alone"):
        reml_study(part.tolist(), operator.tolist(), [1, 2, 3, 5, 4, 6, 9, 8])
