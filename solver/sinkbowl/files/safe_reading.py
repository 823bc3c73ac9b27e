"""Safe reading of untrusted HDF5 files, and the seal by which damage is noticed.

libhdf5 does not validate files: a wrong byte in the structure can make it hang or crash, and one in
the numbers is not noticed. So a file is compared with its seal before libhdf5 opens it: its first
512 bytes, with the SHA-256 of the rest. This detects damage and changes by other programs, but not
forgery: an attacker can seal a file again. The seal is in the user block of HDF5, which readers
skip (HDF5 File Format Specification, II.A, "Superblock": it may begin at byte 512).

A file can claim arrays of any size, hold text instead of numbers, and link to other files. So all
objects of a file are checked first: they must be in the file itself. A dataset must have the
expected type and dimensions and be small enough, including its chunks, before memory is allocated,
and the total read from a file is limited (`Opened`): compressed, a few kilobytes can contain any
number of values.
"""

import hashlib
import io
import math
from collections.abc import Callable
from io import BufferedRandom, BufferedReader
from pathlib import Path
from typing import Any, TypeVar

import h5py
import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.errors import ResultError
from sinkbowl.common.text_file import read_toml

USER_BLOCK = 512  # length of the seal and of the user block [bytes]


def seal(file: io.FileIO | BufferedRandom, kind: str, schema: str) -> None:
    """Seal a file closed by HDF5.

    file : HDF5 file with a user block, open for reading and writing
    kind : of file, in words without a comma, "sinkbowl result"
    schema : version of its layout

    Raises OSError if it cannot be written.
    """
    file.seek(USER_BLOCK)
    digest = _digest(file)
    file.seek(0)
    file.write(_text(kind, schema, digest))


def check_seal(path: Path, kind: str, schema: str) -> None:
    """Check that the bytes of a file are those that were sealed.

    Raises ResultError if it has no seal of this kind and schema, or is damaged or changed, OSError
    if it cannot be read.
    """
    with path.open("rb") as file:
        found = file.read(USER_BLOCK)
        _check_kind(path, found, kind, schema)
        if found == _text(kind, schema, _digest(file)):
            return
    raise ResultError(
        f"{path}: is damaged, or was changed by another program: its SHA-256 is not that in its "
        "first lines. Use another copy, or compute it again."
    )


def _check_kind(path: Path, found: bytes, kind: str, schema: str) -> None:
    """Refuse another kind or another schema, by the first line of a file."""
    beginning = f"{kind}, schema ".encode()
    if not found.startswith(beginning):
        hint = f" Compute a case first: sinkbowl run {path}" if path.suffix == ".toml" else ""
        raise ResultError(
            f"{path}: is not a {kind} (it does not begin with these words), or is damaged.{hint}"
        )
    written = found.split(b"\n")[0].removeprefix(beginning)
    if written != schema.encode() and written.isdigit() and len(written) < 5:
        raise ResultError(
            f"{path}: has schema {written.decode()}, this version reads {schema}. Compute it "
            "again, or read it with the version that wrote it."
        )


def _digest(file: io.FileIO | BufferedReader | BufferedRandom) -> str:
    return hashlib.file_digest(file, "sha256").hexdigest()


def _text(kind: str, schema: str, digest: str) -> bytes:
    lines = (
        f"{kind}, schema {schema}",
        f"HDF5 from byte {USER_BLOCK} on, with the SHA-256",
        digest,
    )
    return "\n".join(lines).encode().ljust(USER_BLOCK, b"\n")


T = TypeVar("T")
Numbers = NDArray[np.float64]

MOST_BYTES = 2**28  # largest array [bytes]

MOST_READ = 5 * 2**28
"""Largest total read from an open file [bytes]: a history of `record.MOST` steps fits."""

LONGEST_TEXT = 2_000_000  # longest text of an attribute, and total of a dataset [bytes]
LONGEST_WORDS = 10_000  # longest message on a run, and longest text of a dataset

LONGEST_TITLE = 1000
"""Longest title of a result or sweep; a case's has 200 letters, a sweep adds varied values."""

