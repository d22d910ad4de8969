"""Start-up and building, as ratios side by side in one run: `python tests/bench/bench_startup.py`.

Every peer is a process of its own, alternated with the others, after a first run that leaves the compiled modules
where a program that was installed has them; processor seconds, the best of the rounds. Three goals:

- `wearlab --help` below 8 times a bare interpreter;
- `wearlab check` of a small log below 1.6 times importing pandas and pandera;
- the whole demonstration report, from the log to the file with every figure, below 2 times importing the libraries that
  it loads plus drawing the same figures bare. Bare: the marks of the finished figures (lines, points, areas, texts) are
  written down once, and a process that knows nothing of the package draws the same marks with plain matplotlib at its
  own defaults and writes each figure as SVG: no table, no style, no layout to keep names apart.

A number behind the name sets the rounds, a word (help, check, report) chooses one table. Times of one machine say
nothing, ratios do. Nothing here asserts a time.
"""

from __future__ import annotations

import contextlib
import io
import os
import pickle
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from side_by_side import table

LIBRARIES = (
    "numpy", "pandas", "scipy.stats", "scipy.optimize", "matplotlib.figure", "matplotlib.backends.backend_svg",
    "seaborn", "jinja2", "click", "statsmodels",
)  # fmt: skip
"""What the demonstration loads; `loaded_by_the_demo` says so in every run."""

BARE = """
import io, pickle, sys
import {libraries}
from matplotlib.figure import Figure
for panels in pickle.load(open(sys.argv[1], "rb")):
    figure = Figure(figsize=panels["size"])
    for marks in panels["axes"]:
        axes = figure.add_axes(marks["box"])
        for x, y in marks["lines"]:
            axes.plot(x, y, marker="o")
        for points in marks["points"]:
            axes.scatter(points[:, 0], points[:, 1])
        for x, y in marks["areas"]:
            axes.fill(x, y, alpha=0.3)
        for x, y, words in marks["texts"]:
            axes.annotate(words, (x, y))
        axes.set(xscale=marks["scales"][0], yscale=marks["scales"][1], xlabel=marks["labels"][0],
                 ylabel=marks["labels"][1], title=marks["title"], xlim=marks["limits"][0], ylim=marks["limits"][1])
    figure.savefig(io.StringIO(), format="svg")
"""


def process(*arguments: str, folder: Path) -> Callable[[], float]:
    """A run of the interpreter in a process of its own, for its processor seconds."""
    setting = {key: text for key, text in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    setting |= {"PYTHONPYCACHEPREFIX": str(folder / "compiled"), "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}

    def work() -> float:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *arguments], cwd=folder, env=setting, check=True, stdout=subprocess.DEVNULL,
                       stderr=subprocess.DEVNULL)  # fmt: skip
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime

    return work


def alternate(peers: dict[str, Callable[[], float]], rounds: int) -> dict[str, float]:
    """Best of each peer over rounds in which each runs once, after one that does not count."""
    taken = [{name: work() for name, work in peers.items()} for _ in range(1 + rounds)][1:]
    return {name: min(one[name] for one in taken) for name in peers}


def marks_of(figure: Any) -> dict[str, Any]:
    """What a finished figure shows, as plain arrays."""
    return {"size": tuple(figure.get_size_inches()), "axes": [_marks(axes) for axes in figure.axes]}


def _marks(axes: Any) -> dict[str, Any]:
    from matplotlib.collections import PathCollection

    spread = [one for one in axes.collections if isinstance(one, PathCollection)]
    rest = [one for one in axes.collections if not isinstance(one, PathCollection)]
    outlines = [path.vertices for one in rest for path in one.get_paths()]
    outlines += [one.get_path().vertices for one in axes.patches if hasattr(one, "get_xy")]
    return {
        "box": tuple(axes.get_position().bounds),
        "lines": [(one.get_xdata(orig=False), one.get_ydata(orig=False)) for one in axes.lines],
        "points": [one.get_offsets().data for one in spread if len(one.get_offsets())],
        "areas": [(one[:, 0], one[:, 1]) for one in outlines],
        "texts": [(*_place(one), one.get_text().replace("$", "")) for one in axes.texts],
        "scales": (axes.get_xscale(), axes.get_yscale()),
        "labels": (axes.get_xlabel(), axes.get_ylabel()),
        "title": axes.get_title(loc="left"),
        "limits": (axes.get_xlim(), axes.get_ylim()),
    }


