"""Reading of HDF5 that comes from strangers: what is asked for is looked at before it is read.

A file can claim arrays of any size, hold text where numbers belong, and point to other files. So a
file is walked through before anything in it is used: all of it must lie in this very file. A
dataset must have the type and dimensions expected and be small enough, its chunks too, before
memory is set aside for it, and what is read of one file is added up (`Opened`): packed, a few
kilobytes are as many numbers as they please.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import h5py
import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.errors import ResultError
from sinkbowl.common.text_file import read_toml
from sinkbowl.files.seal import check_seal

T = TypeVar("T")
Numbers = NDArray[np.float64]

MOST_BYTES = 2**28
"""Largest array that is read at once [bytes]."""

MOST_READ = 5 * 2**28
"""Most that is read of a file while it is open [bytes]: a history of `record.MOST` steps fits."""

LONGEST_TEXT = 2_000_000
"""Longest text in an attribute, and in all of a dataset [bytes]."""

LONGEST_WORDS = 10_000
"""Of what a file says of a run, and of one text of a dataset."""

LONGEST_TITLE = 1000
"""Of a result or a sweep; a case's has 200 letters, a sweep adds what it varies."""

LARGEST = 1e12
"""Largest number that is taken for one of a bowl in a tub, in whatever SI unit."""

MOST_ATTRIBUTES = 100
MOST_TEXTS = 100
MOST_OBJECTS = 50_000
"""Most groups and datasets in a file; a thousand members have some ten thousand."""

KINDS = "biufSO"
"""Letters of numpy's kinds of types that datasets have; "O" is text of any length."""

FILTERS = (h5py.h5z.FILTER_DEFLATE, h5py.h5z.FILTER_SHUFFLE, h5py.h5z.FILTER_FLETCHER32)
"""Filters that HDF5 itself brings; others would be loaded from wherever plugins are looked for."""


class Malformed(ValueError):
    """What was found in a file is not what belongs there."""


class Opened(h5py.File):  # type: ignore[misc]
    """A file of a stranger, open to be read; left: what may still be read of it [bytes]."""

    left = MOST_READ

    def __init__(self, path: Path) -> None:
        super().__init__(path, "r", locking=False)


def read_sealed(
    path: Path, kind: str, schema: str, problem: str, reader: Callable[[Opened, Path], T]
) -> T:
    """What `reader` makes of a sealed file.

    Parameters
    ----------
    kind, schema : of the seal, see `seal.py`
    problem : what to say of a file that it cannot be made of, "is not a readable result file"

    Raises
    ------
    ResultError : the seal is broken or another one, or the file is damaged
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
    """Let a file pass that holds all of itself, each thing once, and nothing of other files.

    Raises
    ------
    Malformed : a link is not a hard one, something has two names, a dataset lies in other files or
        is put together from others, or it has a type or filter that no file of ours has
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
    """Where something lies in its file [bytes]."""
    return int(h5py.h5o.get_info(item.id).addr)


def _check_dataset(item: Any, name: str) -> None:
    """Refuse what is no dataset, or one that is stored in another way than ours are."""
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
    """A dataset of the file itself, of the kinds and number of dimensions expected.

    Parameters
    ----------
    kinds : letters of numpy's kinds of types, "O" for text of any length
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

    Parameters
    ----------
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
    """A dataset of texts, one by one: many may be the same long one.

    Parameters
    ----------
    most : how many
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
    """Whether all of an array are numbers that a bowl in a tub can have, in SI units."""
    return bool(np.all(np.abs(array) <= LARGEST))


def is_toml(text: str) -> bool:
    """Whether a text is TOML."""
    try:
        read_toml(text)
    except ValueError:
        return False
    return True


def attributes_of(file: h5py.Group) -> dict[str, str | float]:
    """All attributes of a group, each one text or one number."""
    if len(file.attrs) > MOST_ATTRIBUTES:
        raise Malformed(f"there are {len(file.attrs)} attributes")
    return {name: attribute_of(file, name) for name in file.attrs}


def attribute_of(file: h5py.Group, name: str) -> str | float:
    """An attribute that is one text or one number."""
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
    """Refuse what no figure can show; Unsound."""
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
    """What a hard link of this name leads to; links to other places are not followed."""
    if name not in parent or not isinstance(parent.get(name, getlink=True), h5py.HardLink):
        raise Malformed(f"{name} is missing, or a link to another place")
    return parent[name]