LARGEST = 1e12  # largest plausible number, in any SI unit

MOST_ATTRIBUTES = 100
MOST_TEXTS = 100
MOST_OBJECTS = 50_000
"""Maximum number of groups and datasets; a thousand members have some ten thousand."""

KINDS = "biufSO"  # allowed kinds of numpy types; "O" is text of any length

FILTERS = (h5py.h5z.FILTER_DEFLATE, h5py.h5z.FILTER_SHUFFLE, h5py.h5z.FILTER_FLETCHER32)
"""Filters of HDF5 itself; others would be loaded as plugins."""


class Malformed(ValueError):
    """The contents of a file are wrong."""


class Opened(h5py.File):  # type: ignore[misc]
    """An untrusted file, open for reading; left: bytes that may still be read."""

    left = MOST_READ

    def __init__(self, path: Path) -> None:
        super().__init__(path, "r", locking=False)


def read_sealed(
    path: Path, kind: str, schema: str, problem: str, reader: Callable[[Opened, Path], T]
) -> T:
    """Result of `reader` for a sealed file.

    kind, schema : of the seal
    problem : message for unreadable files, "is not a readable result file"

    Raises ResultError if the seal is broken or of another kind, or the file is damaged.
    """
    try:
        check_seal(path, kind, schema)
        with Opened(path) as file:
            check_self_contained(file)
            return reader(file, path)
    except ResultError:
        raise
    except Exception as error:  # h5py raises in many ways on files that are damaged
        raise ResultError(f"{path}: {problem} ({error}).") from error


def check_self_contained(file: h5py.File) -> None:
    """Check that all objects of a file are in the file itself, each under one name.

    Raises Malformed if a link is not a hard link, an object has two names, a dataset is external or
    virtual, or has a foreign type or filter.
    """
    met = {_place(file)}
    groups: list[h5py.Group] = [file]
    while groups:
        group = groups.pop()
        for name in group:
            item = _own(group, name)
            place = _place(item)
            if place in met:
                raise Malformed(f"{item.name} exists under two names")
            met.add(place)
            if len(met) > MOST_OBJECTS:
                raise Malformed(f"it has more than {MOST_OBJECTS} objects")
            if isinstance(item, h5py.Group):
                groups.append(item)
            else:
                _check_dataset(item, item.name)


def _place(item: h5py.Group | h5py.Dataset) -> int:
    """Position of an object in its file [bytes]."""
    return int(h5py.h5o.get_info(item.id).addr)


def _check_dataset(item: Any, name: str) -> None:
    """Refuse objects that are not datasets, or are stored in another way than this program's."""
    if not isinstance(item, h5py.Dataset) or item.is_virtual or item.external:
        raise Malformed(f"{name} is not a dataset of this file")
    text = h5py.check_string_dtype(item.dtype) is not None
    if item.dtype.kind not in KINDS or (item.dtype.kind == "O" and not text):
        raise Malformed(f"{name} has type {item.dtype}")
    stored = item.id.get_create_plist()
    if any(stored.get_filter(k)[0] not in FILTERS for k in range(stored.get_nfilters())):
        raise Malformed(f"{name} is compressed by a filter that does not belong to HDF5")
    chunk = np.prod(item.chunks or (0,), dtype=float) * item.dtype.itemsize
    if chunk > MOST_BYTES:
        raise Malformed(f"{name} has chunks of {chunk:.3g} bytes")


def group_at(file: h5py.Group, name: str) -> h5py.Group:
    """A group of the file itself."""
    item = _own(file, name)
    if not isinstance(item, h5py.Group):
        raise Malformed(f"{name} is not a group")
    return item


def dataset_at(file: h5py.Group, name: str, dimensions: int, kinds: str = "f") -> h5py.Dataset:
    """A dataset of the file itself, of the expected kinds and number of dimensions.

    kinds : kinds of numpy types, "O" for text of any length
    """
    parent = file
    *folders, last = name.split("/")
    for folder in folders:
        parent = group_at(parent, folder)
    item = _own(parent, last)
    _check_dataset(item, name)
    if item.dtype.kind not in kinds or item.ndim != dimensions:
        raise Malformed(f"{name} has type {item.dtype} and {item.ndim} dimensions")
    return item


