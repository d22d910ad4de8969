"""Stretches of a file of lines: cut where a line ends, and put into another order without taking the lines apart."""

from __future__ import annotations

from collections.abc import Iterator
from typing import IO, Any

import numpy as np

from wearlab.logbook.sheet import Ints


def whole_lines(file: IO[bytes], begin: int, chunk: int) -> Iterator[bytes]:
    """Blocks of the file that end where a line ends."""
    file.seek(begin)
    held = b""
    while block := file.read(chunk):
        data = held + block
        end = data.rfind(b"\n") + 1
        held = data[end:]
        if end:
            yield data[:end]
    if held:
        yield held + b"\n"


def lines_by_part(data: bytes, part_of: Ints, lines: Ints, parts: int) -> Iterator[tuple[bytes, Ints]]:
    """The lines of each part, and their numbers, in the order of the file."""
    ends = np.flatnonzero(np.frombuffer(data, dtype=np.uint8) == 10) + 1
    starts = np.concatenate([[0], ends[:-1]])
    order = np.argsort(part_of, kind="stable")
    counts = np.bincount(part_of, minlength=parts)
    joined = _taken(data, starts, ends, order)
    lengths = (ends - starts)[order]
    at, byte = 0, 0
    for part in range(parts):
        size = int(lengths[at : at + counts[part]].sum())
        yield joined[byte : byte + size], lines[order[at : at + counts[part]]]
        at, byte = at + int(counts[part]), byte + size


def _taken(data: bytes, starts: Ints, ends: Ints, order: Ints) -> Any:
    """Lines in another order, as one stretch of bytes."""
    try:
        import pyarrow as pa
    except ImportError:
        view = memoryview(data)
        return b"".join(view[starts[i] : ends[i]] for i in order)
    offsets = np.concatenate([starts, ends[-1:]]).astype(np.int64)
    buffers = [None, pa.py_buffer(offsets), pa.py_buffer(data)]
    whole = pa.LargeBinaryArray.from_buffers(pa.large_binary(), len(starts), buffers)
    taken = whole.take(pa.array(order))
    return memoryview(taken.buffers()[2])
