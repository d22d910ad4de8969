"""Deflection of a stepped cantilever against printed numbers, scaling laws and a plain double integration."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError
from wearlab.milling import deflection as d


def double_integration(tool, load_height, count=40001):
    """Curvature M/(E I) integrated twice from the holder, by the trapezium rule; knows no beam formula."""
    s = np.linspace(0, tool.overhang_mm, count)
    load = tool.overhang_mm - load_height
    fluted = tool.overhang_mm if tool.flute_length_mm is None else tool.flute_length_mm
    shank = tool.diameter_mm if tool.shank_mm is None else tool.shank_mm
    across = np.where(s < tool.overhang_mm - fluted, shank, tool.fluted_share * tool.diameter_mm)
    stiffness = tool.modulus_gpa * 1000 * math.pi * across**4 / 64
    curve = np.maximum(load - s, 0) / stiffness
    step = s[1] - s[0]
    slope = np.concatenate([[0], np.cumsum((curve[1:] + curve[:-1]) / 2) * step])
    lift = np.concatenate([[0], np.cumsum((slope[1:] + slope[:-1]) / 2) * step])
    return tool.overhang_mm - s, lift * 1000 + tool.holder_um_per_n


def test_equivalent_diameter_of_the_fluted_part():
    # B01: Kops and Vo, CIRP Annals 39/1 (1990) 93-96 (abstract seen; volume and pages from memory): about
    # 0.80 D for two and four flutes; 0.8^4 = 0.4096, so the full diameter would be 2.44 times too stiff.
    assert pytest.approx(0.80) == d.FLUTED_SHARE
    solid, fluted = d.Tool(10, 30, fluted_share=1.0), d.Tool(10, 30)
    assert d.tip_deflection_um(fluted, 1) / d.tip_deflection_um(solid, 1) == pytest.approx(2.44, abs=2e-3)


@pytest.mark.parametrize(
    ("tool", "microns"),
    [
        (d.Tool(12, 40, 600, fluted_share=1.0), 3.493),
        (d.Tool(12, 40, 600), 8.528),
        (d.Tool(12, 40, 210), 24.37),
    ],
)
def test_tip_deflection(tool, microns):
    # B02: delta = 64 F L^3/(3 pi E d^4), F 100 N (computed; no printed example for an end mill was found).
    assert d.tip_deflection_um(tool, 100) == pytest.approx(microns, rel=1e-3)


def test_scaling():
    # B04: beam theory, stated on two teaching pages: twice the length 8 times, twice the diameter a
    # sixteenth.
    base = d.tip_deflection_um(d.Tool(10, 30), 1)
    assert d.tip_deflection_um(d.Tool(10, 60), 1) / base == pytest.approx(8)
    assert d.tip_deflection_um(d.Tool(20, 30), 1) / base == pytest.approx(1 / 16)
    # Slip in print: one of those pages rounds 25/16 um to 1.5.
    assert 25 * d.tip_deflection_um(d.Tool(20, 30), 1) / base == pytest.approx(1.56, abs=5e-3)


def test_standing_cutter():
    # D 10 carbide, overhang 30: 13.4 N/um; compliance of the tip 0.075, 0.071 and 0.060 um/N for loads at 0,
    # 1, 4 mm.
    tool = d.Tool(10, 30)
    assert d.tip_stiffness_n_per_um(tool) == pytest.approx(13.4, abs=0.05)
    assert d.compliance_um_per_n(tool, 0, [0, 1, 4]) == pytest.approx([0.075, 0.071, 0.060], abs=5e-4)
    hss = d.Tool(10, 30, d.modulus_gpa("HSS"))
    assert d.tip_deflection_um(hss, 1) / d.tip_deflection_um(tool, 1) == pytest.approx(2.86, abs=5e-3)


@pytest.mark.parametrize(
    "tool",
    [
        d.Tool(10, 30),
        d.Tool(10, 45, flute_length_mm=22),
        d.Tool(6, 40, flute_length_mm=13, shank_mm=10, holder_um_per_n=0.01),
        d.Tool(12, 50, 210, flute_length_mm=26, shank_mm=11.5),
    ],
)
@pytest.mark.parametrize("load", [0.0, 3.0, 20.0])
def test_compliance_against_double_integration(tool, load):
    heights, lift = double_integration(tool, load)
    found = d.compliance_um_per_n(tool, heights[::400], load)
    assert found == pytest.approx(lift[::400], rel=3e-4, abs=1e-9)


@given(a=st.floats(0, 30), b=st.floats(0, 30), flutes=st.floats(1, 30), shank=st.floats(4, 14))
def test_force_and_deflection_may_change_places(a, b, flutes, shank):
    tool = d.Tool(10, 30, flute_length_mm=flutes, shank_mm=shank, holder_um_per_n=0.02)
    assert d.compliance_um_per_n(tool, a, b) == pytest.approx(
        float(d.compliance_um_per_n(tool, b, a)), rel=1e-9
    )


def test_a_shank_like_the_flutes_changes_nothing():
    plain, stepped = d.Tool(10, 30), d.Tool(10, 30, flute_length_mm=12, shank_mm=8)
    z = np.linspace(0, 30, 7)
    assert d.compliance_um_per_n(stepped, z, 3) == pytest.approx(
        d.compliance_um_per_n(plain, z, 3), rel=1e-12
    )


def test_holder_adds_the_same_everywhere():
    soft, hard = d.Tool(10, 30, holder_um_per_n=0.05), d.Tool(10, 30)
    z = np.linspace(0, 30, 7)
    assert d.compliance_um_per_n(soft, z, 2) - d.compliance_um_per_n(hard, z, 2) == pytest.approx(
        np.full(7, 0.05)
    )


def test_modulus_rows():
    # B05: handbook values from memory: HSS 200-220, carbide 570-640; ratio 2.8-3.
    assert 200 <= d.modulus_gpa("hss") <= 220
    assert 570 <= d.modulus_gpa("carbide") <= 640
    assert 2.8 <= d.modulus_gpa("carbide") / d.modulus_gpa("HSS") <= 3.0
    with pytest.raises(ArgumentError, match="cutter material 'wood'; allowed: carbide, hss"):
        d.modulus_gpa("wood")


def test_bad_tools_and_heights():
    with pytest.raises(ArgumentError, match="overhang_mm: 0"):
        d.Tool(10, 0)
    with pytest.raises(ArgumentError, match="height 31 mm; allowed: up to the overhang, 30 mm"):
        d.compliance_um_per_n(d.Tool(10, 30), 31, 0)
    with pytest.raises(ArgumentError, match="shank_mm: -1"):
        d.Tool(10, 30, shank_mm=-1)