def _place(text: Any) -> tuple[float, float]:
    x, y = getattr(text, "xy", text.get_position())
    return float(x), float(y)


def write_down(folder: Path) -> tuple[Path, int]:
    """Run the demonstration here once, keeping the marks of every figure that goes into the report."""
    from matplotlib.figure import Figure

    from wearlab.cli.main import run

    kept: list[dict[str, Any]] = []
    whole = Figure.savefig

    def keep(self: Figure, *arguments: Any, **named: Any) -> None:
        whole(self, *arguments, **named)
        kept.append(marks_of(self))

    Figure.savefig = keep  # type: ignore[method-assign]
    try:
        run(["demo", "--out", str(folder / "once"), "--json", "--csv", str(folder / "once.csv")])
    except SystemExit as stop:
        if stop.code:
            raise RuntimeError("the demonstration failed") from None
    finally:
        Figure.savefig = whole  # type: ignore[method-assign]
    path = folder / "marks.pickle"
    path.write_bytes(pickle.dumps(kept))
    return path, len(kept)


def loaded_by_the_demo(folder: Path) -> list[str]:
    """Libraries that the demonstration loads, for the record: none may be named above that it does not need."""
    code = (
        "import sys\nfrom wearlab.cli.main import run\ntry:\n    run(['demo', '--out', 'listed'])\n"
        "except SystemExit:\n    pass\nprint('LOADED', *sorted(name for name in sys.modules))"
    )
    out = subprocess.run([sys.executable, "-c", code], cwd=folder, check=True, capture_output=True, text=True).stdout
    loaded = set(out.split("LOADED", 1)[1].split())
    missing = [name for name in LIBRARIES if name not in loaded]
    assert not missing, f"the demonstration no longer loads {missing}: leave them out of the peer"
    return sorted({name.split(".")[0] for name in loaded} & {*LIBRARIES, "pandera", "statsmodels", "sklearn", "scipy"})


def of_help(folder: Path, rounds: int) -> None:
    """`wearlab --help` beside a bare interpreter."""
    peers = {
        "wearlab --help": process("-m", "wearlab", "--help", folder=folder),
        "bare interpreter": process("-c", "pass", folder=folder),
    }
    table("Help (goal: below 8 times a bare interpreter)", "bare interpreter", alternate(peers, 4 * rounds))


def of_check(folder: Path, rounds: int) -> None:
    """`wearlab check` of a small log beside the import of what it could not do without."""
    small = Path(__file__).parents[2] / "datasets" / "groover_coated.csv"
    peers = {
        "wearlab check, 11 rows": process("-m", "wearlab", "check", str(small), folder=folder),
        "import pandas, pandera.pandas": process("-c", "import pandas, pandera.pandas", folder=folder),
    }
    table("Check (goal: below 1.6)", "import pandas, pandera.pandas", alternate(peers, 2 * rounds))


def of_report(folder: Path, rounds: int) -> None:
    """The whole demonstration beside its libraries and the bare marks of its figures."""
    started = time.perf_counter()
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        marks, figures = write_down(folder)
    print(f"\n{figures} figures written down in {time.perf_counter() - started:.1f} s; "
          f"the demonstration loads {', '.join(loaded_by_the_demo(folder))}")  # fmt: skip
    script = folder / "bare.py"
    script.write_text(BARE.format(libraries=", ".join(LIBRARIES)))
    peers = {
        "wearlab demo --force": process("-m", "wearlab", "demo", "--out", "again", "--force", folder=folder),
        "import the libraries, draw bare": process(str(script), str(marks), folder=folder),
        "import the libraries alone": process("-c", f"import {', '.join(LIBRARIES)}", folder=folder),
    }
    table("Report (goal: below 2)", "import the libraries, draw bare", alternate(peers, rounds))


PARTS = {"help": of_help, "check": of_check, "report": of_report}


def main(arguments: list[str]) -> None:
    """Print the tables that are asked for; all of them without a word."""
    rounds = next((int(word) for word in arguments if word.isdigit()), 3)
    with tempfile.TemporaryDirectory() as folder:
        for name in [word for word in arguments if word in PARTS] or list(PARTS):
            PARTS[name](Path(folder), rounds)


if __name__ == "__main__":
    main(sys.argv[1:])
