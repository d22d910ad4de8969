"""Write the files of the demonstration trial: `python -m wearlab.simulate --seed 20261125 --out FOLDER`."""

from __future__ import annotations

import argparse
import sys

from wearlab.core.errors import WearlabError
from wearlab.simulate.files import write_shoulder
from wearlab.simulate.shoulder import SEED


def main(arguments: list[str] | None = None) -> int:
    """Exit status: 0 written, 2 not written."""
    parser = argparse.ArgumentParser(
        prog="python -m wearlab.simulate",
        description="Write the invented, simulated demonstration trial: log, trial file, truth and note.",
    )
    parser.add_argument("--seed", type=int, default=SEED, help="seed of the trial (default %(default)s)")
    parser.add_argument("--out", default=".", metavar="FOLDER", help="where to write (default: here)")
    parser.add_argument("--force", action="store_true", help="write over files that are there")
    options = parser.parse_args(arguments)
    try:
        paths = write_shoulder(options.out, options.seed, force=options.force)
    except WearlabError as error:
        print(error.message(), file=sys.stderr)
        return 2
    for path in paths:
        print(path)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
