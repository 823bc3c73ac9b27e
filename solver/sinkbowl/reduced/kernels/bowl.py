"""Bowl, hole and water for the kernels; made by reduced/tables.py."""

from typing import NamedTuple

from sinkbowl.common.numerics import VolumeTable
from sinkbowl.common.sinking import FloatArray

BOWL, CROSS, HOLE, AREA, RADIUS, DRAG, WAVES = range(7)
"""Columns of `Bowl.sea`: outer inertia [kg], [kg/m^2], [kg/m^4]; waterplane [m^2] and its radius
[m]; drag over V |V| [kg/m]; wave damping [N s/m]."""


class Bowl(NamedTuple):
    """Bowl, hole and water.

    mass [kg]; density of the water [kg/m^3]; rim, inner_edge, outer_edge: heights [m]; give_way:
    draft at which water comes over the rim [m]; crest: circumference of the rim [m]; hole_area
    [m^2], hole_radius, hole_length [m]; edge_radius: twice the hole's area over the length of its
    edge [m], of one hole its radius; ring_mass: added mass of the bottom around the hole [kg];
    plug, hull, capacity: volumes of the full hole, of the hull up to its rim, of the water inside
    at the brim [m^3]; base_area: inner surface on the base [m^2]; head: scale of the heads [m];
    outer, inner: volumes below a height; sea (n, 7): outer water at evenly spaced drafts 0 .. rim;
    ends (n, 1): inner end correction [m] at levels inner_edge .. rim; laws (k, 9): of the holes;
    residuals (m, 3): level [m], force [N] and pressure [Pa] that a modified model adds.
    """

    mass: float
    density: float
    rim: float
    inner_edge: float
    outer_edge: float
    give_way: float
    crest: float
    hole_area: float
    hole_radius: float
    hole_length: float
    edge_radius: float
    ring_mass: float
    plug: float
    hull: float
    capacity: float
    base_area: float
    head: float
    outer: VolumeTable
    inner: VolumeTable
    sea: FloatArray
    ends: FloatArray
    laws: FloatArray
    residuals: FloatArray
