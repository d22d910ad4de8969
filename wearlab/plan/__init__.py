"""Before the first chip: stop rule, matched conditions, sizes, speeds, looks, order, sheets; plan against log."""
