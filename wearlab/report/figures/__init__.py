"""Figures: one file each; every one takes a table and computes nothing."""
