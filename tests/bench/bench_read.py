"""Reading and checking large logs, as ratios side by side in one run: `python tests/bench/bench_read.py [rows]`.

25 columns, about 134 bytes a row; the rules of `check_log` (over forty) against

- the bare read of the same file by pandas,
- the same rules written as a plain, lazily validated pandera schema after that read (`--schema`, slow),
- the same file without bad rows,

and with `--chunks` a file of ten million rows, cutters together and scattered. Wall and processor seconds, medians of
alternated rounds; times of one machine say nothing, ratios do. Nothing here asserts a time.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

if "--no-pyarrow" in sys.argv:  # before pandas looks for it
    sys.modules["pyarrow"] = None  # type: ignore[assignment]

import numpy as np
import pandas as pd

FLUTES, LOOKS = 4, 8
FAULTS = (
    "value_negative", "value_text", "value_huge", "unit_blank", "unit_unknown", "measure_unknown", "flute_word",
    "flute_beyond", "date_order", "coolant_word", "cutter_blank", "reading_half", "clock_off", "clock_blank", "copied",
    "hardness_high",
)  # fmt: skip


def make_log(rows: int, bad: float = 0.0, seed: int = 1) -> pd.DataFrame:
    """A log of so many rows, a part of them spoilt in one of sixteen ways; all cells as text."""
    rng = np.random.default_rng(seed)
    block = FLUTES * LOOKS
    count = -(-rows // block)
    cutter = np.repeat(np.arange(count), block)[:rows]
    look = np.tile(np.repeat(np.arange(1, LOOKS + 1), FLUTES), count)[:rows]
    flute = np.tile(np.arange(1, FLUTES + 1), count * LOOKS)[:rows]
    practice, life = cutter % 2, np.exp(rng.normal(0, 0.2, count))[cutter]
    minutes = np.round(look * 5.05 * (1 + 0.5 * practice), 2)
    value = np.round((0.03 + 0.022 * look / life) * (1 + 0.05 * rng.standard_normal(rows)), 4)
    removal = 36 * 0.0525 * 4 * 1857 / 1000
    words = lambda *choices: np.array(choices)  # noqa: E731
    frame = pd.DataFrame({
        "cutter": np.char.add("E", cutter.astype(str)), "cutter_material": "carbide", "diameter_mm": "12.00",
        "teeth": "4", "work_material": words("42CrMo4 +QT", "C45E +N", "X5CrNi18-10")[cutter % 3], "hardness": "290",
        "hardness_scale": "HB", "strategy": words("layered", "side")[practice], "cutting_speed_m_min": "70.01",
        "feed_per_tooth_mm": "0.0525", "axial_depth_mm": words("3.00", "9.00")[practice],
        "radial_width_mm": words("12.00", "4.00")[practice], "coolant": words("dry", "flood")[cutter % 2],
        "reading": look.astype(str), "cutting_time_min": minutes.astype(str),
        "volume_cm3": np.round(minutes * removal, 2).astype(str), "parts": (look * 4).astype(str), "measure": "VB",
        "zone": "lower", "flute": flute.astype(str), "value": value.astype(str), "unit": "mm",
        "operator": words("A.B.", "C.D.")[cutter % 2], "date": words("2026-03-02", "2026-03-03")[cutter % 2],
        "end_reason": "",
    }).astype(object)  # fmt: skip
    return _spoilt(frame, bad, rng) if bad else frame


def _spoilt(frame: pd.DataFrame, bad: float, rng: np.random.Generator) -> pd.DataFrame:
    at = np.sort(rng.choice(len(frame), int(bad * len(frame)), replace=False))
    kind = rng.integers(len(FAULTS), size=len(at))
    cells = {name: frame[name].to_numpy(dtype=object).copy() for name in frame}
    for code, fault in enumerate(FAULTS):
        rows = at[kind == code]
        _spoil(cells, rows, fault)
    return pd.DataFrame(cells)


def _spoil(cells: dict[str, np.ndarray], rows: np.ndarray, fault: str) -> None:
    simple = {
        "value_text": ("value", "worn"), "value_huge": ("value", "7000000"), "unit_blank": ("unit", ""),
        "unit_unknown": ("unit", "mn"), "measure_unknown": ("measure", "VBB"), "flute_word": ("flute", "x"),
        "flute_beyond": ("flute", "9"), "date_order": ("date", "02.03.2026"), "coolant_word": ("coolant", "floood"),
        "cutter_blank": ("cutter", ""), "reading_half": ("reading", "2.5"), "hardness_high": ("hardness", "9000"),
        "clock_off": ("cutting_time_min", "3333.3"),
    }  # fmt: skip
    if fault in simple:
        name, cell = simple[fault]
        cells[name][rows] = cell
    elif fault == "value_negative":
        cells["value"][rows] = ["-" + cell for cell in cells["value"][rows]]
    elif fault == "clock_blank":
        for name in ("cutting_time_min", "volume_cm3", "parts"):
            cells[name][rows] = ""
    elif fault == "copied":
        for name in cells:
            inner = rows[rows > 0]
            cells[name][inner] = cells[name][inner - 1]


# ------------------------------------------------------------------ timing


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Wall and processor seconds of one call."""
    wall, cpu = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - wall, time.process_time() - cpu


