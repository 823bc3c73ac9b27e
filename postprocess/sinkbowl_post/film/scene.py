"""One frame of the film as pixels: the bowl cut open, and beside it its depth against time.

Both halves share one vertical scale, measured from the still water surface: the dot on the curve
moves at the height of the bowl's bottom, and the rim passes under where its curve meets zero.
Everything that stands still is drawn once; a frame paints the water and draws what moves.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle
from numpy.typing import NDArray

from sinkbowl.running.result import Result
from sinkbowl_post.film.picture import Painter, Window
from sinkbowl_post.film.quantity import QUANTITIES, Quantity, cell_centres
from sinkbowl_post.style import (
    BRASS,
    BRASS_EDGE,
    HAIRLINE,
    INK,
    LINES,
    PAPER,
    QUIET_INK,
    house_style,
    seconds,
    time_unit,
    title_size,
    water_map,
)

SIZE = (1920, 1080)  # px
CUTAWAY = (54, 168, 1140, 768)  # px: left, top, width, height
CURVE = (1362, 168, 498, 768)
DPI = 144
SPECK = 2.6  # pt
CURVE_POINTS = 800
FAST_SHARE = 0.995  # share of the wet cells whose speed lies inside the colour scale


class Scene:
    """The film's stage for one result.

    Parameters
    ----------
    result : with at least one frame
    colour : what colours the water, one of QUANTITIES
    specks : places of the tracers at each frame, by its number; empty for none
    slowness : how many times slower than life the film runs, for its caption
    """

    def __init__(
        self,
        result: Result,
        colour: str,
        slowness: float,
        specks: Mapping[int, NDArray[np.float64]] = MappingProxyType({}),
    ) -> None:
        self._result = result
        self._specks = specks
        self._quantity = QUANTITIES[colour]
        self._window = window_for(result)
        self._top_value = scale_top(result, self._quantity, self._window)
        colours = water_map(colour)
        grid = result.grid
        self._centres = cell_centres(result)
        self._painter = Painter(
            grid["r_f"],
            grid["z_f"],
            grid["open_fraction"],
            self._window,
            colours,
            self._top_value,
        )
        with house_style():
            self._figure = Figure(figsize=(SIZE[0] / DPI, SIZE[1] / DPI), dpi=DPI)
            canvas = FigureCanvasAgg(self._figure)
            self._cut, self._curve = self._axes(CUTAWAY), self._axes(CURVE)
            self._still_text(slowness)
            self._still_curve()
            self._colour_bar(colour)
            self._scale_bar()
            self._moving = self._moving_artists()
            self._renderer = canvas.get_renderer()  # type: ignore[no-untyped-call]
            self._figure.draw(self._renderer)
        self._pixels = np.asarray(self._renderer.buffer_rgba())
        self._still = self._pixels.copy()

    def draw(self, k: int) -> NDArray[np.uint8]:
        """Pixels (1080, 1920, 4) of frame k; the array is used again for the next frame."""
        frames = self._result.frames
        fields = frames.fields(k, ("volume_fraction", *self._quantity.fields))
        water = fields.pop("volume_fraction")
        draft = float(frames.draft[k])
        left, top, width, height = CUTAWAY
        self._pixels[:] = self._still
        self._pixels[top : top + height, left : left + width, :3] = self._painter.paint(
            water, self._quantity.of(fields, self._centres), draft
        )
        self._move(float(frames.t[k]), draft)
        self._show_specks(k, draft)
        for artist in self._moving:
            artist.draw(self._renderer)
        return self._pixels

    def _axes(self, box: tuple[int, int, int, int]) -> Axes:
        left, top, width, height = box
        axes = self._figure.add_axes(
            (left / SIZE[0], 1 - (top + height) / SIZE[1], width / SIZE[0], height / SIZE[1])
        )
        axes.set_ylim(self._window.bottom, self._window.top)
        return axes

    def _still_text(self, slowness: float) -> None:
        self._cut.set_xlim(-self._window.reach, self._window.reach)
        self._cut.axis("off")
        result = self._result
        size = title_size(result.title, 0.75 * SIZE[0] / DPI)
        self._figure.text(0.028, 0.955, result.title, size=size, weight="bold", va="top")
        end = result.sinking_time
        told = f"rim under after {seconds(end)}" if end else result.outcome or result.status
        self._figure.text(0.028, 0.895, told, size=17, color=QUIET_INK, va="top")
        pace = "in real time" if 0.8 < slowness < 1.25 else _pace(slowness)
        self._figure.text(0.969, 0.895, pace, size=17, color=QUIET_INK, va="top", ha="right")

    def _still_curve(self) -> None:
        axes, history, rim = self._curve, self._result.history, self._rim()
        self._factor, self._unit = time_unit(float(history["t"][-1]))
        some = np.unique(np.linspace(0, len(history["t"]) - 1, CURVE_POINTS).astype(int))
        self._times, self._drafts = history["t"][some] * self._factor, history["draft"][some]
        t, draft = self._times, self._drafts
        axes.set_xlim(0, float(t[-1]) * 1.04)
        axes.set_xlabel(f"time [{self._unit}]")
        axes.set_ylabel("height above still water [mm]")
        axes.yaxis.set_major_formatter(lambda z, _: signed_millimetres(z))
        axes.set_yticks(np.arange(*_tick_range(self._window)))
        axes.axhline(0, color=LINES["flow"].colour, linewidth=1.5)
        axes.plot(t, rim - draft, color=BRASS, linewidth=2, alpha=0.45)
        axes.plot(t, -draft, color=INK, linewidth=2, alpha=0.3)
        first = len(t) // 12
        for height, name, colour in ((rim, "rim", BRASS_EDGE), (0.0, "bottom", INK)):
            place = (t[first], height - draft[first])
            label = axes.annotate(name, place, (4, 9), textcoords="offset points", color=colour)
            label.set_bbox({"facecolor": PAPER, "edgecolor": "none", "pad": 0.5})

    def _colour_bar(self, colour: str) -> None:
        if not self._quantity.label:
            return
        axes = self._figure.add_axes((0.20, 0.075, 0.22, 0.028))
        ramp = np.linspace(0, self._top_value, 256)
        norm = Normalize(0, self._top_value)
        axes.pcolormesh(
            ramp, [0, 1], norm(ramp)[None, :-1], cmap=water_map(colour), rasterized=True
        )
        axes.set_yticks([])
        axes.set_xticks(np.linspace(0, self._top_value, 3))
        axes.xaxis.set_major_formatter(lambda value, _: f"{value:.3g}")
        axes.tick_params(length=0, pad=4)
        axes.spines[:].set_visible(False)
        self._figure.text(0.028, 0.088, self._quantity.label, va="center")

    def _scale_bar(self) -> None:
        length = _round_length(self._window.reach / 2.5)
        left, _, width, _ = CUTAWAY
        wide = length / (2 * self._window.reach) * width / SIZE[0]
        end = (left + width) / SIZE[0]
        bar = Rectangle((end - wide, 0.085), wide, 0.008, color=INK)
        self._figure.add_artist(bar)
        self._figure.text(end, 0.072, f"{length * 1e3:g} mm", ha="right", va="top")

    def _moving_artists(self) -> list[Artist]:
        reach = self._window.reach
        style = {"facecolor": BRASS, "edgecolor": BRASS_EDGE, "linewidth": 1.6}
        self._solids = [
            (Polygon(section * (side, 1), closed=True, **style), section * (side, 1))
            for section in solid_sections(self._result)
            for side in (1, -1)
        ]
        for polygon, _ in self._solids:
            self._cut.add_patch(polygon)
        (level,) = self._cut.plot(
            [-reach, reach], [0, 0], color=INK, linewidth=1.2, dashes=(6, 5), alpha=0.5
        )
        (self._dust,) = self._cut.plot(
            [], [], "o", color=PAPER, markersize=SPECK, markeredgewidth=0, alpha=0.8
        )
        self._clock = self._figure.text(
            0.969, 0.955, "", size=25, weight="bold", va="top", ha="right"
        )
        (self._past_rim,) = self._curve.plot([], [], color=BRASS, linewidth=4.5)
        (self._past_bottom,) = self._curve.plot([], [], color=INK, linewidth=4.5)
        (self._link,) = self._curve.plot([], [], color=HAIRLINE, linewidth=1.2)
        (self._dots,) = self._curve.plot([], [], "o", color=INK, markersize=11, clip_on=False)
        moving: list[Artist] = [self._dust, level, *(polygon for polygon, _ in self._solids)]
        moving += [self._clock, self._link, self._past_rim, self._past_bottom, self._dots]
        for artist in moving:
            artist.set_animated(True)
        return moving

    def _move(self, t: float, draft: float) -> None:
        for polygon, section in self._solids:
            polygon.set_xy(section - (0, draft))
        decimals = 0 if self._unit == "ms" else 3 if self._times[-1] < 1 else 2
        self._clock.set_text(f"{t * self._factor:.{decimals}f} {self._unit}")
        now, rim = t * self._factor, self._rim()
        past = self._times < now
        times, drafts = np.append(self._times[past], now), np.append(self._drafts[past], draft)
        self._past_rim.set_data(times, rim - drafts)
        self._past_bottom.set_data(times, -drafts)
        self._link.set_data([0, now], [-draft, -draft])
        self._dots.set_data([now, now], [-draft, rim - draft])

    def _show_specks(self, k: int, draft: float) -> None:
        places = self._specks.get(k)
        if places is not None:
            r, z = places[:, 0], places[:, 1] - draft
            shown = (r < self._window.reach) & (z > self._window.bottom)
            r, z = r[shown], z[shown]
            self._dust.set_data(np.concatenate((-r, r)), np.concatenate((z, z)))

    def _rim(self) -> float:
        return float(self._result.grid["outline"][:, 1].max())


def solid_sections(result: Result) -> list[NDArray[np.float64]]:
    """Closed outlines r, z [m] of the bowl and, where the case has one, of its ballast ring."""
    sections = [result.grid["outline"]]
    has_ring = "ballast" in tomllib.loads(str(result.attrs["case_text"]))
    ring = result.case.ballast if has_ring else None
    if ring is not None:
        angle = np.linspace(0, 2 * np.pi, 48, endpoint=False)
        circle = np.column_stack([np.cos(angle), np.sin(angle)])
        sections.append((ring.radius, ring.height) + ring.section_radius * circle)
    return sections


def window_for(result: Result) -> Window:
    """The part of the laboratory that holds the bowl from start to end, with room around it."""
    outline, draft = np.concatenate(solid_sections(result)), result.frames.draft
    radius, rim = outline[:, 0].max(), outline[:, 1].max()
    margin = 0.3 * radius
    bottom = outline[:, 1].min() - float(draft.max()) - margin
    top = max(rim - float(draft.min()), 0.0) + margin
    _, _, width, height = CUTAWAY
    pixel = max((top - bottom) / height, 2 * 1.4 * radius / width)
    spare = pixel * height - (top - bottom)
    return Window(pixel * width / 2, bottom - 0.7 * spare, top + 0.3 * spare, width, height)


def scale_top(result: Result, quantity: Quantity, window: Window) -> float:
    """A round value that the quantity hardly ever passes in the water shown, over some frames."""
    frames, grid = result.frames, result.grid
    near = grid["r_f"][1:, None] < window.reach
    largest, centres = 0.0, cell_centres(result)
    for k in np.unique(np.linspace(0, len(frames) - 1, 12).astype(int)):
        fields = frames.fields(int(k), ("volume_fraction", *quantity.fields))
        shown = near & (grid["z_f"][None, :-1] - frames.draft[k] > window.bottom)
        wet = shown & (fields.pop("volume_fraction") > 0.5) & (grid["open_fraction"] > 0.5)
        if wet.any():
            largest = max(
                largest, float(np.quantile(quantity.of(fields, centres)[wet], FAST_SHARE))
            )
    return _round_up(largest) if largest > 0 else 1.0


def signed_millimetres(z: float) -> str:
    """A height [m] in mm with its sign, the way it is set in print: '+20', '0', '−40'."""
    text = f"{z * 1e3:+.0f}"
    return "0" if text in ("+0", "-0") else text.replace("-", "−")


def _round_up(value: float) -> float:
    power = 10.0 ** np.floor(np.log10(value))
    return float(next(m for m in (1, 1.2, 1.6, 2, 3, 4, 5, 6, 8, 10) if m * power >= value) * power)


def _round_length(most: float) -> float:
    power = 10.0 ** np.floor(np.log10(most))
    return float(max(m * power for m in (1, 2, 5) if m * power <= most))


def _tick_range(window: Window) -> tuple[float, float, float]:
    step = _round_length((window.top - window.bottom) / 3.5)
    return (np.ceil(window.bottom / step) * step, window.top, step)


def _pace(slowness: float) -> str:
    if slowness > 1:
        return f"slowed down {slowness:.2g} times"
    return f"speeded up {1 / slowness:.2g} times"
