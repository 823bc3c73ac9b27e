"""Reading of HDF5 that comes from strangers: what is asked for is looked at before it is read.

A file can claim arrays of any size, hold text where numbers belong, and point to other files, to
which HDF5 even writes where a dataset is changed. So a file is walked through before anything in it
is used: all of it must lie in this very file. A dataset must have the type and dimensions expected,
and be small enough, its chunks too, before memory is set aside for it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import h5py
import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.errors import ResultError
from sinkbowl.files.seal import check_seal

T = TypeVar("T")

MOST_BYTES = 2**28
"""Largest array that is read at once [bytes]."""

LONGEST_TEXT = 2_000_000
"""Longest text in an attribute [bytes]."""

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


class Unsound(ValueError):
    """What was found in a file is not what belongs there."""


def read_sealed(
    path: Path, kind: str, schema: str, problem: str, reader: Callable[[h5py.File, Path], T]
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
        with h5py.File(path, "r", locking=False) as file:
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
    Unsound : a link is not a hard one, something has two names, a dataset lies in other files or is
        put together from others, or it has a type or filter that no file of ours has
    """
    met = {_place(file)}
    groups: list[h5py.Group] = [file]
    while groups:
        group = groups.pop()
        for name in group:
            item = _own(group, name)
            place = _place(item)
            if place in met:
                raise Unsound(f"{item.name} is there under two names")
            met.add(place)
            if len(met) > MOST_OBJECTS:
                raise Unsound(f"it holds more than {MOST_OBJECTS} things")
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
        raise Unsound(f"{name} is no dataset of this file")
    text = h5py.check_string_dtype(item.dtype) is not None
    if item.dtype.kind not in KINDS or (item.dtype.kind == "O" and not text):
        raise Unsound(f"{name} has type {item.dtype}")
    stored = item.id.get_create_plist()
    if any(stored.get_filter(k)[0] not in FILTERS for k in range(stored.get_nfilters())):
        raise Unsound(f"{name} is packed by a filter that is not HDF5's own")
    chunk = np.prod(item.chunks or (0,), dtype=float) * item.dtype.itemsize
    if chunk > MOST_BYTES:
        raise Unsound(f"{name} has chunks of {chunk:.3g} bytes")


def group_at(file: h5py.Group, name: str) -> h5py.Group:
    """A group of the file itself."""
    item = _own(file, name)
    if not isinstance(item, h5py.Group):
        raise Unsound(f"{name} is no group")
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
        raise Unsound(f"{name} has type {item.dtype} and {item.ndim} dimensions")
    return item


def read(dataset: h5py.Dataset, index: int | None = None) -> NDArray[Any]:
    """All of a dataset, or what lies at one index of its first dimension."""
    shape = dataset.shape if index is None else dataset.shape[1:]
    size = np.prod(shape, dtype=float) * dataset.dtype.itemsize
    if size > MOST_BYTES:
        raise Unsound(f"{dataset.name} claims {size:.3g} bytes")
    return np.asarray(dataset[()] if index is None else dataset[index])


def numbers(file: h5py.Group, name: str, dimensions: int) -> NDArray[np.float64]:
    """All numbers of a dataset."""
    return np.asarray(read(dataset_at(file, name, dimensions)), dtype=np.float64)


def are_numbers(array: NDArray[Any]) -> bool:
    """Whether all of an array are numbers that a bowl in a tub can have, in SI units."""
    return bool(np.all(np.abs(array) <= LARGEST))


def is_toml(text: str) -> bool:
    """Whether a text is TOML."""
    try:
        tomllib.loads(text)
    except (ValueError, RecursionError):
        return False
    return True


def attributes_of(file: h5py.Group) -> dict[str, str | float]:
    """All attributes of a group, each one text or one number."""
    if len(file.attrs) > MOST_ATTRIBUTES:
        raise Unsound(f"there are {len(file.attrs)} attributes")
    return {name: attribute_of(file, name) for name in file.attrs}


def attribute_of(file: h5py.Group, name: str) -> str | float:
    """An attribute that is one text or one number."""
    attribute = file.attrs.get_id(name)
    if attribute.shape != () or attribute.get_storage_size() > LONGEST_TEXT:
        raise Unsound(f"the attribute {name} is neither a text nor a number")
    value = file.attrs[name]
    if isinstance(value, str) and len(value) <= LONGEST_TEXT:
        value.encode()
        return value
    if isinstance(value, float | int | np.number):
        return float(value)
    raise Unsound(f"the attribute {name} is neither a text nor a number")


def texts_of(file: h5py.Group, name: str) -> tuple[str, ...]:
    """An attribute that is a list of texts."""
    attribute = file.attrs.get_id(name)
    if len(attribute.shape) != 1 or attribute.shape[0] > MOST_TEXTS:
        raise Unsound(f"the attribute {name} is no list of texts")
    found = tuple(file.attrs[name].tolist())
    if not all(isinstance(text, str) for text in found):
        raise Unsound(f"the attribute {name} is no list of texts")
    return found


def _own(parent: h5py.Group, name: str) -> Any:
    """What a hard link of this name leads to; links to other places are not followed."""
    if name not in parent or not isinstance(parent.get(name, getlink=True), h5py.HardLink):
        raise Unsound(f"{name} is missing, or a link to another place")
    return parent[name]
