"""From a case to a grid: cell sizes, grid lines, and the outline on the grid.

The cells at the base show the boundary layer on it. The jet's water flows back over the base to the
foot of the jet. The place at which the laminar boundary layer on the base separates determines how
it meets the jet, and so the sinking time in the middle range of holes. After a distance x at speed
U the layer is 5 sqrt(nu x/U) thick (99 %; Blasius 1908; from memory). The cells at the base follow
from sqrt(nu x/U), with the width of the base for x and the jet's speed under the starting head for
U. With five cells in the layer the place of separation hardly depends on the cell, nor on the
viscosity; with slip walls, which have no layer, there is no such limit.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sinkbowl.bowl.bowl import Bowl
from sinkbowl.bowl.shapes import thicken_inwards, thinnest_oblique_wall
from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.errors import CaseError

from .effects.orifice_model import contraction, inner_radius, narrowed, starting_head
from .grid import SPARE, Grid, Spacing, lay_lines, merge_close
from .release import release
from .solid import HolePlace, place_hole

CELLS_PER_RIM = 50  # default number of cells per rim radius

CELLS_PER_HOLE = 20
"""Minimum number of cells across a resolved hole, unless the case gives `base_cell`."""

RESOLVED_CELLS = 8.0  # a hole with fewer cells across, of the case's own `base_cell`, is unresolved

WORTH_CELLS = 32.0
"""The same for a default base cell: the orifice model (`effects/orifice_model.py`) is more accurate
than a jet on so few cells, and a run takes a tenth of the time."""

LEAST_HOLE_CELLS = 4.0
"""Minimum number of the finest cells across a resolved hole; fewer have no jet."""

LEAST_CLOSED_CELLS = 0.5  # minimum number of cells across an unresolved hole
WIDEST_CLOSED = 0.5  # largest share of the rim's diameter that an unresolved hole may take
DEPTH_IN_RADII = 3.0  # depth of the bottom plane of a deep tub under the bowl, in rim radii

MERGED = 0.35
"""Grid lines closer than this share of the finest cell are merged: the smallest cell limits the
time step, and an error of a third of it is acceptable."""

BESIDE = 5.0
"""Number of cells of the bowl's size beside its widest point and over its rim before they grow, for
the outer surface and the fountain."""

BELOW = 10.0  # the same under its lowest point, for the flow around the base and into the hole

AROUND_EDGE = 3.0
"""Number of cells of the hole's size on all sides of its edge before they grow: convection uses two
cells, and the jet contracts there."""

WALL_CELLS = 2.0
"""A wall that is not aligned with the grid must span this many cells, or it is thickened."""

MOST_THICKENED = 0.2  # maximum thickening of a wall, as a share of the rim's radius

LEAST_BESIDE = 2
"""Minimum number of cells between bowl and tub: the outer level is read in all but the first."""

MOST_CELLS = 4_000_000
BYTES_A_CELL = 500

HEADROOM = 1.0
"""Height of the grid above the rim, in bowl heights, for the jet and the sinking after the rim is
under. For a dropped or pushed bowl the height of rise at its speed is added."""


@dataclass(frozen=True)
class Layout:
    """Grid, the bowl on it, and the choices.

    bowl: the case's, or one with its wall thickened inwards or its hole narrowed to the jet's
    width; thickened: thickening [m], or 0; cell, finest: sizes around the bowl and at the hole [m];
    hole: its place on the grid; closed: whether the orifice model is used.
    """

    grid: Grid
    bowl: Bowl
    cell: float
    finest: float
    thickened: float
    hole: HolePlace
    closed: bool = False

    @property
    def measure(self) -> float:
        """Cell size for comparing grids of a bowl [m]: that of a resolved hole."""
        return self.cell if self.closed else self.finest


def lay_out(case: Case) -> Layout:
    """Choose the grid of a case.

    Raises CaseError for several holes, cells too coarse for the hole, a hole too wide for the
    orifice model, or a tub too shallow at release.
    """
    check_one_hole(case)
    cell = case.flow.cell or default_cell(case.bowl)
    base_cell = _base_cell(case, cell)
    closed = _is_closed(case, base_cell)
    bowl = narrowed(case.bowl, contraction(case)) if closed else case.bowl
    finest = _closed_cell(case, cell, bowl) if closed else base_cell
    thin = thinnest_oblique_wall(case.bowl)
    thickened = max(0.0, WALL_CELLS * cell - thin) if thin < np.inf else 0.0
    _check_walls(case, cell, finest, thickened)
    # The lip of a resolved hole is a whole number of cells high.
    lip = float(bowl.base_thickness / np.ceil(bowl.base_thickness / finest - SPARE))
    sizes = cell, finest, cell if closed else lip
    thrown = 0.5 * release(case, cell)[1] ** 2 / GRAVITY
    grid = _grid(bowl, case.flow.tub_radius, sizes, _floor(case, cell), thrown)
    _check_size(case, cell, finest, grid)
    _check_beside(case, grid)
    carried = bowl
    if thickened > 0.0:
        thick = _thickened(case, cell, thickened)
        carried = narrowed(thick, contraction(case)) if closed else thick
    hole = place_hole(grid, carried, case.bowl)
    return Layout(grid, carried, cell, finest, thickened, hole, closed)


def wall_cell(bowl: Bowl) -> float:
    """Largest cell around a bowl without thickening [m]; infinite if any cell does."""
    return thinnest_oblique_wall(bowl) / WALL_CELLS


def _thickened(case: Case, cell: float, amount: float) -> Bowl:
    """The case's bowl with a thicker wall; CaseError if that leaves no inside."""
    try:
        return thicken_inwards(case.bowl, amount)
    except ValueError as error:
        thin = thinnest_oblique_wall(case.bowl)
        raise cell_refused(
            case,
            cell,
            f"is too coarse for a wall of {1e3 * thin:.3g} mm: thickened to {WALL_CELLS:g} cells, "
            f"it would close or cross itself ({error})",
            f"Give at most {1e3 * thin / WALL_CELLS:.2g} mm.",
        ) from None


