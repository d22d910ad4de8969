"""The logs that travel with the package: their names, and where they stand."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

from wearlab.core.errors import FileProblem
from wearlab.core.tables import natural_sorted, nearest


def sample_names() -> list[str]:
    """Names of the logs that travel with the package, in natural order.

    Raises
    ------
    FileProblem
        When the folder of data sets is not there.

    >>> sample_names()[:2]
    ['groover_coated', 'nasa_milling']
    """
    return natural_sorted(_index())


def sample_path(name: str) -> Path:
    """Where the log of that name stands: in the wheel, or in the top-level folder of a clone.

    Parameters
    ----------
    name : str
        A name out of `sample_names`; the ending .csv may be written or left off.

    Raises
    ------
    FileProblem
        When there is no such log, with the known names and the nearest of them.

    >>> sample_path("nasa_milling").name
    'nasa_milling.csv'
    >>> sample_path("nasa_miling")
    Traceback (most recent call last):
    ...
    wearlab.core.errors.FileProblem: sample: no log named 'nasa_miling'; ... Did you mean nasa_milling?
    """
    known = _index()
    wanted = name.removesuffix(".csv")
    if wanted not in known:
        names = natural_sorted(known)
        raise FileProblem(
            f"no log named {name!r}", where="sample", allowed=", ".join(names), hint=nearest(wanted, names)
        )
    return datasets_folder() / known[wanted]["file"]


def sample_facts(name: str) -> dict[str, str]:
    """What the index says of a log: file, what it shows, source, licence, units, and whether it is invented.

    Raises
    ------
    FileProblem
        As `sample_path`.

    >>> sample_facts("nasa_milling")["invented"]
    'no'
    """
    return dict(_index()[sample_path(name).stem])


@cache
def datasets_folder() -> Path:
    """Folder of the data sets.

    Raises
    ------
    FileProblem
        When neither the wheel nor the clone has one.
    """
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "_datasets", package.parent / "datasets"):
        if (folder / "index.csv").is_file():
            return folder
    raise FileProblem("the folder of data sets is missing", where="sample", hint="install the package again")


@cache
def _index() -> dict[str, dict[str, str]]:
    with (datasets_folder() / "index.csv").open(encoding="utf-8", newline="") as lines:
        return {row["name"]: row for row in csv.DictReader(lines)}
