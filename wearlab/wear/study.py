"""A measurement study: how far can a land reading be trusted, and what does that mean for a life?

Parts by people by repeats, the cutter taken out and set up again between repeats. The study says what two readings of
one land differ by through chance alone, and how many minutes of life that is at a given wear rate.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from wearlab.core.errors import ArgumentError, FileProblem, Refusal
from wearlab.core.interval import Interval
from wearlab.core.tables import ShownAsFacts, plain
from wearlab.core.units import TO_MM, length_unit
from wearlab.logbook.files import read_source
from wearlab.stats.gauge import Components, CrossedStudy, crossed_study

COLUMNS = ("part", "operator", "value", "unit")
"""What a study file must hold; `repeat` may stand beside them and is not needed."""
REPEATABLE = 2.8
"""Two readings of one land differ by less than this many standard deviations 19 times in 20: 1.96 times root 2."""
GOOD, CONDITIONAL = 0.10, 0.30
"""Gauge over total scatter: below the first good, below the second conditional (AIAG, Measurement Systems Analysis)."""


@dataclass(frozen=True, slots=True)
class MeasurementStudy(ShownAsFacts):
    """A crossed study of land readings, in mm.

    Attributes
    ----------
    study : CrossedStudy
        Mean squares.
    components : Components
        Variances in mm2, none below 0.
    repeatability_mm, gauge_mm, part_mm : float
        Standard deviations: of repeats, of the gauge as a whole, of the parts.
    operators_seen : bool
        False where two people or fewer took part: their upper limit says next to nothing.
    """

    study: CrossedStudy
    components: Components

    @property
    def repeatability_mm(self) -> float:
        """Standard deviation of repeated readings by one person."""
        return math.sqrt(self.components.repeatability)

    @property
    def gauge_mm(self) -> float:
        """Standard deviation of one reading by anyone."""
        return math.sqrt(self.components.gauge)

    @property
    def part_mm(self) -> float:
        """Standard deviation between the parts of the study."""
        return math.sqrt(self.components.part)

    @property
    def share(self) -> float:
        """Gauge over total standard deviation."""
        total = math.sqrt(self.components.total)
        return self.gauge_mm / total if total > 0 else math.nan

    @property
    def categories(self) -> float:
        """Distinct categories, 1.41 times part over gauge (not its root: a slip that is seen in print)."""
        return 1.41 * self.part_mm / self.gauge_mm if self.gauge_mm > 0 else math.inf

    @property
    def operators_seen(self) -> bool:
        """Whether enough people took part to say anything of them."""
        return self.study.operators > 2

    @property
    def difference_mm(self) -> float:
        """What two readings of one land may differ by through chance alone, 19 times in 20."""
        return REPEATABLE * self.gauge_mm

    def repeatability_interval(self, level: float = 0.95) -> Interval:
        """Of the standard deviation of repeats, mm."""
        return self.study.repeatability_interval(level)

    def gauge_interval(self, level: float = 0.95) -> Interval:
        """Of the standard deviation of the gauge as a whole, mm."""
        return self.study.gauge_interval(level).map(math.sqrt)

    def standard_error_mm(self, flutes: int) -> float:
        """Of the mean land over some flutes read once by one person."""
        between = self.components.operator + self.components.interaction
        return math.sqrt(self.components.repeatability / flutes + between)

    def life_error(self, rate_mm: float, flutes: int) -> float:
        """Standard deviation that reading error alone gives a life, in units of the clock of the rate.

        Raises
        ------
        Refusal
            The rate is not above 0.
        """
        if not rate_mm > 0:
            raise Refusal(
                "the wear rate is not above 0: a reading error is no error of life", where="measurement study"
            )
        return self.standard_error_mm(flutes) / rate_mm

    def __repr__(self) -> str:
        return (
            f"<MeasurementStudy: repeatability {self.repeatability_mm:.4g} mm, gauge {self.gauge_mm:.4g} mm, "
            f"parts {self.part_mm:.4g} mm>"
        )

    def to_dict(self, level: float = 0.95) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain(
            {
                "parts": self.study.parts,
                "operators": self.study.operators,
                "repeats": self.study.repeats,
                "unit": "mm",
                "repeatability": {"sd": self.repeatability_mm, **self.repeatability_interval(level).to_dict()},
                "gauge": {"sd": self.gauge_mm, **self.gauge_interval(level).to_dict()},
                "operator_variance": {
                    "variance": self.components.operator,
                    **self.study.operator_interval(level).to_dict(),
                },
                "part_sd": self.part_mm,
                "share": self.share,
                "categories": self.categories,
                "two_readings_differ_by": self.difference_mm,
                "operators_seen": self.operators_seen,
            }
        )
        return made


def measurement_study(readings: pd.DataFrame) -> MeasurementStudy:
    """Analyse a study.

    Parameters
    ----------
    readings : pandas.DataFrame
        `part`, `operator`, `value_mm`; every part read equally often by everyone.

    Raises
    ------
    Refusal
        The study is not complete, or has no repeats.

    Notes
    -----
    Analysis of variance of the crossed layout, negative components shown as 0, intervals by chi-square and the modified
    large-sample method; see `wearlab.stats.gauge`.

    Examples
    --------
    >>> rows = [(part, who, 0.1 * part + 0.002 * who + 0.001 * again) for part in range(1, 6) for who in (1, 2, 3)
    ...         for again in (0, 1)]
    >>> measurement_study(pd.DataFrame(rows, columns=["part", "operator", "value_mm"]))
    <MeasurementStudy: repeatability 0.0007071 mm, gauge 0.002121 mm, parts 0.1581 mm>
    """
    study = crossed_study(
        readings["part"].tolist(), readings["operator"].tolist(), readings["value_mm"].to_numpy(float)
    )
    return MeasurementStudy(study, study.components())


def read_study(path: str | Path) -> pd.DataFrame:
    """Read a study file: CSV with `part`, `operator`, `value`, `unit`.

    Raises
    ------
    FileProblem
        The file cannot be read, a column is missing, or a cell is no number or no length unit.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     path = Path(folder) / "study.csv"
    ...     _ = path.write_text("part,operator,value,unit\\n1,A.B.,120,um\\n", encoding="utf-8")
    ...     read_study(path)[["part", "value_mm"]].to_dict("records")
    [{'part': '1', 'value_mm': 0.12}]
    """
    from io import StringIO

    _, text = read_source(path)
    table = pd.read_csv(StringIO(text), dtype=str, keep_default_na=False, skipinitialspace=True)
    table.columns = [str(name).strip().lower() for name in table.columns]
    missing = [name for name in COLUMNS if name not in table]
    if missing:
        raise FileProblem(f"no column {', '.join(missing)}", where=str(path), allowed=", ".join(COLUMNS))
    table = table[(table[list(COLUMNS)] != "").any(axis=1)]
    numbers = pd.to_numeric(table["value"], errors="coerce")
    for at in table.index[numbers.isna()]:
        raise FileProblem(
            f"{table.at[at, 'value']!r} is no number", where=f"{path}, line {at + 2}, value", allowed="a number"
        )
    factor = []
    for at, unit in table["unit"].items():
        try:
            factor.append(TO_MM[length_unit(unit)])
        except ArgumentError:
            raise FileProblem(
                f"unit {unit!r}", where=f"{path}, line {int(str(at)) + 2}, unit", allowed=", ".join(TO_MM)
            ) from None
    return table.assign(value_mm=numbers * factor)[["part", "operator", "value_mm"]].reset_index(drop=True)
