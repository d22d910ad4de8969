"""Ground floor: errors, intervals, units, small table helpers. Knows no cutter and imports no room above."""