def cell_refused(
    case: Case, cell: float, problem: str, allowed: str, key: str = "flow.cell"
) -> CaseError:
    """Error about a cell [m], given or chosen."""
    given = f"{1e3 * cell:.3g} mm"
    return CaseError(problem, file=case.path, key=key, given=given, allowed=allowed)


def _is_closed(case: Case, base_cell: float) -> bool:
    """Whether the orifice model is used."""
    diameter, wanted = case.hole.diameter, case.flow.hole
    if wanted == "resolved" and diameter < LEAST_HOLE_CELLS * base_cell:
        raise cell_refused(
            case,
            base_cell,
            f"is too coarse to resolve a hole of {1e3 * diameter:.3g} mm",
            f'Give at most {1e3 * diameter / LEAST_HOLE_CELLS:.3g} mm, or flow.hole = "closed".',
            key="flow.base_cell",
        )
    widest = 2.0 * WIDEST_CLOSED * case.bowl.rim_radius
    too_wide = diameter > widest or case.base_gone
    if wanted == "auto":
        least = WORTH_CELLS if case.flow.base_cell is None else RESOLVED_CELLS
        return not too_wide and diameter < least * base_cell * (1.0 - 1e-9)
    if wanted == "closed" and too_wide:
        raise CaseError(
            f"is not for a hole as wide as {1e3 * diameter:.3g} mm",
            file=case.path,
            key="flow.hole",
            given=wanted,
            allowed=f'Give "auto" or "resolved"; "closed" is for up to {1e3 * widest:.3g} mm here.',
        )
    return wanted == "closed"


def _base_cell(case: Case, cell: float) -> float:
    """Size of the cells at a resolved hole's edge, and over the base."""
    if case.flow.base_cell is not None:
        return min(case.flow.base_cell, cell)
    across = case.hole.diameter / CELLS_PER_HOLE
    in_layer = layer_thickness(case) / CELLS_IN_LAYER[case.flow.answer]
    return min(cell, across if case.base_gone else min(across, in_layer))


def _closed_cell(case: Case, cell: float, bowl: Bowl) -> float:
    """Width of the cells in the unresolved hole of `bowl`: a whole number of them."""
    if case.hole.diameter < LEAST_CLOSED_CELLS * cell:
        raise cell_refused(
            case,
            cell,
            f"is too coarse for a hole of {1e3 * case.hole.diameter:.3g} mm",
            f"Give at most {1e3 * case.hole.diameter / LEAST_CLOSED_CELLS:.3g} mm.",
        )
    return float(bowl.hole_radius / np.ceil(bowl.hole_radius / cell))


def _check_walls(case: Case, cell: float, finest: float, thickened: float) -> None:
    """Refuse cells with which a wall would vanish or be thickened too much."""
    bowl = case.bowl
    gaps = [b - a for lines in (bowl.straight_r, bowl.straight_z) for a, b in pairwise(lines)]
    thin, most = min(gaps, default=np.inf), cell
    if thin <= MERGED * finest:
        most = 0.95 * thin / MERGED
    elif thickened > MOST_THICKENED * bowl.rim_radius:
        thin = thinnest_oblique_wall(bowl)
        most = 0.95 * (MOST_THICKENED * bowl.rim_radius + thin) / WALL_CELLS
    if most < cell:
        raise cell_refused(
            case,
            cell,
            f"is too coarse for a wall or base of {1e3 * thin:.3g} mm",
            f"Give at most {1e3 * most:.2g} mm; the run then takes long.",
        )


def _check_size(case: Case, cell: float, finest: float, grid: Grid) -> None:
    """Refuse a grid that is too large for memory."""
    cells = grid.shape[0] * grid.shape[1]
    if cells > MOST_CELLS:
        key = "flow.cell" if finest >= cell else "flow.base_cell"
        least = 1.1 * finest * np.sqrt(cells / MOST_CELLS)
        raise cell_refused(
            case,
            finest,
            f"needs {cells:.2g} cells, about {cells * BYTES_A_CELL / 1e9:.2g} GB",
            f"At most {MOST_CELLS:.0e} cells are allowed: give about {1e3 * least:.2g} mm.",
            key,
        )


