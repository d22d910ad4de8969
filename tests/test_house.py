"""The house rules that hold the package together: floors, sizes, light imports, no machine's paths."""

from __future__ import annotations

import ast
import json
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import wearlab

PACKAGE = Path(wearlab.__file__).parent
ROOT = Path(__file__).parents[1]
FLOORS = (
    ("core",), ("published",), ("stats",), ("milling",), ("logbook",), ("wear", "wall"), ("life",), ("fit",),
    ("compare",), ("decide",), ("plan",), ("simulate",), ("words",), ("report",), ("cli", "examples"),
)  # fmt: skip
FLOOR_OF = {room: level for level, rooms in enumerate(FLOORS) for room in rooms}
MOST_MODULE_LINES = 400
MOST_FUNCTION_LINES = 60
MODULES = sorted(PACKAGE.rglob("*.py"))
HEAVY = ("pandas", "numpy", "scipy", "statsmodels", "sklearn", "matplotlib", "seaborn", "pandera", "jinja2")


def imported(source: str, module: str) -> list[tuple[int, str]]:
    """Line and dotted name of everything that a module imports, inside functions too."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                parents = module.split(".")[: -node.level]
                base = ".".join([*parents, base] if base else parents)
            # `from wearlab import fit` names the room only in the alias.
            found += [(node.lineno, f"{base}.{alias.name}") for alias in node.names]
    return found


def climbs(source: str, module: str) -> list[str]:
    """Imports of a module that do not go down to a lower floor."""
    room = module.split(".")[1]
    bad = []
    for line, name in imported(source, module):
        parts = name.split(".")
        if parts[0] != "wearlab" or len(parts) < 2 or parts[1] == room or parts[1].startswith("__"):
            continue
        if parts[1] not in FLOOR_OF or FLOOR_OF[parts[1]] >= FLOOR_OF[room]:
            bad.append(f"{module}:{line} imports {name}")
    return bad


def docstring_lines(tree: ast.AST) -> set[int]:
    """Lines of a tree that belong to docstrings, those under a constant's name among them."""
    lines: set[int] = set()
    for node in ast.walk(tree):
        body = getattr(node, "body", [])
        for child in body if isinstance(body, list) else []:
            value = child.value if isinstance(child, ast.Expr) else None
            if isinstance(value, ast.Constant) and isinstance(value.value, str):
                lines |= set(range(child.lineno, (child.end_lineno or child.lineno) + 1))
    return lines


def code_line_numbers(source: str, tree: ast.AST) -> set[int]:
    """Lines that are neither blank, comment nor docstring."""
    skip = docstring_lines(tree)
    numbered = enumerate((line.strip() for line in source.splitlines()), start=1)
    return {at for at, text in numbered if text and not text.startswith("#") and at not in skip}


def code_lines(source: str) -> int:
    return len(code_line_numbers(source, ast.parse(source)))


def long_functions(source: str, most: int) -> list[tuple[str, int]]:
    """Functions with more code lines than `most`, the signature counted and the docstring not."""
    tree = ast.parse(source)
    code = code_line_numbers(source, tree)
    sizes = [
        (node.name, len(code & set(range(node.lineno, (node.end_lineno or node.lineno) + 1))))
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]
    return [(name, size) for name, size in sizes if size > most]


def module_name(path: Path) -> str:
    return ".".join(["wearlab", *path.relative_to(PACKAGE).with_suffix("").parts])


class TestTheMeasures:
    """The measuring sticks themselves, on sources whose answer is plain."""

    def test_an_upward_import_is_seen_also_inside_a_function(self) -> None:
        source = "def f():\n    from wearlab.compare.fair import fairness\n"
        assert climbs(source, "wearlab.life.lives") == ["wearlab.life.lives:2 imports wearlab.compare.fair.fairness"]
        assert climbs(source, "wearlab.report.build") == []

    def test_a_neighbour_on_the_same_floor_is_no_lower_room(self) -> None:
        assert climbs("import wearlab.wall.profile", "wearlab.wear.curves")
        assert climbs("from ..wall import profile", "wearlab.wear.curves")
        assert climbs("from wearlab import wall", "wearlab.wear.curves")
        assert not climbs("from . import rate", "wearlab.wear.curves")

    def test_an_unknown_room_is_no_lower_room(self) -> None:
        assert climbs("import wearlab.attic", "wearlab.cli.main")

    def test_docstrings_and_comments_are_not_code(self) -> None:
        source = '"""a\nb\n"""\nX = 1\n"""What X is."""\n\n# no\ndef f():\n    """d\n    e"""\n    return 1\n'
        assert code_lines(source) == 3
        assert long_functions(source, 1) == [("f", 2)]
        assert long_functions(source, 2) == []


@pytest.mark.parametrize("path", [path for path in MODULES if path.parent != PACKAGE], ids=module_name)
def test_rooms_import_downwards_only(path: Path) -> None:
    assert climbs(path.read_text(encoding="utf-8"), module_name(path)) == []