def alternated(works: dict[str, Callable[[], object]], rounds: int) -> dict[str, tuple[float, float]]:
    """Median wall and processor seconds; every round runs each of them once."""
    taken: dict[str, list[tuple[float, float]]] = {name: [] for name in works}
    for work in works.values():
        work()  # once for the caches
    for _ in range(rounds):
        for name, work in works.items():
            taken[name].append(timed(work))
    return {name: (statistics.median(t[0] for t in times), statistics.median(t[1] for t in times))
            for name, times in taken.items()}  # fmt: skip


def table(times: dict[str, tuple[float, float]], base: str) -> None:
    """Print times and ratios to one of them."""
    print(f"| | wall s | processor s | wall ratio | processor ratio |\n|---|---|---|---|---|  (ratios to {base})")
    for name, (wall, cpu) in times.items():
        print(
            f"| {name} | {wall:.3f} | {cpu:.3f} | {wall / times[base][0]:.2f} | {cpu / times[base][1]:.2f} |",
            flush=True,
        )


def run(rows: int, rounds: int, schema: bool) -> None:
    """The ratios of one file size."""
    from wearlab.logbook.large import check_log
    from wearlab.logbook.settings import TrialSettings

    settings = TrialSettings()
    with tempfile.TemporaryDirectory() as folder:
        files = {"clean": Path(folder) / "clean.csv", "5 % bad": Path(folder) / "bad.csv"}
        make_log(rows).to_csv(files["clean"], index=False)
        make_log(rows, 0.05).to_csv(files["5 % bad"], index=False)
        print(f"{rows:,} rows, {files['clean'].stat().st_size / rows:.0f} bytes a row, pandas {pd.__version__}, "
              f"pyarrow {'yes' if _has_pyarrow() else 'no'}")  # fmt: skip
        for name, path in files.items():
            found = check_log(path, settings)
            print(f"{name}: {found.counts.rows_set_aside:,} rows set aside, {len(found.blamed()):,} errors")
        works: dict[str, Callable[[], object]] = {}
        for name, path in files.items():
            works[f"bare read, {name}"] = lambda path=path: pd.read_csv(path)
            works[f"check_log, {name}"] = lambda path=path: check_log(path, settings)
        if schema:
            from wearlab.logbook.plain import plain_failures, plain_frame

            for name, path in files.items():
                works[f"plain schema, {name}"] = lambda path=path: plain_failures(plain_frame(path))
        table(alternated(works, rounds), "bare read, clean")


def _has_pyarrow() -> bool:
    try:
        import pyarrow  # noqa: F401
    except ImportError:
        return False
    return True


