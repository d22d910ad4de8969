"""At or past a limit: the one comparison that lives, rates and verdicts on readings share."""

from __future__ import annotations

from typing import Any

ROUNDING = 1e-9
"""Share of a limit within which a value counts as on it. A mean of flutes that is 0.3 mm on paper may be
0.29999999999999993 in binary; no instrument tells 1e-9 of a limit."""


def reached(value: Any, limit: float) -> Any:
    """Whether a rising value, or each of an array, is at or past a limit.

    >>> reached((0.33 + 0.35 + 0.35 + 0.17) / 4, 0.3), reached(0.2999, 0.3)
    (True, False)
    """
    return value >= limit - ROUNDING * abs(limit)
