"""Sections on exposure and on walls: what they say of the demonstration trial, and what of logs that hold less."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wearlab.core.units import CM3_PER_INCH3
from wearlab.report.analysis import Analysis, analyse
from wearlab.report.figures.exposure import draw_zone_wear
from wearlab.report.record import FigureBlock, Section, TableBlock
from wearlab.report.sections.exposure import exposure_section
from wearlab.report.sections.walls import walls_section

Analyses = Callable[..., Analysis]


def words_of(section: Section) -> str:
    """Everything that a section says in sentences, titles and cells."""
    parts = []
    for block in section.blocks:
        facts = block.to_dict()
        parts += [str(facts.get(name, "")) for name in ("text", "title", "caption", "note", "legend", "description")]
        parts += facts.get("sentences", [])
        if isinstance(block, TableBlock):
            parts += [cell for cells in block.texts.values() for cell in cells]
    return " ".join(parts)


def table(section: Section, key: str) -> TableBlock:
    return next(block for block in section.blocks if isinstance(block, TableBlock) and block.key == key)


def figure(section: Section, key: str) -> FigureBlock:
    return next(block for block in section.blocks if isinstance(block, FigureBlock) and block.key == key)


def test_the_report_holds_both_sections_in_their_place(report_of: Callable[..., Any]) -> None:
    keys = [section.key for section in report_of("shoulder_demo").sections]
    assert keys.index("edge") < keys.index("exposure") < keys.index("walls")


def test_predicted_band_stands_beside_the_measured_zone_ratio(analysis_of: Analyses) -> None:
    section = exposure_section(analysis_of("shoulder_demo"))
    ratios = table(section, "zone-ratios")
    lower = ratios.frame["zone"].tolist().index("lower")
    # Three steps at W = D: 1/3 by chip, arccos(1/3)/pi by sliding; the truth of that trial is 1/2.75 = 0.364.
    assert ratios.texts["predicted"][lower] == "0.333 to 0.392"
    assert ratios.texts["measured"][lower] == "0.362"
    assert ratios.texts["position_shown"][lower] == "as predicted"
    text = words_of(section)
    assert "2.55 to 3 times as fast" in text
    assert "remove metal at one rate" in text
    assert "all wear there should be theirs" in text


def test_wear_by_zone_is_drawn_for_each_practice(analysis_of: Analyses) -> None:
    section = exposure_section(analysis_of("shoulder_demo"))
    drawn = figure(section, "zone-wear")
    assert len(drawn.table) == 8
    assert drawn.svg.count("taken as measured") == 1
    # Every row of the figure is told to those who cannot see it.
    assert drawn.description.count("predicted") == 8
    profile = figure(section, "exposure")
    assert set(profile.table["practice"]) == {"layered", "side"}
    steps = profile.table[profile.table["practice"] == "layered"]
    assert steps.loc[steps["sliding_m_cm3"] > 0, "height_mm"].max() == pytest.approx(3.0)


def test_figures_in_inches_are_the_same_amounts(analysis_of: Analyses) -> None:
    metric, inch = (
        table(exposure_section(analysis_of("shoulder_demo", units=units)), "exposure-zones")
        for units in ("metric", "inch")
    )
    a, b = (
        {name: float(one.texts[f"{name}_shown"][1]) for name in ("sliding_m_cm3", "chip_mm3_mm_cm3")}
        for one in (metric, inch)
    )
    assert b["sliding_m_cm3"] / a["sliding_m_cm3"] == pytest.approx(CM3_PER_INCH3 / 0.3048, rel=5e-3)
    # Teeth times depth times chip per length of edge is 1 in either family: 4 teeth, a layer of 3 mm.
    assert 4 * 3.0 * a["chip_mm3_mm_cm3"] / 1000 == pytest.approx(1.0, rel=5e-3)
    assert 4 * (3.0 / 25.4) * b["chip_mm3_mm_cm3"] == pytest.approx(1.0, rel=5e-3)
    # What is downloaded stays metric.
    assert metric.frame["chip_mm3_mm_cm3"].tolist() == inch.frame["chip_mm3_mm_cm3"].tolist()


def test_predicted_hang_up_stands_beside_the_measured(analysis_of: Analyses) -> None:
    section = walls_section(analysis_of("shoulder_demo"))
    pins = table(section, "hang-up")
    at = next(
        at for at, row in enumerate(pins.frame.to_dict("records")) if row["cutter"] == "E3" and row["pin_mm"] == 12.54
    )
    assert pins.texts["measured"][at] == "2.86 mm"
    assert pins.texts["predicted"][at] == "3 mm"
    assert pins.texts["range"][at] == "2.75 mm to 3.25 mm"
    text = words_of(section)
    assert "Of 108 pins tried" in text
    assert "times as much as the lands of the same cutters predict" in text
    slots = figure(section, "slots")
    assert "layered" in slots.svg
    assert set(slots.table["kind"]) == {"measured", "predicted"}
    assert slots.svg.count(">12.57<") == 2


def test_walls_in_inches(analysis_of: Analyses) -> None:
    section = walls_section(analysis_of("shoulder_demo", units="inch"))
    text = words_of(section)
    assert "0.118 in" in text
    assert "thou/in" in text
    assert " mm" not in re.sub(r"mm³|metal", "", text.replace("quarter of a millimetre", ""))


@pytest.mark.parametrize("name", ["nasa_milling", "taylor_T01", "groover_coated"])
def test_logs_without_walls_or_engagement_say_why(analysis_of: Analyses, name: str) -> None:
    analysis = analysis_of(name)
    reasons = {"no reading of a wall": walls_section(analysis), "recorded": exposure_section(analysis)}
    for reason, section in reasons.items():
        assert len(section.blocks) == 1
        text = words_of(section)
        assert reason in text
        assert "_mm" not in text


ROWS = [
    {
        "cutter": cutter, "strategy": "layered", "diameter_mm": 10, "teeth": 4, "cutting_speed_m_min": 60,
        "feed_per_tooth_mm": 0.05, "axial_depth_mm": 2, "radial_width_mm": 10, "reading": look,
        "cutting_time_min": 10 * look, "measure": "width", "height_mm": height, "part": look,
        "value": 10 - 0.002 * look - 0.001 * at, "unit": "mm",
    }
    for at, cutter in enumerate(("E1", "E2"))
    for look in (1, 2)
    for height in (1.0, 4.0, 7.0)
]  # fmt: skip


def test_a_log_of_widths_alone(trial_of: Callable[..., Any]) -> None:
    analysis = analyse(trial_of(ROWS), criteria=["width@1mm=9.99mm"])
    section = walls_section(analysis)
    text = words_of(section)
    assert "no pins tried" in text
    assert "no wear land of this cutter was read" in text
    assert "lean and shift cannot be told" in text
    assert not [block for block in section.blocks if isinstance(block, TableBlock) and block.key == "hang-up"]
    assert figure(section, "slots").svg.startswith("<svg")
    exposed = exposure_section(analysis)
    assert "layered" in figure(exposed, "exposure").svg
    assert "no zone that is in the cut has a wear rate" in words_of(exposed)


def test_bars_of_the_figure_are_the_predicted_ends() -> None:
    import pandas as pd

    from wearlab.report.figures.style import looks

    rows = pd.DataFrame(
        {
            "group": ["a", "b"], "zone": ["lower", "lower"], "rate": [2.0, 1.0], "low": [1.5, np.nan],
            "high": [2.5, np.nan], "predicted_low": [2.0, 0.5], "predicted_high": [2.0, 0.7],
            "reference": [True, False],
        }
    )  # fmt: skip
    drawn = draw_zone_wear(rows, looks(["a", "b"]), x_label="rate")
    bars = drawn.axes[0].patches
    assert [(bar.get_x(), bar.get_x() + bar.get_width()) for bar in bars] == [pytest.approx((0.5, 0.7))]
    assert [text.get_text() for text in drawn.axes[0].get_yticklabels()] == ["lower, b", "lower, a"]
