"""Safe reading of text files: not too long, no folder or device, valid UTF-8."""

import stat
import tomllib
from pathlib import Path
from typing import Any

from sinkbowl.common.errors import InputRefused

MOST_POINTS = 200
"""Maximum number of points in a line of TOML: a dotted key of n parts takes time n^2 to read."""


def read_toml(text: str) -> dict[str, Any]:
    """Tables of a TOML text.

    Raises tomllib.TOMLDecodeError for no TOML, deep nesting, or a line with too many points,
    ValueError for an integer of thousands of digits.
    """
    if any(line.count(".") > MOST_POINTS for line in text.split("\n")):
        raise tomllib.TOMLDecodeError(f"a line has more than {MOST_POINTS} points")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise tomllib.TOMLDecodeError("it is nested too deeply") from None


def read_text(path: Path, longest: int, what: str) -> str:
    """Content of a UTF-8 text file, without a byte order mark.

    longest : limit of the size [bytes]; no more is read
    what : kind of file for messages: "a case file"

    Raises InputRefused if the file is missing, not an ordinary file, too long, unreadable or not
    UTF-8.
    """
    check_ordinary(path, what)
    try:
        with path.open("rb") as file:
            content = file.read(longest + 1)
    except OSError as error:
        raise InputRefused(f"cannot be read: {error.strerror}") from None
    if len(content) > longest:
        raise InputRefused(f"is too long for {what}", f"At most {longest} bytes are read.")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputRefused(f"is not UTF-8 text (byte {error.start})", "Save it as UTF-8.") from None


def check_ordinary(path: Path, what: str) -> None:
    """Refuse missing files, folders, devices and pipes; InputRefused."""
    try:
        mode = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError, ValueError):
        raise InputRefused("is not there") from None
    except OSError as error:
        raise InputRefused(f"cannot be read: {error.strerror}") from None
    if stat.S_ISDIR(mode):
        raise InputRefused(f"is a folder, not {what}")
    if not stat.S_ISREG(mode):
        raise InputRefused("is not an ordinary file")


def as_text(name: str) -> str:
    """A file's name or an argument as text, with replacement characters for invalid bytes.

    Python represents such bytes as lone surrogates, which cannot be written.
    """
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "replace")


def neighbours(path: Path, pattern: str) -> str:
    """Sentence that names files beside a missing one; empty if there are none."""
    near = sorted(other.name for other in path.parent.glob(pattern))[:8]
    return f"In {path.parent} there are: {', '.join(near)}." if near else ""
