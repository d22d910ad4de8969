"""A line on a terminal's stderr that says what a command is at, once it has taken a second.

It goes away before anything else is written, and is never seen where stderr is a file or a pipe.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

AFTER_S = 1.0
EVERY_S = 0.5


class Waiting:
    """The line, and the thread that keeps it."""

    def __init__(self, stream: Any, doing: str) -> None:
        self.stream, self.doing = stream, doing
        self.started = time.monotonic()
        self.shown = 0
        self.over = threading.Event()
        self.lock = threading.Lock()
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self) -> None:
        pause = AFTER_S
        while not self.over.wait(pause):
            self._show()
            pause = EVERY_S

    def _show(self) -> None:
        with self.lock:
            if self.over.is_set():
                return
            text = f"{self.doing}, {time.monotonic() - self.started:.0f} s"[:79]
            self.stream.write("\r" + text.ljust(self.shown))
            self.stream.flush()
            self.shown = len(text)

    def end(self) -> None:
        """Take the line away."""
        with self.lock:
            self.over.set()
            if self.shown:
                self.stream.write("\r" + " " * self.shown + "\r")
                self.stream.flush()
                self.shown = 0


class _Clearing:
    """A stream that takes the waiting line away before it is written to."""

    def __init__(self, stream: Any, waiting: Waiting) -> None:
        self._stream, self._waiting = stream, waiting

    def write(self, text: str) -> int:
        """Write to the stream itself."""
        self._waiting.end()
        return int(self._stream.write(text))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


_now: Waiting | None = None


@contextmanager
def waiting(doing: str) -> Iterator[None]:
    """Show what is being done while the block runs, where stderr is a terminal."""
    global _now
    if not sys.stderr.isatty():
        yield
        return
    out, err = sys.stdout, sys.stderr
    _now = Waiting(err, doing)
    sys.stdout, sys.stderr = _Clearing(out, _now), _Clearing(err, _now)  # type: ignore[assignment]
    try:
        yield
    finally:
        _now.end()
        sys.stdout, sys.stderr, _now = out, err, None


def step(doing: str) -> None:
    """Say what is being done now."""
    if _now is not None:
        _now.doing = doing
