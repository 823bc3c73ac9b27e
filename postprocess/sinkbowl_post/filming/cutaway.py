"""Cutaway of one bowl in a box of the canvas: water, solid, tracers, a model's levels."""

import numpy as np
from matplotlib.artist import Artist
from matplotlib.patches import Polygon, Rectangle

from sinkbowl_post.drawing import Solid, result_solids
from sinkbowl_post.filming.ghost import Ghost
from sinkbowl_post.filming.half_cut import HalfCut
from sinkbowl_post.filming.picture import Painter, Pixels, Window, palette_of
from sinkbowl_post.filming.script import Script
from sinkbowl_post.filming.stage import Box, Stage
from sinkbowl_post.filming.view import QUANTITIES, cell_centres
from sinkbowl_post.style import INK, PAPER, water_map

SPECK = 2.6  # pt


class Cutaway:
    """The cutaway of one of the script's runs.

    Parameters
    ----------
    run : number of the run in the script
    window, top_value : visible region, and upper end of the colour scale
    named : whether to label a model's levels
    """

    def __init__(
        self,
        stage: Stage,
        box: Box,
        script: Script,
        run: int,
        window: Window,
        top_value: float,
        named: bool,
    ) -> None:
        self._script, self._run = script, run
        self._result = script.results[run]
        self._box, self._window = box, window
        self._quantity = QUANTITIES[script.options.colour]
        self._centres = cell_centres(self._result)
        solids = result_solids(self._result)
        palette = palette_of(water_map(script.options.colour))
        tilt = script.view.tilt
        behind = HalfCut(window, palette, solids, tilt) if script.options.half_cut else None
        grid = self._result.grid
        faces = grid["r_f"], grid["z_f"], grid["open_fraction"]
        self._painter = Painter(*faces, window, palette, top_value, behind)
        self._axes = stage.axes(box)
        self._axes.set_xlim(-window.reach, window.reach)
        self._axes.set_ylim(window.bottom, window.top)
        self._axes.axis("off")
        stage.moves(*self._specks_and_level())
        stage.moves(*self._floor())
        self._solids = self._solid_artists(solids)
        stage.moves(*(polygon for polygon, _ in self._solids))
        self._ghost = None
        levels = script.levels[run]
        if levels is not None:
            radius = max(float(solid.outline[:, 0].max()) for solid in solids)
            self._ghost = Ghost(self._axes, levels, radius, window if named else None)
            stage.moves(*self._ghost.artists)

    def show(self, instant: int) -> tuple[Box, Pixels]:
        """Update everything to an instant of the film; returns the water's picture."""
        k, t = int(self._script.clock.frames[self._run, instant]), self._script.clock.t[instant]
        frames = self._result.frames
        fields = frames.fields(k, ("volume_fraction", *self._quantity.fields))
        water, draft = fields.pop("volume_fraction"), float(frames.draft[k])
        for polygon, section in self._solids:
            polygon.set_xy(section - (0, draft))
        self._show_specks(instant, draft)
        if self._ghost is not None:
            self._ghost.move(float(t))
        quantity = self._quantity.of(fields, self._centres)
        return self._box, self._painter.paint(water, quantity, draft)

    def _floor(self) -> list[Artist]:
        """The tub's floor, if visible."""
        depth, window = self._result.tub_depth, self._window
        if depth is None or -depth <= window.bottom:
            return []
        beyond = 2 * window.reach
        low, high = window.bottom - beyond, beyond - depth - window.bottom
        floor = Rectangle((-beyond, low), 2 * beyond, high, fc=PAPER, ec=INK, lw=1.6)
        return [self._axes.add_patch(floor)]

    def _specks_and_level(self) -> list[Artist]:
        reach = self._window.reach
        (self._dust,) = self._axes.plot(
            [], [], "o", color=PAPER, markersize=SPECK, markeredgewidth=0, alpha=0.8
        )
        (level,) = self._axes.plot(
            [-reach, reach], [0, 0], color=INK, linewidth=1.2, dashes=(6, 5), alpha=0.5
        )
        return [self._dust, level]

    def _solid_artists(self, solids: list[Solid]) -> list[tuple[Polygon, np.ndarray]]:
        drawn = []
        for solid in solids:
            face, edge = solid.colours
            for side in (1, -1):
                outline = solid.outline * (side, 1)
                polygon = Polygon(outline, closed=True, fc=face, ec=edge, lw=1.6)
                self._axes.add_patch(polygon)
                drawn.append((polygon, outline))
        return drawn

    def _show_specks(self, instant: int, draft: float) -> None:
        places = self._script.specks_at(self._run, instant)
        if places is not None:
            r, z = places[:, 0], places[:, 1] - draft
            shown = (r < self._window.reach) & (z > self._window.bottom)
            r, z = r[shown], z[shown]
            self._dust.set_data(np.concatenate((-r, r)), np.concatenate((z, z)))
