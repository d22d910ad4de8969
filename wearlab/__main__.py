"""`python -m wearlab` is the command line."""

from wearlab.cli.main import run

run()