def test_every_room_stands_on_a_floor() -> None:
    rooms = {path.name for path in PACKAGE.iterdir() if (path / "__init__.py").exists()}
    assert {"core", "stats", "logbook", "life", "fit", "compare", "cli"} <= rooms
    assert rooms <= set(FLOOR_OF)


def test_no_module_is_too_long() -> None:
    sizes = {module_name(path): code_lines(path.read_text(encoding="utf-8")) for path in MODULES}
    assert {name: size for name, size in sizes.items() if size > MOST_MODULE_LINES} == {}


def test_no_function_is_too_long() -> None:
    texts = {module_name(path): path.read_text(encoding="utf-8") for path in MODULES}
    found = {name: long_functions(text, MOST_FUNCTION_LINES) for name, text in texts.items()}
    assert {name: functions for name, functions in found.items() if functions} == {}


def run_python(code: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=False)


@pytest.mark.parametrize("module", ["wearlab", "wearlab.cli.main", "wearlab.core.errors", "wearlab.core.tables"])
def test_light_imports_stay_light(module: str) -> None:
    done = run_python(f"import json, sys; import {module}; print(json.dumps(sorted(sys.modules)))")
    assert done.returncode == 0, done.stderr
    loaded = set(json.loads(done.stdout))
    assert module in loaded
    assert loaded & set(HEAVY) == set()


def test_help_imports_no_heavy_library() -> None:
    code = (
        "import atexit, json, sys\n"
        "atexit.register(lambda: print('LOADED', json.dumps(sorted(sys.modules))))\n"
        "sys.argv = ['wearlab', '--help']\n"
        "from wearlab.cli.main import run\n"
        "sys.exit(run())\n"
    )
    done = run_python(code)
    assert done.returncode == 0, done.stderr
    text, _, loaded = done.stdout.partition("LOADED ")
    assert "compare" in text
    assert set(json.loads(loaded)) & set(HEAVY) == set()


def test_fit_and_compare_work_without_any_drawing_library() -> None:
    code = (
        "import importlib, pkgutil, sys\n"
        "for name in ('matplotlib', 'seaborn', 'jinja2'):\n"
        "    sys.modules[name] = None\n"
        "for room in ('fit', 'compare'):\n"
        "    package = importlib.import_module('wearlab.' + room)\n"
        "    for found in pkgutil.walk_packages(package.__path__, package.__name__ + '.'):\n"
        "        importlib.import_module(found.name)\n"
        "from wearlab.fit.tool_life import fit_tool_life\n"
        "from wearlab.life.lives import tool_lives\n"
        "from wearlab.logbook.read import read_log\n"
        "from wearlab.logbook.samples import sample_path\n"
        "trial = read_log(sample_path('taylor_T01'))\n"
        "lives = tool_lives(trial)\n"
        "fit = fit_tool_life(lives.to_frame(), trial.facts())\n"
        "print(fit.lives, 'matplotlib' in sys.modules and sys.modules['matplotlib'] is not None)\n"
    )
    done = run_python(code)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "2 False"


# The brackets keep the pattern from finding itself in this file.
MACHINE_PATH = re.compile(r"(?<![\w.:/<])[/](?:work|tmp|opt|home|root)[/]|[/]bash_jobs")
SKIPPED_FOLDERS = {".git", ".venv", "venv", "__pycache__", "build", "dist", "wearlab-out", "node_modules"}
BINARY_SUFFIXES = {".png", ".jpg", ".gif", ".xlsx", ".pyc", ".so", ".whl", ".gz", ".pdf", ".parquet"}


def texts(folder: Path) -> Iterator[Path]:
    """Text files of the tree, caches and hidden folders left out (the check script of the project is not)."""
    for path in sorted(folder.iterdir()):
        hidden = path.name.startswith(".") and path.name not in (".ci", ".gitignore")
        if path.name in SKIPPED_FOLDERS or hidden or path.name.endswith(".egg-info"):
            continue
        if path.is_dir():
            yield from texts(path)
        elif path.suffix not in BINARY_SUFFIXES:
            yield path


def test_the_pattern_of_machine_paths_finds_one() -> None:
    for folder in ("work", "tmp", "opt", "home", "root"):
        assert MACHINE_PATH.search(f"see /{folder}/x.csv")
    assert not MACHINE_PATH.search("https://example.org/work/page")
    assert not MACHINE_PATH.search("framework/tmpl")


def test_no_file_names_a_machine_path() -> None:
    found = []
    for path in texts(ROOT):
        for at, line in enumerate(path.read_text(encoding="utf-8", errors="replace").splitlines(), start=1):
            if MACHINE_PATH.search(line):
                found.append(f"{path.relative_to(ROOT)}:{at}: {line.strip()[:100]}")
    assert found == []


def test_the_tree_is_really_walked() -> None:
    seen = {str(path.relative_to(ROOT)) for path in texts(ROOT)}
    assert {"pyproject.toml", "README.md", "tests/test_house.py", "wearlab/core/errors.py"} <= seen
