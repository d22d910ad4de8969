"""Wall readings -> what the walls look like, what of it is wear, and what the wear of the edge says they should be.

Knows readings and geometry; readings of lands come from the caller as a table, because wear and walls share a floor.
Signs: a deviation is positive where metal is left. Left and right are as seen along the slot; up is the mouth.
"""
