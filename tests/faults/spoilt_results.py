"""Spoilt results, each read in a child process of its own: what becomes of the children.

    PYTHONPATH=tests python tests/faults/spoilt_results.py FOLDER COUNT SEED [sealed]

Half of the spoilt bytes lie in the structure of the file, not in its numbers. With "sealed" each
file is sealed again after it was spoilt, as by someone who means harm. Prints how many were read,
refused, and what else happened.
"""

import json
import os
import random
import resource
import sys
from collections import Counter
from pathlib import Path

import h5py

from faults.mutation import read_all
from sinkbowl.common.errors import ResultError
from sinkbowl.files.record import KIND, SCHEMA_VERSION
from sinkbowl.files.safe_reading import USER_BLOCK
from synthetic import seal_again, write_result

ENDS = {0: "read", 2: "refused", 3: "another error"}

LONGEST = 5  # processor time after which reading counts as a hang [s]


def structure(path: Path) -> list[int]:
    """Places of the bytes that are not numbers of a dataset, and not empty space."""
    numbers: set[int] = set()

    def look(_: str, item: h5py.Dataset | h5py.Group) -> None:
        if not isinstance(item, h5py.Dataset):
            return
        for k in range(item.id.get_num_chunks() if item.chunks else 0):
            chunk = item.id.get_chunk_info(k)
            numbers.update(range(chunk.byte_offset, chunk.byte_offset + chunk.size))
        if item.chunks is None and item.id.get_offset() is not None:
            numbers.update(range(item.id.get_offset(), item.id.get_offset() + item.nbytes))

    with h5py.File(path) as file:
        file.visititems(look)
    content = path.read_bytes()
    return [
        k
        for k in range(USER_BLOCK, len(content))
        if k not in numbers and content[max(0, k - 16) : k + 16].strip(b"\0")
    ]


def spoilt(rng: random.Random, content: bytes, places: list[int], first: int) -> bytes:
    """A file cut short, or with some bytes changed, none of them before the first."""
    if rng.random() < 0.1:
        return content[: rng.randrange(first, len(content))]
    out = bytearray(content)
    for _ in range(rng.choice((1, 1, 2, 8))):
        k = rng.choice(places) if rng.random() < 0.5 else rng.randrange(first, len(out))
        length = min(rng.choice((1, 1, 2, 8, 64)), len(out) - k)
        one_bit = (out[k] ^ 1 << rng.randrange(8)).to_bytes() + out[k + 1 : k + length]
        out[k : k + length] = rng.choice(
            (one_bit, rng.randbytes(length), bytes(length), b"\xff" * length)
        )
    return bytes(out)


def end_of_reading(path: Path) -> str:
    """What becomes of a process that reads a result."""
    child = os.fork()
    if child == 0:
        resource.setrlimit(resource.RLIMIT_CPU, (LONGEST, LONGEST + 1))
        status = 3
        try:
            read_all(path)
            status = 0
        except ResultError:
            status = 2
        finally:
            os._exit(status)
    status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    return ENDS.get(status, f"signal {-status}")


def main(folder: Path, count: int, seed: int, sealed: bool) -> None:
    path = write_result(folder / "run.h5", frames=3, cells=(12, 16), steps=60)
    content, places = path.read_bytes(), structure(path)
    rng, told = random.Random(seed), Counter[str]()
    for _ in range(count):
        other = content
        while other == content:
            other = spoilt(rng, content, places, USER_BLOCK if sealed else 0)
        path.write_bytes(other)
        if sealed:
            seal_again(path, KIND, SCHEMA_VERSION)
        told[end_of_reading(path)] += 1
    print(json.dumps(told))


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]), sys.argv[4:] == ["sealed"])
