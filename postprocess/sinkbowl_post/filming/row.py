"""Frames of a film of several runs: bowls side by side, on one scale and one clock.

Below them the height of each rim against time, on common axes. The headings name the holes, or the
bowls if the holes are equal.
"""

from collections.abc import Sequence

from sinkbowl.common.shown import one_line
from sinkbowl.files.result import Result
from sinkbowl.scatter.interval import longest_of
from sinkbowl_post.filming.captions import (
    LEFT,
    RIGHT,
    TimeShown,
    end_words,
    round_length,
    signed_millimetres,
    write_heading,
    write_scales,
)
from sinkbowl_post.filming.cutaway import Cutaway
from sinkbowl_post.filming.picture import Pixels
from sinkbowl_post.filming.script import Script
from sinkbowl_post.filming.stage import DPI, Box, Stage
from sinkbowl_post.filming.view import QUANTITIES, evenly, rim_height, scale_top
from sinkbowl_post.style import (
    LINES,
    QUIET_INK,
    RUN_LINES,
    LineStyle,
    draw_line,
    house_style,
    time_unit,
    title_size,
)

GAP = 28  # px between two cutaways
TOP, HEIGHT = 262, 460  # px, of the cutaways
HEADING, RESULT_LINE = 166, 214  # px from the top
SCALES = 742  # px from the top
STRIP = Box(236, 840, 1624, 156)
CURVE_POINTS = 800
NUMBERS = ("Two", "Three", "Four")


class RowScene:
    """The stage of a film of two to four runs."""

    def __init__(self, script: Script) -> None:
        self._script = script
        boxes, options = boxes_of(len(script.results)), script.options
        window = script.view.window(script.results, boxes[0].width, HEIGHT)
        top_value = scale_top(script.results, QUANTITIES[options.colour], window)
        names = names_of(script.results)
        with house_style():
            stage = self._stage = Stage()
            self._cuts = [
                Cutaway(stage, box, script, run, window, top_value, named=False)
                for run, box in enumerate(boxes)
            ]
            times = [one.sinking_time for one in script.results]
            longest = longest_of(times, [one.interval for one in script.results])
            size = min(title_size(name, (boxes[0].width - 100) / DPI) for name in names)
            for run, (box, name) in enumerate(zip(boxes, names, strict=True)):
                _write_name(stage, box, name, min(21.0, size), RUN_LINES[run])
                end = end_words(script.results[run], longest)
                size_of_end = min(16.0, title_size(end, box.width / DPI))
                stage.write(box.left, RESULT_LINE, end, size=size_of_end, color=QUIET_INK)
            heading = options.heading or f"{NUMBERS[len(boxes) - 2]} bowls on one clock"
            write_heading(stage, heading, "all on one scale")
            self._time = TimeShown(stage, _end(script.results), script.clock.slowness)
            right = boxes[-1].left + boxes[-1].width
            write_scales(stage, options, window, top_value, right, SCALES)
            self._strip = RimStrip(stage, script.results)
            stage.freeze()

    def draw(self, instant: int) -> Pixels:
        """Pixels of an instant of the film; see `Stage.draw`."""
        clock = self._script.clock
        pictures = [cut.show(instant) for cut in self._cuts]
        self._time.show(float(clock.t[instant]))
        self._strip.show([int(k) for k in clock.frames[:, instant]])
        return self._stage.draw(pictures)


class RimStrip:
    """Heights of all rims against time, with the film's position."""

    def __init__(self, stage: Stage, results: Sequence[Result]) -> None:
        axes = self._axes = stage.axes(STRIP)
        self._results = results
        self._factor, unit = time_unit(_end(results))
        axes.set_xlim(0, _end(results) * self._factor)
        stage.write(LEFT, STRIP.top + STRIP.height + 12, f"time [{unit}]", size=16)
        stage.write(LEFT, STRIP.top - 36, "height of the rim [mm]", size=16)
        axes.yaxis.set_major_formatter(lambda z, _: signed_millimetres(z))
        axes.axhline(0, color=LINES["flow"].colour, linewidth=1.5)
        heights = [rim_height(result) - result.history["draft"] for result in results]
        top = max(float(height[0]) for height in heights)
        axes.set_ylim(min(-0.25 * top, *(float(height.min()) for height in heights)), 1.1 * top)
        axes.set_yticks([0.0, round_length(0.9 * top)])
        for result, height, line in zip(results, heights, RUN_LINES, strict=False):
            some = evenly(height.size, CURVE_POINTS)
            draw_line(axes, result.history["t"][some] * self._factor, height[some], line)
        self._dots = [
            axes.plot([], [], "o", color=line.colour, markersize=11, clip_on=False)[0]
            for line, _ in zip(RUN_LINES, results, strict=False)
        ]
        stage.moves(*self._dots)

    def show(self, frames: Sequence[int]) -> None:
        """Update to the stored frame of each run."""
        for dot, result, k in zip(self._dots, self._results, frames, strict=True):
            height = rim_height(result) - float(result.frames.draft[k])
            dot.set_data([result.frames.t[k] * self._factor], [height])


def boxes_of(runs: int) -> list[Box]:
    """Boxes of the cutaways, an even number of px wide."""
    width = 2 * ((RIGHT - LEFT - (runs - 1) * GAP) // runs // 2)
    return [Box(LEFT + run * (width + GAP), TOP, width, HEIGHT) for run in range(runs)]


def names_of(results: Sequence[Result]) -> list[str]:
    """Names of the runs: their holes if one bowl has them all, else their titles."""
    holes = [
        "base gone" if case.base_gone else f"{1e3 * case.hole.diameter:.4g} mm hole"
        for case in (result.case for result in results)
    ]
    bowls = {(one.case.bowl.rim_radius, one.case.bowl.rim_height) for one in results}
    if len(set(holes)) == len(holes) and len(bowls) == 1:
        return holes
    return [one_line(result.title) for result in results]


def _end(results: Sequence[Result]) -> float:
    return max(float(result.frames.t[-1]) for result in results)


def _write_name(stage: Stage, box: Box, name: str, size: float, line: LineStyle) -> None:
    """Name of a run, with its line in the strip."""
    sample = stage.axes(Box(box.left, HEADING, 84, 40))
    sample.set_axis_off()
    draw_line(sample, (0.0, 1.0), (0.5, 0.5), line)
    sample.set_ylim(0.0, 1.0)
    middle = HEADING + 20
    style = {"size": size, "weight": "bold", "color": line.colour}
    stage.write(box.left + 100, middle, name, va="center", **style)