# ------------------------------------------------------------------ in chunks

_ONE = """
import resource, sys, time
import numpy, pandas
try:
    import pyarrow.csv, pyarrow.compute
except ImportError:
    pass
import wearlab.logbook.large as large
from wearlab.logbook.settings import TrialSettings
def peak():
    try:  # the highest mark of this process alone; the other one may be inherited
        lines = open("/proc/self/status").read().splitlines()
        return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) / 1024
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
try:
    open("/proc/self/clear_refs", "w").write("5")
except OSError:
    pass
before, start = peak(), time.perf_counter()
if sys.argv[2] == "read":
    pandas.read_csv(sys.argv[1])
else:
    found = large.check_log(sys.argv[1], TrialSettings(), chunk_bytes=large.CHUNK)
    assert found.scattered == (sys.argv[2] == "scattered"), found.scattered
print(time.perf_counter() - start, peak() - before)
"""


def run_chunks(rows: int, rounds: int) -> None:
    """A large file in processes of their own: time, and memory above the imports."""
    with tempfile.TemporaryDirectory() as folder:
        together, scattered = Path(folder) / "together.csv", Path(folder) / "scattered.csv"
        _write_large(together, rows)
        _write_scattered(together, scattered)
        print(f"{rows:,} rows, {together.stat().st_size / 2**20:,.0f} MiB")
        taken: dict[str, list[tuple[float, float]]] = {}
        for _ in range(rounds):
            for name, path, how in (("bare read", together, "read"), ("in chunks, cutters together", together, "check"),
                                    ("in chunks, cutters scattered", scattered, "scattered")):  # fmt: skip
                out = subprocess.run(
                    [sys.executable, "-c", _ONE, str(path), how], capture_output=True, text=True, check=True
                )
                wall, peak = map(float, out.stdout.split())
                taken.setdefault(name, []).append((wall, peak))
        base = statistics.median(t[0] for t in taken["bare read"])
        print("| | wall s | ratio | MiB above imports |\n|---|---|---|---|")
        for name, times in taken.items():
            wall, peak = statistics.median(t[0] for t in times), max(t[1] for t in times)
            print(f"| {name} | {wall:.1f} | {wall / base:.2f} | {peak:,.0f} |", flush=True)


def _write_large(path: Path, rows: int, step: int = 960_000) -> None:
    """One log over and over, each time with other names of cutters."""
    text = make_log(min(step, rows)).to_csv(index=False).encode()
    head, _, body = text.partition(b"\n")
    with path.open("wb") as out:
        out.write(head + b"\n")
        for at in range(0, rows, step):
            lines = body if rows - at >= step else b"".join(body.splitlines(keepends=True)[: rows - at])
            out.write((b"\n" + lines).replace(b"\nE", b"\nB%d-E" % at)[1:])


def _write_scattered(source: Path, target: Path) -> None:
    """The same lines, dealt out so that the looks of a cutter lie far apart."""
    with source.open("rb") as lines, target.open("wb") as out:
        out.write(lines.readline())
        begin = lines.tell()
        for turn in range(2):
            lines.seek(begin)
            while block := lines.readlines(8 << 20):
                out.writelines(block[turn::2])


def main() -> None:
    """Read the arguments and print the tables."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("rows", nargs="?", type=float, default=1e6)
    arguments.add_argument("--rounds", type=int, default=5)
    arguments.add_argument("--schema", action="store_true", help="the plain schema too")
    arguments.add_argument("--chunks", action="store_true", help="a file checked in chunks, in processes of their own")
    arguments.add_argument("--no-pyarrow", action="store_true", help="as if pyarrow were not installed")
    chosen = arguments.parse_args()
    if chosen.chunks:
        run_chunks(int(chosen.rows), chosen.rounds)
    else:
        run(int(chosen.rows), chosen.rounds, chosen.schema)
    print(f"peak {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:,.0f} MiB")


if __name__ == "__main__":
    main()
