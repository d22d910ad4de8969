"""A whole plan file, to start from: `wearlab plan --example` prints it."""

from __future__ import annotations

EXAMPLE = """\
# A plan for wearlab. Lines that begin with # are remarks; sections that are left out take their defaults.

[trial]
name = "shoulder"
question = "Does a cutter last about twice as long from the side as in layers?"
standard = "layered"             # the others are matched to this one and compared with it
seed = 20260301                  # same seed, same sheets
# units = "inch"                 # sheets and log in inches; then type diameter_in, cutting_speed_sfm, runout_thou ...

[feature]                        # what one part has taken away
width_mm = 12
depth_mm = 9
length_mm = 100
sides = "one"                    # walls along the length: closed = a slot, one = a step, open = none

[cutter]
diameter_mm = 12
teeth = 4
helix_deg = 35
relief_deg = 10
rake_deg = 6
flute_length_mm = 26
overhang_mm = 38
cutter_material = "carbide"
coating = "TiAlN"

[work]
work_material = "alloy steel, quenched and tempered"
work_group = "P"
hardness = 290
hardness_scale = "HB"
coolant = "air"

[settings]                       # of the standard
cutting_speed_m_min = 70
feed_per_tooth_mm = 0.05

[match]
rule = "feed_per_tooth"          # held equal beside the speed; or removal_rate, mean_chip, max_chip, power

[[practice]]
name = "layered"
layers = 3
expected_life_min = 40           # a guess: it sets looks, bar stock and hours, no verdict

[[practice]]
name = "side"
steps = 3
expected_life_min = 110

[[criterion]]
name = "roughing"
text = "lower:VB.mean=0.2mm"

# [tolerance]                    # instead of, or beside, a criterion: a wear limit from the drawing
# tolerance_mm = 0.06
# setting_error_mm = 0.010

[zones]                          # mm above the end face; the layer line is a boundary
corner = [0, 0.5]
lower = [0.5, 3]

[size]
outcome = "life"
margin = 1.25                    # smallest ratio worth acting on
ratio = 2.0                      # true ratio that must not be missed
power = 0.8
# wall_um = 10                   # difference of wall error worth acting on, and its scatter between cutters;
# wall_sd_um = 6                 # walls may then decide: outcome = "wall"
# cutters = 6                    # a practice; left out: as many as the ratio takes

[scatter]
# cv = 0.35                      # of tool life between cutters; or a pilot log: wearlab plan PLAN --pilot LOG
correlation = 0.3                # of two cutters in one block
drop_out = 0.05

[blocks]                         # what runs share: each block is a bar and a day of its own
holders = ["H1", "H2"]           # swapped between the practices
# holds = 2                      # runs that a day has room for, where that is fewer than there are practices
# machines = ["M1", "M2"]        # take turns, block by block
# batches = true                 # each block a cutter batch of its own

[looks]
per_life = 7
minutes = 6

[interim]                        # looks at the verdict before the end, after so many blocks
at_blocks = []

[money]
currency = "EUR"
machine_per_min = 1.2
cutter_price = 48
density_g_cm3 = 7.85
bar_per_kg = 2.4

# [walls]                        # what is measured on the part
# heights_mm = [0.5, 4.5, 8.5]   # of the width, above the floor
# pins_mm = [11.95]              # pins that are let in
# sides = true                   # each wall by itself

# [speeds]                       # a Taylor trial beside the comparison, for the exponent n
# practice = "layered"
# lowest_m_min = 50
# highest_m_min = 90
# cutters = 12                   # in all; or speeds_m_min and counts of your own

# [study]                        # the measurement study before the trial
# parts = 10
# operators = ["A", "B", "C"]
# repeats = 2
"""
"""The plan file of an invented shoulder."""
