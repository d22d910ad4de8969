"""A request and its plan, and the simulated shop of the round trip."""

from __future__ import annotations

import importlib.util
import sys
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from wearlab.plan.example import EXAMPLE
from wearlab.plan.plan import Plan, make_plan
from wearlab.plan.request import Request
from wearlab.plan.request_file import request_of


@pytest.fixture
def request_with() -> Callable[..., Request]:
    """The example request, with sections changed: request_with(size={"cutters": 4}, seed=2)."""

    def make(text: str = EXAMPLE, **changes: Any) -> Request:
        made = request_of(tomllib.loads(text))
        for name, change in changes.items():
            old = getattr(made, name)
            made = replace(
                made,
                **{
                    name: replace(old, **change)
                    if isinstance(change, dict) and hasattr(old, "__slots__")
                    else change
                },
            )
        return made

    return make


@pytest.fixture(scope="session")
def plan() -> Plan:
    """The plan of the example."""
    return make_plan(request_of(tomllib.loads(EXAMPLE)))


@pytest.fixture(scope="session")
def round_trip() -> ModuleType:
    """The script of the round trip, as a module."""
    path = Path(__file__).parents[1] / "bench" / "round_trip_plan.py"
    spec = importlib.util.spec_from_file_location("round_trip_plan", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["round_trip_plan"] = module
    spec.loader.exec_module(module)
    return module
