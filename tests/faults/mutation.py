"""Inputs spoilt at random, and a watch over what reading them does."""

import random
import resource
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sinkbowl.common.errors import SinkbowlError
from sinkbowl.files.result import read_result

NASTY = (
    b"nan", b"-1", b"0", b"1e999", b"1e-320", b"-inf", b"99999999999999999999", b"1e9 m", b"\x00",
    b"\xff\xfe", b"\xc3\x28", b'"""', b"[[", b"]]", b"{", b"}", b"=", b"\\u0000", b"\n[bowl]\n",
    b"../../../../etc/passwd", b"/dev/zero", b"/proc/self/mem", b"__import__('os')", b"%s%n",
    b"furlong", b"mm^99", b"**9", b"m*m*m", b"true", b"1979-05-27", b"'", b";", b"\t", b",,,", b"#",
)  # fmt: skip
"""Pieces that have no business where they are put."""

MOST_MEMORY = 2**31  # address space that reading may take on top of what is in use [bytes]
LONGEST = 2.0  # processor time after which an input counts as a hang [s]


def mutated(rng: random.Random, text: bytes, others: Sequence[bytes]) -> bytes:
    """A text with one to four things done to it."""
    for _ in range(rng.choice((1, 1, 2, 4))):
        a, b = sorted(rng.randrange(len(text) + 1) for _ in range(2))
        b = min(b, a + rng.choice((1, 4, 40)))
        text = rng.choice(
            (
                lambda t, a, b: t[:a] + t[b:],
                lambda t, a, b: t[:b] + t[a:],
                lambda t, a, b: t[:a] + rng.choice(NASTY) + t[b:],
                lambda t, a, b: t[:a] + rng.choice(NASTY) + t[a:],
                lambda t, a, b: t[:a] + bytes(rng.randrange(256) for _ in range(b - a)) + t[b:],
                lambda t, a, b: t[:a] + t[a:b] * rng.choice((2, 300)) + t[b:],
                lambda t, a, b: t[:a],
                lambda t, a, b: t[:a] + rng.choice(others)[a:],
                _other_value,
                _swapped_lines,
            )
        )(text, a, b)
    return text


def _other_value(text: bytes, a: int, b: int) -> bytes:
    """Something nasty between the next two quotes."""
    first = text.find(b'"', a)
    last = text.find(b'"', first + 1)
    return text if last < 0 else text[: first + 1] + NASTY[(a + b) % len(NASTY)] + text[last:]


def _swapped_lines(text: bytes, a: int, b: int) -> bytes:
    lines = text.split(b"\n")
    i, j = a % len(lines), b % len(lines)
    lines[i], lines[j] = lines[j], lines[i]
    return b"\n".join(lines)


class Hang(BaseException):
    """Reading takes too long."""


FORBIDDEN = ("subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.fork")
FORBIDDEN_TOO = ("pickle.find_class", "socket.connect", "os.remove", "os.rename", "ctypes.dlopen")

_watched: list[str] | None = None
_allowed = Path()


def _hook(event: str, arguments: tuple[Any, ...]) -> None:
    if _watched is None:
        return
    if event in FORBIDDEN or event in FORBIDDEN_TOO:
        _watched.append(f"{event} {arguments!r:.200}")
    if event == "open" and isinstance(arguments[1], str) and set(arguments[1]) & set("wax+"):
        place = Path(str(arguments[0])).resolve()
        if not place.is_relative_to(_allowed) and "__pycache__" not in place.parts:
            _watched.append(f"open {arguments!r:.200}")


sys.addaudithook(_hook)


@contextmanager
def watched(folder: Path) -> Iterator[list[str]]:
    """Bound memory, and list what is done that reading a file should not do.

    folder : where files may be written
    """
    global _watched, _allowed
    seen: list[str] = []
    used = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    before = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (used + MOST_MEMORY, before[1]))
    old = signal.signal(signal.SIGPROF, _too_long)
    _watched, _allowed = seen, folder.resolve()
    try:
        yield seen
    finally:
        _watched = None
        signal.signal(signal.SIGPROF, old)
        resource.setrlimit(resource.RLIMIT_AS, before)


def _too_long(*_: object) -> None:
    raise Hang


def outcome(read: Callable[[], object]) -> str:
    """What became of an input: "read", "refused", or what went wrong."""
    signal.setitimer(signal.ITIMER_PROF, LONGEST)
    try:
        read()
        return "read"
    except SinkbowlError as error:
        return "refused" if str(error).strip() else "refused without a word"
    except BaseException as error:
        return f"{type(error).__name__}: {error}"[:300]
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)


def read_all(path: Path) -> None:
    """All that a page made of a result reads."""
    result = read_result(path)
    for k in range(min(len(result.frames), 3)):
        result.frames.fields(k)
    result.sinking()
