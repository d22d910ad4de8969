"""Geometry and mechanics of the cut, computed before any chip is made: pure functions of arrays.

Knows no table and no file but its own small CSV files of material values. Lengths are in mm, angles in
radians unless the name says `_deg`, and z is the height above the end face of the cutter. A missing number
(nan) goes in and comes out again; every other number is checked.
"""
