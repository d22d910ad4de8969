"""Large logs: drawn by summary, and a file that stays easy to send."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from wearlab.logbook.trial import Trial
from wearlab.report.analysis import analyse
from wearlab.report.build import build_report
from wearlab.report.figures.style import MOST_POINTS
from wearlab.report.record import FigureBlock, Report, TableBlock
from wearlab.report.render import MOST_DOWNLOADS, MOST_ROWS, render_html

LOOKS = 10


def rows(cutters: int) -> list[dict[str, Any]]:
    """An invented log: wear that is the same straight line for every cutter but for its pace."""
    made = []
    for at in range(cutters):
        pace = (0.02 if at % 2 else 0.03) * (1 + (at % 7) / 20)
        for look in range(1, LOOKS + 1):
            made.append(
                {
                    "cutter": f"E{at + 1}", "strategy": ("side", "layered")[at % 2], "work_material": "steel",
                    "cutting_speed_m_min": 70, "reading": look, "cutting_time_min": 2.0 * look, "measure": "VB",
                    "zone": "lower", "flute": "mean", "value": round(0.02 + pace * look, 4), "unit": "mm",
                }
            )  # fmt: skip
    return made


@pytest.fixture(scope="module")
def make() -> Callable[[Trial], tuple[Report, str]]:
    def of(trial: Trial) -> tuple[Report, str]:
        report = build_report(analyse(trial, criteria=["VB=0.2mm"]))
        return report, render_html(report)

    return of


def test_many_readings_are_drawn_by_summary_and_the_file_stays_small(
    make: Callable[[Trial], tuple[Report, str]], trial_of: Callable[..., Trial]
) -> None:
    small, large = 20, MOST_POINTS // LOOKS + 100
    _, page = make(trial_of(rows(small)))
    report, many = make(trial_of(rows(large)))
    figures = {one.key: one for one in report.blocks() if isinstance(one, FigureBlock)}
    curves = figures["wear-curves"]
    assert curves.title == "Wear land: median, and the middle four fifths"
    assert len(curves.table) <= 2 * 20  # two groups, twenty ages: not one point a reading
    assert curves.table["points"].sum() == large * LOOKS  # every reading counts in one of them
    for figure in figures.values():
        assert max(len(figure.svg), len(figure.phone)) < 150_000, figure.key
    # What grows with the log is the downloads, which have a limit, and tables, which are cut with a word.
    assert len(many.encode()) < len(page.encode()) + MOST_DOWNLOADS + 400_000
    longest = max(len(one.frame) for one in report.blocks() if isinstance(one, TableBlock))
    assert longest > MOST_ROWS
    assert f"The first {MOST_ROWS} of" in many
    assert len(many.encode()) < 3_000_000
