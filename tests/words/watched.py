"""A plugin for pytest: which statements of `wearlab/words` that hold a text did not run. Used by one test."""

from __future__ import annotations

import ast
import os
import sys
from pathlib import Path
from types import FrameType
from typing import Any

import wearlab

WORDS = Path(wearlab.__file__).parent / "words"
SEEN: set[tuple[str, int]] = set()
FOLDER = str(WORDS)


def _line(frame: FrameType, event: str, _: Any) -> Any:
    if event == "line":
        SEEN.add((frame.f_code.co_filename, frame.f_lineno))
    return _line


def _call(frame: FrameType, _: str, __: Any) -> Any:
    return _line if frame.f_code.co_filename.startswith(FOLDER) else None


def pytest_configure(config: Any) -> None:
    """Begin to watch."""
    sys.settrace(_call)


def pytest_unconfigure(config: Any) -> None:
    """Write how many statements hold a text, and those that did not run."""
    sys.settrace(None)
    total, missed = 0, []
    for path in sorted(WORDS.glob("*.py")):
        source = path.read_text(encoding="utf-8")
        for name, statement in _with_text(ast.parse(source)):
            total += 1
            lines = range(statement.lineno, (statement.end_lineno or statement.lineno) + 1)
            if not any((str(path), line) in SEEN for line in lines):
                missed.append(f"{path.name}:{statement.lineno} in {name}")
    Path(os.environ["UNRENDERED"]).write_text("\n".join([str(total), *missed]) + "\n", encoding="utf-8")


def _with_text(tree: ast.Module) -> list[tuple[str, ast.stmt]]:
    """Statements of functions that hold a text of more than a word; what a docstring says does not count."""
    found: list[tuple[str, ast.stmt]] = []
    for function in ast.walk(tree):
        if not isinstance(function, ast.FunctionDef):
            continue
        for statement in (each for part in function.body for each in ast.walk(part)):
            if isinstance(statement, ast.Return | ast.Assign | ast.AugAssign) and any(
                map(_is_text, ast.walk(statement))
            ):
                found.append((function.name, statement))
    return found


def _is_text(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value.strip()
