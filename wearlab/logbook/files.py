"""A file on disk -> its text, with everything that had to be assumed to read it."""

from __future__ import annotations

import codecs
import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from wearlab.core.errors import FileProblem
from wearlab.core.tables import nearest

MOST_BYTES = 2 * 1024**3
"""A log larger than this is refused: no shop types 2 GiB."""


@dataclass(frozen=True, slots=True)
class Source:
    """Where a log came from: its name, size, SHA-256, and how its bytes were read."""

    name: str
    sha256: str
    size: int
    encoding: str
    delimiter: str = ""


def first_bytes(path: Path, count: int = 8) -> bytes:
    """The first bytes of a file, empty when it cannot be opened: reading it will say why."""
    try:
        with path.open("rb") as file:
            return file.read(count)
    except OSError:
        return b""


def source_of(path: Path, kind: str) -> Source:
    """Name, size and SHA-256 of a file that is no text.

    Raises
    ------
    FileProblem
        The file cannot be read.
    """
    data = _bytes_of(path)
    return Source(path.name, hashlib.sha256(data).hexdigest(), len(data), kind)


def read_source(path: str | Path) -> tuple[Source, str]:
    """Read a text file whole.

    Byte-order marks are honoured; without one UTF-8 is tried, then Windows-1252.

    Raises
    ------
    FileProblem
        The path is missing, a folder, empty, too large, unreadable, or not text.
    """
    path = Path(path)
    data = _bytes_of(path)
    encoding, text = _decode(data, str(path))
    return Source(path.name, hashlib.sha256(data).hexdigest(), len(data), encoding), text


def _bytes_of(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise FileProblem("a folder", where=str(path), allowed="one CSV file", hint="name the log inside it")
        if path.stat().st_size > MOST_BYTES:
            raise FileProblem("a file of over 2 GiB", where=str(path), allowed="a log of up to 2 GiB")
        data = path.read_bytes()
    except FileNotFoundError:
        raise FileProblem("no such file", where=str(path), hint=_sibling(path)) from None
    except OSError as error:
        raise FileProblem(f"cannot be read ({error.strerror})", where=str(path)) from None
    if not data.strip():
        raise FileProblem("an empty file", where=str(path), allowed="a header line and rows",
                          hint="`wearlab check --help` shows a log of three lines")  # fmt: skip
    return data


def _sibling(path: Path) -> str:
    try:
        names = [item.name for item in path.parent.iterdir() if item.is_file()]
    except OSError:
        return "check the folder's name"
    return nearest(path.name, names) or "check the name and the folder"


def _decode(data: bytes, where: str) -> tuple[str, str]:
    for mark, encoding, name in (
        (codecs.BOM_UTF8, "utf-8-sig", "UTF-8 with byte-order mark"),
        (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
        (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
    ):
        if data.startswith(mark):
            try:
                return _printable(name, data.decode(encoding), where)
            except UnicodeDecodeError:
                raise _not_text(where) from None
    if b"\0" in data:
        return _unmarked_utf16(data, where)
    try:
        return _printable("UTF-8", data.decode("utf-8"), where)
    except UnicodeDecodeError:
        return _printable("Windows-1252", data.decode("cp1252", errors="replace"), where)


def _unmarked_utf16(data: bytes, where: str) -> tuple[str, str]:
    """Text in two bytes a character and no mark has a zero in every second byte, or nearly so."""
    head = data[:4096]
    for start, encoding in ((1, "utf-16-le"), (0, "utf-16-be")):
        half = head[start::2]
        if half.count(0) >= 0.9 * len(half) and len(data) % 2 == 0:
            try:
                return _printable("UTF-16 without byte-order mark", data.decode(encoding), where)
            except UnicodeDecodeError:
                break
    raise _not_text(where)


def _printable(encoding: str, text: str, where: str) -> tuple[str, str]:
    """Refuse what decodes by accident; a few control characters, which nobody typed, become marks that can be seen.

    The mark itself may stand in a text of UTF-8 in any number: it was put there by whoever read the text before.
    """
    marks = 0 if encoding.startswith("UTF-8") else text[:_HEAD].count(_MARK)
    if "\0" in text or odd_characters(text) + marks > max(2, len(text[:_HEAD]) // 200):
        raise _not_text(where)
    text, count = _ODD.subn(_MARK, text)
    return (f"{encoding}, with control characters ({count}) as {_MARK}" if count else encoding), text


_HEAD = 65536
_ODD = re.compile("[\0-\x08\x0e-\x1f]")
_MARK = "\ufffd"


def odd_characters(text: str) -> int:
    """How many control characters stand in the first 65536 characters.

    >>> odd_characters("one, two")
    0
    """
    return len(_ODD.findall(text[:_HEAD]))


def _not_text(where: str) -> FileProblem:
    return FileProblem("not a text file", where=where, allowed="a CSV file (UTF-8, UTF-16 or Windows-1252)",
                       hint="save the sheet as CSV first")  # fmt: skip
