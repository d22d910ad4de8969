"""Figures, read back from their artists: what is drawn is what stands in the table."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pandas as pd
import pytest

from wearlab.report.figures.edge import draw_edge
from wearlab.report.figures.lives import draw_lives
from wearlab.report.figures.ratios import draw_ratios
from wearlab.report.figures.style import BAND, LOOKS, contrast_on_white, darker, looks, nice_ticks, to_svg
from wearlab.report.figures.taylor import draw_taylor
from wearlab.report.figures.wear_curves import draw_wear_curves

INF = math.inf
NAN = math.nan


def labelled(axes: Any, label: str) -> list[Any]:
    """Artists of one meaning, lines and collections alike."""
    return [artist for artist in (*axes.lines, *axes.collections) if artist.get_label() == label]


def words(axes: Any) -> list[str]:
    return [text.get_text() for text in axes.texts]


# Machado, Oliveira and Fernandes, IEEE Trans. Vis. Comput. Graphics 15 (2009) 1291: matrices of linear RGB
# at full severity, from memory; rows sum to 1, as white must stay white.
BLINDNESS = {
    "none": np.eye(3),
    "protan": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deutan": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritan": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}


class TestPalette:
    def lab(self, linear: np.ndarray) -> np.ndarray:
        """CIELAB of linear sRGB under D65 (IEC 61966-2-1 and CIE 15, from memory)."""
        to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
        xyz = to_xyz @ np.clip(linear, 0, 1) / np.array([0.9505, 1.0, 1.0890])
        f = np.where(xyz > 0.008856, np.cbrt(np.maximum(xyz, 1e-9)), 7.787 * xyz + 16 / 116)
        return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])

    def linear(self, ink: str) -> np.ndarray:
        parts = np.array([int(ink[at : at + 2], 16) / 255 for at in (1, 3, 5)])
        return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)

    def test_the_matrices_keep_white(self) -> None:
        for matrix in BLINDNESS.values():
            assert np.allclose(matrix.sum(axis=1), 1.0, atol=1e-5)

    @pytest.mark.parametrize("kind", list(BLINDNESS))
    def test_inks_stay_apart_for_every_kind_of_sight(self, kind: str) -> None:
        """A distance of 20 in CIELAB is about ten times what is just seen."""
        seen = [self.lab(BLINDNESS[kind] @ self.linear(look.ink)) for look in LOOKS]
        assert min(np.linalg.norm(a - b) for a, b in itertools.combinations(seen, 2)) > 20

    def test_the_two_inks_used_most_differ_in_lightness(self) -> None:
        assert abs(self.lab(self.linear(LOOKS[0].ink))[0] - self.lab(self.linear(LOOKS[1].ink))[0]) > 20

    def test_without_colour_dash_and_mark_tell_them_apart(self) -> None:
        assert len({look.dash for look in LOOKS}) == len(LOOKS)
        assert len({look.mark for look in LOOKS}) == len(LOOKS)

    def test_contrast_on_white(self) -> None:
        """3 to 1 for drawings and 4.5 to 1 for words (WCAG 2.1, 1.4.11 and 1.4.3, from memory)."""
        assert min(contrast_on_white(look.ink) for look in LOOKS) > 3.0
        assert min(contrast_on_white(darker(look.ink)) for look in LOOKS) >= 4.5
        assert contrast_on_white("#ffffff") == pytest.approx(1.0)

    def test_more_groups_than_inks_still_differ(self) -> None:
        made = looks([f"g{i}" for i in range(12)])
        assert len({(look.ink, look.dash, look.mark) for look in made.values()}) == 12


@pytest.mark.parametrize(("low", "high"), [(9.0, 130.0), (55.0, 105.0), (180.0, 344.0), (0.9, 1.1), (1.0, 5000.0)])
def test_ticks_are_few_and_inside(low: float, high: float) -> None:
    ticks = nice_ticks(low, high)
    assert 3 <= len(ticks) <= 7
    assert all(0.99 * low <= tick <= 1.01 * high for tick in ticks)


class TestWearCurves:
    def table(self) -> pd.DataFrame:
        rows = [
            (zone, group, f"{group}{at}", age, 0.01 * age * (at + 1), "", False)
            for zone in ("corner", "lower")
            for group in ("a", "b")
            for at in range(2)
            for age in (1.0, 2.0, 3.0)
        ]
        table = pd.DataFrame(rows, columns=["zone", "group", "cutter", "age", "land", "end", "aside"])
        table.loc[(table["cutter"] == "a1") & (table["age"] == 3.0), "end"] = "short of the limit"
        return table

    def draw(self, table: pd.DataFrame) -> Any:
        return draw_wear_curves(
            table,
            looks(["a", "b"]),
            limit=0.05,
            limit_text="life ends: 0.05 mm",
            limit_zones=("lower",),
            x_label="x",
            y_label="y",
        )

    def test_one_panel_a_zone_and_one_line_a_cutter(self) -> None:
        figure = self.draw(self.table())
        assert [axes.get_title(loc="left") for axes in figure.axes] == ["corner", "lower"]
        lines = [line for line in figure.axes[0].lines if len(line.get_xdata()) == 3]
        assert len(lines) == 4
        drawn = sorted(tuple(np.round(line.get_ydata(), 6)) for line in lines)
        assert drawn == [(0.01, 0.02, 0.03)] * 2 + [(0.02, 0.04, 0.06)] * 2

    def test_the_limit_stands_where_it_belongs_and_is_labelled(self) -> None:
        corner, lower = self.draw(self.table()).axes
        assert "life ends: 0.05 mm" in words(lower)
        assert "life ends: 0.05 mm" not in words(corner)
        assert [line for line in lower.lines if list(line.get_ydata()) == [0.05, 0.05]]

    def test_groups_are_named_at_their_lines_and_ends_are_marked(self) -> None:
        axes = self.draw(self.table()).axes[0]
        assert {"a", "b"} <= set(words(axes))
        marked = labelled(axes, "short of the limit")
        assert [(list(one.get_xdata()), list(one.get_ydata())) for one in marked] == [([3.0], [0.06])]

    def test_cutters_that_are_not_compared_are_pale(self) -> None:
        table = self.table()
        table.loc[table["cutter"] == "b1", "aside"] = True
        axes = self.draw(table).axes[0]
        assert sorted({line.get_alpha() for line in axes.lines if len(line.get_xdata()) == 3}) == [0.4, 1.0]

    def test_a_summary_is_a_line_and_a_band(self) -> None:
        table = pd.DataFrame(
            {
                "zone": "corner",
                "group": "a",
                "age": [1.0, 2.0],
                "land": [0.1, 0.2],
                "low": [0.05, 0.1],
                "high": [0.2, 0.3],
            }
        )
        axes = self.draw(table).axes[0]
        assert len(axes.collections) == 1
        band = axes.collections[0].get_paths()[0].vertices
        assert band[:, 1].min() == pytest.approx(0.05)
        assert band[:, 1].max() == pytest.approx(0.3)


class TestLives:
    def table(self, cutters: int = 3) -> pd.DataFrame:
        rows = [("a", f"c{at}", "exact", 10.0 + at, 10.0 + at, 9.0 + at, 12.0 + at) for at in range(cutters)]
        rows.append(("b", "r", "right", 20.0, INF, 20.0, NAN))
        table = pd.DataFrame(rows, columns=["group", "cutter", "status", "low", "high", "bracket_low", "bracket_high"])
        return table.assign(name=table["cutter"])

    def test_a_dot_for_a_life_and_an_arrow_for_at_least(self) -> None:
        axes = draw_lives(self.table(), looks(["a", "b"]), x_label="minutes").axes[0]
        dots = [collection.get_offsets().data[:, 0].tolist() for collection in labelled(axes, "life")]
        assert dots[0] == [10.0, 11.0, 12.0]
        assert [line.get_xdata()[0] for line in labelled(axes, "at least")] == [20.0]
        arrows = [text for text in axes.texts if getattr(text, "arrow_patch", None) is not None]
        assert len(arrows) == 1
        assert arrows[0].xy[0] > 20.0

    def test_rows_and_groups_are_named(self) -> None:
        axes = draw_lives(self.table(), looks(["a", "b"]), x_label="minutes").axes[0]
        assert [label.get_text() for label in axes.get_yticklabels()] == ["c0", "c1", "c2", "r"]
        assert {"a", "b"} <= set(words(axes))
        assert axes.get_xlim()[0] == 0.0

    def test_many_cutters_are_not_named(self) -> None:
        axes = draw_lives(self.table(60), looks(["a", "b"]), x_label="minutes").axes[0]
        assert axes.get_yticklabels() == []
        assert [list(line.get_xdata()) for line in labelled(axes, "at least")][-1] == [20.0]


class TestTaylor:
    def table(self) -> pd.DataFrame:
        rows = [
            ("cutter", "a", 50.0, 100.0, 100.0, 100.0, "exact"),
            ("cutter", "a", 100.0, 10.0, 10.0, 10.0, "exact"),
            ("cutter", "a", 80.0, NAN, 15.0, INF, "right"),
            ("line", "a", 50.0, 100.0, 80.0, 125.0, ""),
            ("line", "a", 100.0, 10.0, 8.0, 12.5, ""),
        ]
        return pd.DataFrame(rows, columns=["kind", "group", "speed", "life", "low", "high", "status"])

    def test_the_line_ends_where_the_speeds_do(self) -> None:
        axes = draw_taylor(self.table(), looks(["a"]), x_label="speed", y_label="life").axes[0]
        assert axes.get_xscale() == axes.get_yscale() == "log"
        line = labelled(axes, "line")[0]
        assert list(line.get_xdata()) == [50.0, 100.0]
        band = next(
            one for one in axes.collections if one.get_label() == "_child0" or len(one.get_paths()[0].vertices) > 4
        )
        assert band.get_paths()[0].vertices[:, 0].max() == pytest.approx(100.0)

    def test_points_and_arrows(self) -> None:
        axes = draw_taylor(self.table(), looks(["a"]), x_label="speed", y_label="life").axes[0]
        points = labelled(axes, "life")[0].get_offsets().data
        assert points.tolist() == [pytest.approx([50.0, 100.0]), pytest.approx([100.0, 10.0])]
        assert [list(line.get_ydata()) for line in labelled(axes, "at least")] == [[15.0]]

    def test_no_band_without_an_interval(self) -> None:
        table = self.table()
        table.loc[table["kind"] == "line", ["low", "high"]] = NAN
        axes = draw_taylor(table, looks(["a"]), x_label="speed", y_label="life").axes[0]
        assert not [one for one in axes.collections if len(one.get_paths()) and len(one.get_paths()[0].vertices) > 60]
        assert labelled(axes, "line")

    def test_one_speed_draws_no_line(self) -> None:
        table = self.table().iloc[[0, 3]]
        axes = draw_taylor(table, looks(["a"]), x_label="speed", y_label="life").axes[0]
        assert labelled(axes, "line") == []


class TestRatios:
    def draw(self, *rows: tuple[float, float, float], **more: Any) -> Any:
        table = pd.DataFrame(rows, columns=["estimate", "low", "high"]).assign(
            name="a over b", shown="so many times", **more
        )
        return draw_ratios(table, margin=1.25, x_label="times").axes[0]

    def test_estimate_and_range_stand_where_they_are(self) -> None:
        axes = self.draw((2.8, 2.1, 3.8))
        assert [list(line.get_xdata()) for line in labelled(axes, "estimate")] == [[2.8]]
        assert [list(line.get_xdata()) for line in labelled(axes, "plausible")] == [[2.1, 3.8]]
        assert "a over b: so many times" in words(axes)

    def test_the_zone_that_does_not_matter_is_drawn_and_labelled(self) -> None:
        axes = self.draw((2.8, 2.1, 3.8))
        zone = labelled(axes, "too small to act on")[0].get_paths()[0].vertices[:, 0]
        assert (zone.min(), zone.max()) == (pytest.approx(0.8), pytest.approx(1.25))
        assert "too small to act on" in words(axes)
        assert contrast_on_white(BAND) > 1.2

    @pytest.mark.parametrize(("low", "high", "marks"), [(0.0, 3.0, "<"), (1.5, INF, ">"), (NAN, NAN, "<>")])
    def test_an_open_side_is_an_arrowhead_at_the_edge(self, low: float, high: float, marks: str) -> None:
        axes = self.draw((2.0, low, high))
        assert "".join(line.get_marker() for line in labelled(axes, "open")) == marks

    def test_what_was_expected_from_the_cut_stands_below(self) -> None:
        axes = self.draw((2.8, 2.1, 3.8), predicted_low=2.55, predicted_high=3.0)
        assert [list(line.get_xdata()) for line in labelled(axes, "expected")] == [[2.55, 3.0]]
        assert "expected from the cut" in words(axes)

    def test_a_ratio_that_cannot_be_had_is_words_alone(self) -> None:
        axes = self.draw(
            (NAN, NAN, NAN),
        )
        assert labelled(axes, "estimate") == []


class TestEdge:
    def test_each_zone_stands_at_its_height(self) -> None:
        rows = [
            ("mean", "corner", "a", 0.0, 0.5, 0.15),
            ("mean", "lower", "a", 0.5, 3.0, 0.10),
            ("cutter", "lower", "a", 0.5, 3.0, 0.11),
        ]
        table = pd.DataFrame(rows, columns=["kind", "zone", "group", "start", "stop", "land"])
        axes = draw_edge(table, looks(["a"]), x_label="land", y_label="height").axes[0]
        step = labelled(axes, "a")[0]
        assert list(step.get_xdata()) == [0.15, 0.15, 0.10, 0.10]
        assert list(step.get_ydata()) == [0.0, 0.5, 0.5, 3.0]
        assert {"corner", "lower", "a"} <= {text.strip() for text in words(axes)}


class TestSvg:
    def svg(self, name: str = "a") -> str:
        table = pd.DataFrame({"estimate": [2.0], "low": [1.5], "high": [3.0], "name": [name], "shown": ["2"]})
        return to_svg(draw_ratios(table, margin=1.25, x_label="times"), "key", "A <title>", "What it says & shows")

    def test_it_has_a_role_a_title_and_a_description(self) -> None:
        svg = self.svg()
        assert svg.startswith('<svg role="img" aria-labelledby="key-title key-desc"')
        assert '<title id="key-title">A &lt;title&gt;</title><desc id="key-desc">What it says &amp; shows</desc>' in svg

    def test_every_name_inside_is_its_own(self) -> None:
        import re

        svg = self.svg()
        assert all(name.startswith("key-") for name in re.findall(r'\bid="([^"]+)"', svg))
        assert all(name.startswith("key-") for name in re.findall(r'href="#([^"]+)"', svg))
        assert all(name.startswith("key-") for name in re.findall(r"url\(#([^)]+)\)", svg))

    def test_names_are_text_not_mathematics_and_not_markup(self) -> None:
        svg = self.svg("$x^{2$ <script>")
        assert "$x^{2$ &lt;script&gt;" in svg

    def test_no_date_and_the_same_bytes_again(self) -> None:
        assert self.svg() == self.svg()
        assert "<metadata" not in self.svg()

    def test_drawing_leaves_the_settings_of_the_library_alone(self) -> None:
        import matplotlib

        before = dict(matplotlib.rcParams)
        self.svg()
        assert dict(matplotlib.rcParams) == before
