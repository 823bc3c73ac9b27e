"""View of a film: visible region, tilt, the quantity that colours the water and its scale."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.files.result import Result
from sinkbowl_post.drawing import result_solids
from sinkbowl_post.filming.picture import Backdrop, Painter, Pixels, Window, palette_of
from sinkbowl_post.style import water_map

FAST_SHARE = 0.995  # share of the wet cells with a speed inside the colour scale
SAMPLES = 12  # frames of a run used for its colour scale
MARGIN = 0.3  # room around the bowl, in radii
TILT = np.radians(25.0)  # tilt of the half-cut

Outline = NDArray[np.float64]
Array = NDArray[np.float32]
Fields = Mapping[str, Array]
Centres = tuple[NDArray[np.float64], NDArray[np.float64]]


@dataclass(frozen=True)
class Quantity:
    """Required fields, label with unit (empty if not shown), and function.

    ``of`` takes the fields (nr, nz) and the cell centres r (nr,), z (nz,) [m].
    """

    fields: tuple[str, ...]
    label: str
    of: Callable[[Fields, Centres], Array]


def cell_centres(result: Result) -> Centres:
    """Cell centres r (nr,) and z (nz,) of a result's grid [m]."""
    r_f, z_f = result.grid["r_f"], result.grid["z_f"]
    return (r_f[1:] + r_f[:-1]) / 2, (z_f[1:] + z_f[:-1]) / 2


def _vorticity(fields: Fields, centres: Centres) -> Array:
    """Magnitude of du_r/dz - du_z/dr [1/s], the only component in axisymmetric flow."""
    r, z = centres
    turning = np.gradient(fields["u_r"], z, axis=1) - np.gradient(fields["u_z"], r, axis=0)
    return np.abs(turning).astype(np.float32)


QUANTITIES = {
    "speed": Quantity(
        ("u_r", "u_z"), "water speed [m/s]", lambda found, _: np.hypot(found["u_r"], found["u_z"])
    ),
    "pressure": Quantity(
        ("pressure",),
        "pressure [kPa]",
        lambda found, _: np.abs(found["pressure"]) * np.float32(1e-3),
    ),
    "vorticity": Quantity(("u_r", "u_z"), "vorticity [1/s]", _vorticity),
    "none": Quantity((), "", lambda _, at: np.zeros((len(at[0]), len(at[1])), np.float32)),
}


def painter_of(
    result: Result, colour: str, window: Window, top_value: float, backdrop: Backdrop | None = None
) -> Callable[[int], Pixels]:
    """Painter of a result's stored frames by their number; arguments as of `Painter`."""
    frames, grid = result.frames, result.grid
    quantity, centres = QUANTITIES[colour], cell_centres(result)
    faces, palette = (grid["r_f"], grid["z_f"]), palette_of(water_map(colour))
    painter = Painter(*faces, grid["open_fraction"], window, palette, top_value, backdrop)

    def paint(k: int) -> Pixels:
        fields = frames.fields(k, ("volume_fraction", *quantity.fields))
        water = fields.pop("volume_fraction")
        return painter.paint(water, quantity.of(fields, centres), float(frames.draft[k]))

    return paint


@dataclass(frozen=True)
class View:
    """Placement of the bowls in their boxes.

    tilt : view from above [rad]; heights are scaled by cos(tilt)
    side : minimum visible radii of the widest bowl on each side of the axis
    """

    tilt: float = 0.0
    side: float = 1.4

    def window(self, results: Sequence[Result], width: int, height: int) -> Window:
        """The region that contains all bowls from start to end, for a box in px."""
        spans = [self._span(result) for result in results]
        radius = max(span[0] for span in spans)
        margin = MARGIN * radius
        bottom = min(span[1] for span in spans) - margin
        top = max(span[2] for span in spans) + margin
        pixel = max((top - bottom) / height, 2 * self.side * radius / width)
        spare = pixel * height - (top - bottom)
        bottom, top = bottom - 0.7 * spare, top + 0.3 * spare
        upright = np.cos(self.tilt)
        return Window(pixel * width / 2, bottom / upright, top / upright, width, height)

    def _span(self, result: Result) -> tuple[float, float, float]:
        """Radius of a bowl, and its lowest and highest position in the picture [m]."""
        outline, draft = (
            np.concatenate([solid.outline for solid in result_solids(result)]),
            result.frames.draft,
        )
        radius, rim = float(outline[:, 0].max()), float(outline[:, 1].max())
        lowest = float(outline[:, 1].min() - draft.max()) * np.cos(self.tilt)
        highest = (rim - float(draft.min())) * np.cos(self.tilt) + radius * np.sin(self.tilt)
        return radius, lowest, max(highest, 0.0)


def evenly(count: int, most: int) -> NDArray[np.intp]:
    """At most so many of the numbers below count, evenly spaced, with both ends."""
    return np.unique(np.linspace(0, count - 1, most).astype(np.intp))


def rim_height(result: Result) -> float:
    """Height of the rim above the bowl's lowest outer point [m]."""
    return float(result.grid["outline"][:, 1].max())


def scale_top(results: Sequence[Result], quantity: Quantity, window: Window) -> float:
    """A round upper limit of the quantity in the visible water, from some frames."""
    largest = max(_largest(result, quantity, window) for result in results)
    return _round_up(largest) if largest > 0 else 1.0


def _largest(result: Result, quantity: Quantity, window: Window) -> float:
    frames, grid = result.frames, result.grid
    near = grid["r_f"][1:, None] < window.reach
    largest, centres = 0.0, cell_centres(result)
    for k in evenly(len(frames), SAMPLES):
        fields = frames.fields(int(k), ("volume_fraction", *quantity.fields))
        shown = near & (grid["z_f"][None, :-1] - frames.draft[k] > window.bottom)
        wet = shown & (fields.pop("volume_fraction") > 0.5) & (grid["open_fraction"] > 0.5)
        if wet.any():
            values = quantity.of(fields, centres)[wet]
            largest = max(largest, float(np.quantile(values, FAST_SHARE)))
    return largest


def _round_up(value: float) -> float:
    power = 10.0 ** np.floor(np.log10(value))
    return float(next(m for m in (1, 1.2, 1.6, 2, 3, 4, 5, 6, 8, 10) if m * power >= value) * power)
