"""Practices against each other: tool life and wear rate, the cutter as the unit. Draws nothing."""