def _check_beside(case: Case, grid: Grid) -> None:
    """Refuse a tub that leaves less than two cells of water beside the bowl."""
    widest = float(case.bowl.outer[:, 0].max())
    if np.count_nonzero(grid.r_f > widest * (1.0 + 1e-9)) < LEAST_BESIDE:
        gap = case.flow.tub_radius - widest
        raise CaseError(
            f"leaves {1e3 * gap:.3g} mm of water beside the bowl, less than {LEAST_BESIDE} cells",
            file=case.path,
            key="flow.tub_radius",
            given=f"{1e3 * case.flow.tub_radius:.6g} mm",
            allowed=f"Give a wider tub, or flow.cell of at most {1e3 * gap / LEAST_BESIDE:.2g} mm.",
        )


def default_cell(bowl: Bowl) -> float:
    """A fiftieth of the rim's radius; down to half of that if a wall needs it."""
    coarse = bowl.rim_radius / CELLS_PER_RIM
    return float(np.clip(wall_cell(bowl), 0.5 * coarse, coarse))


def _floor(case: Case, cell: float) -> float | None:
    """Height of the tub's floor over the bowl's lowest outer point at release [m]; None: deep."""
    if case.flow.tub_depth is None:
        return None
    draft, _ = release(case, cell)
    low, lowest = draft - case.flow.tub_depth, min(0.0, case.ballast.lowest)
    if low >= lowest:
        raise CaseError(
            "is too shallow for the bowl to be set down",
            file=case.path,
            key="flow.tub_depth",
            given=f"{1e3 * case.flow.tub_depth:.6g} mm",
            allowed=f"Give more than {1e3 * (draft - lowest):.6g} mm, or leave it out.",
        )
    return low


def _grid(
    bowl: Bowl,
    tub_radius: float,
    sizes: tuple[float, float, float],
    floor: float | None,
    thrown: float,
) -> Grid:
    """Make the grid; sizes: of the cells around the bowl, width and height of those at the hole.

    floor: height of the bottom plane [m], None for a deep tub; thrown: additional height for water
    thrown up at the start [m].
    """
    (cell, finest, height), hole = sizes, bowl.hole_radius
    widest = float(bowl.outer[:, 0].max())
    near_r = [
        Spacing(cell, 0.0, widest + BESIDE * cell),
        Spacing(finest, hole - AROUND_EDGE * finest, hole + AROUND_EDGE * finest),
    ]
    breaks_r = merge_close([0.0, *bowl.straight_r, widest], MERGED * finest)
    near_r += _wall_spacings(breaks_r, cell)
    r_f = lay_lines([*breaks_r, tub_radius], near_r)
    top = bowl.inner_edge_height
    rim = bowl.rim_height
    near_z = [
        Spacing(cell, -BELOW * cell, rim + BESIDE * cell),
        Spacing(height, -AROUND_EDGE * height, top + AROUND_EDGE * height),
    ]
    breaks_z = merge_close([0.0, bowl.outer_edge_height, *bowl.straight_z, rim], MERGED * height)
    near_z += _wall_spacings(breaks_z, cell)
    low = -DEPTH_IN_RADII * widest if floor is None else floor
    high = rim + HEADROOM * max(rim, 0.5 * widest) + thrown
    return Grid(r_f, lay_lines([low, *breaks_z, high], near_z))


def _wall_spacings(breaks: list[float], cell: float) -> list[Spacing]:
    """At least two cells between breaks closer than two cells."""
    gaps = pairwise(breaks)
    return [Spacing(0.5 * (b - a), a, b) for a, b in gaps if b - a < WALL_CELLS * cell]


def check_one_hole(case: Case) -> None:
    """CaseError for several holes, with the single hole of the same area."""
    if case.hole.count == 1:
        return
    several = "hole.count" if case.hole.equal else "hole.diameters"
    one = f"{2e3 * case.bowl.hole_radius:.4g} mm"
    raise CaseError(
        "is not possible in the axisymmetric flow solver",
        file=case.path,
        key=several,
        given=case.hole.count if case.hole.equal else case.hole.widths,
        allowed=f'One hole of the same area is a good approximation: diameter = "{one}" without '
        f'{several.removeprefix("hole.")}, and flow.hole = "closed". The reduced models (check, '
        "size, chart) include all holes.",
    )


CELLS_IN_LAYER = {"quick": 2.5, "good": 5.0}
"""Cells in the layer, by `flow.answer`. With five the error of a plate's shear is 0.5 %, with 2.5 a
half; sinking times of the two agree within 2 % (solver/MEASURED.md)."""

LAYER = 5.0  # thickness of the layer (99 %) in units of sqrt(nu x/U)
LEAST_WAY = 0.25  # minimum distance along the base, as a share of the inner radius


def layer_thickness(case: Case) -> float:
    """Thickness of the boundary layer under the water that returns to the jet [m]."""
    radius = inner_radius(case.bowl)
    way = max(radius - case.bowl.hole_radius, LEAST_WAY * radius)
    speed = math.sqrt(2.0 * GRAVITY * starting_head(case))
    return LAYER * math.sqrt(case.water.viscosity / case.water.density * way / speed)
