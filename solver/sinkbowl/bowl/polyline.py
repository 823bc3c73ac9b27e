"""Segments sorted into one chain."""

from __future__ import annotations

from shapely import LineString, get_coordinates, line_merge, linestrings, multilinestrings

from sinkbowl.bowl.hull import FloatArray
from sinkbowl.common.errors import InputRefused


def chain_of(segments: FloatArray) -> tuple[FloatArray, bool]:
    """Points (m, 2) along the one chain of segments (n, 2, 2), and whether it is closed.

    A closed chain ends with its first point.

    Raises
    ------
    InputRefused : the segments are not one chain
    """
    merged = line_merge(multilinestrings(linestrings(segments)))
    if not isinstance(merged, LineString):
        raise InputRefused("has lines that are not one chain", key="profile")
    return get_coordinates(merged), merged.is_closed
