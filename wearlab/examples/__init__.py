"""One short script for each of the three who use wearlab; each runs as it stands: `python -m wearlab.examples.NAME`."""
