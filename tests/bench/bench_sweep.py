"""Difference between the practices' closed forms and the grid sweep, by size of the grid's cells.

Run by hand: `python tests/bench/bench_sweep.py [cell ...]`; the tests run cells of 0.2 and 0.1 mm.
"""

from __future__ import annotations

import importlib.util
import sys
import time
from pathlib import Path
from types import ModuleType

FOLDER = Path(__file__).parents[1] / "milling"


def load(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"sweep_{name}", FOLDER / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def main() -> None:
    sweep, scenes = load("conftest"), load("test_simulation")
    cells = [float(word) for word in sys.argv[1:]] or [0.2, 0.1, 0.05]
    print(f"{'practice':28}{'what':20}" + "".join(f"{cell:>12g}" for cell in cells))
    for name, scene in scenes.SCENES.items():
        start = time.perf_counter()
        found = [scenes.differences(*scene(sweep.Block, sweep.line, cell)) for cell in cells]
        for kind in found[0]:
            print(f"{name:28}{kind:20}" + "".join(f"{each[kind]:>12.5f}" for each in found))
        print(f"{'':28}{'seconds':20}{time.perf_counter() - start:>12.1f}")


if __name__ == "__main__":
    main()
