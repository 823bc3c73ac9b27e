"""Cutaway of one bowl in a box of the canvas: water, solid, tracers, a model's levels."""

import numpy as np
from matplotlib.artist import Artist
from matplotlib.patches import Rectangle

from sinkbowl_post.drawing import draw_solids, result_solids
from sinkbowl_post.filming.ghost import Ghost
from sinkbowl_post.filming.half_cut import HalfCut
from sinkbowl_post.filming.picture import Pixels, Window, palette_of
from sinkbowl_post.filming.script import Script
from sinkbowl_post.filming.stage import Box, Stage
from sinkbowl_post.filming.view import painter_of
from sinkbowl_post.style import INK, PAPER, water_map

SPECK = 2.6  # pt


class Cutaway:
    """The cutaway of one of the script's runs.

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
        solids, colour, behind = result_solids(self._result), script.options.colour, None
        if script.options.half_cut:
            behind = HalfCut(window, palette_of(water_map(colour)), solids, script.view.tilt)
        self._paint = painter_of(self._result, colour, window, top_value, behind)
        self._axes = stage.axes(box)
        self._axes.set_xlim(-window.reach, window.reach)
        self._axes.set_ylim(window.bottom, window.top)
        self._axes.axis("off")
        stage.moves(*self._specks_and_level())
        stage.moves(*self._floor())
        self._solids = draw_solids(self._axes, solids)
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
        draft = float(self._result.frames.draft[k])
        for polygon, section in self._solids:
            polygon.set_xy(section - (0, draft))
        if self._script.specks:
            self._show_specks(self._script.specks[self._run][instant] - (0.0, draft))
        if self._ghost is not None:
            self._ghost.move(float(t))
        return self._box, self._paint(k)

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

    def _show_specks(self, places: np.ndarray) -> None:
        """Show the tracers at places r, z (n, 2) [m] in the window, on both sides of the axis."""
        shown = (places[:, 0] < self._window.reach) & (places[:, 1] > self._window.bottom)
        r, z = places[shown].T
        self._dust.set_data(np.concatenate((-r, r)), np.concatenate((z, z)))