def read(
    file: Opened,
    name: str,
    dimensions: int,
    kinds: str = "f",
    index: int | None = None,
    most: float = math.inf,
) -> NDArray[Any]:
    """All numbers of a dataset, or those at one index of its first dimension.

    kinds : as for `dataset_at`, no texts
    most : longest first dimension
    """
    dataset = dataset_at(file, name, dimensions, kinds)
    shape = dataset.shape if index is None else dataset.shape[1:]
    size = math.prod(shape) * dataset.dtype.itemsize
    file.left -= size
    if size > MOST_BYTES or file.left < 0 or len(dataset) > most:
        raise Malformed(f"{name} claims {size:.3g} bytes, {len(dataset)} long")
    return np.asarray(dataset[()] if index is None else dataset[index])


def numbers(file: Opened, name: str, dimensions: int, most: float = math.inf) -> Numbers:
    """All numbers of a dataset."""
    return np.asarray(read(file, name, dimensions, most=most), dtype=np.float64)


def texts(file: Opened, name: str, most: int) -> list[str]:
    """A dataset of texts, read one by one: many may be the same long one.

    most : maximum number
    """
    dataset, found, size = dataset_at(file, name, 1, "OS"), [], 0
    if len(dataset) > most:
        raise Malformed(f"{name} has {len(dataset)} texts")
    for k in range(len(dataset)):
        found.append(dataset[k].decode())
        size += len(found[-1])
        if size > LONGEST_TEXT or len(found[-1]) > LONGEST_WORDS:
            raise Malformed(f"{name} has a text of {len(found[-1])} letters, {size} so far")
    return found


def are_numbers(array: NDArray[Any]) -> bool:
    """Whether all elements of an array are plausible numbers, SI."""
    return bool(np.all(np.abs(array) <= LARGEST))


def is_toml(text: str) -> bool:
    """Whether a text is TOML."""
    try:
        read_toml(text)
    except ValueError:
        return False
    return True


def attributes_of(file: h5py.Group) -> dict[str, str | float]:
    """All attributes of a group, each a text or a number."""
    if len(file.attrs) > MOST_ATTRIBUTES:
        raise Malformed(f"there are {len(file.attrs)} attributes")
    return {name: attribute_of(file, name) for name in file.attrs}


def attribute_of(file: h5py.Group, name: str) -> str | float:
    """An attribute that is a text or a number."""
    attribute = file.attrs.get_id(name)
    if attribute.shape != () or attribute.get_storage_size() > LONGEST_TEXT:
        raise Malformed(f"the attribute {name} is not text or a number")
    value = file.attrs[name]
    if isinstance(value, str) and len(value) <= LONGEST_TEXT:
        value.encode()
        return value
    if isinstance(value, float | int | np.number):
        return float(value)
    raise Malformed(f"the attribute {name} is not text or a number")


def check_title(title: str) -> None:
    """Refuse a title that no figure can show; Malformed."""
    if len(title) > LONGEST_TITLE:
        raise Malformed(f"its title has {len(title)} letters")


def texts_of(file: h5py.Group, name: str) -> tuple[str, ...]:
    """An attribute that is a list of texts."""
    attribute = file.attrs.get_id(name)
    if len(attribute.shape) != 1 or attribute.shape[0] > MOST_TEXTS:
        raise Malformed(f"the attribute {name} is not a list of texts")
    found = tuple(file.attrs[name].tolist())
    if not all(isinstance(text, str) for text in found):
        raise Malformed(f"the attribute {name} is not a list of texts")
    return found


def _own(parent: h5py.Group, name: str) -> Any:
    """Target of a hard link; other links are not followed."""
    if name not in parent or not isinstance(parent.get(name, getlink=True), h5py.HardLink):
        raise Malformed(f"{name} is missing, or a link to another place")
    return parent[name]
