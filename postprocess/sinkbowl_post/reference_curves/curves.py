"""Reference curves of many runs: one point per run, and the ranges of validity in words."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sinkbowl.case.case import Case, load_case
from sinkbowl.common.errors import CaseError
from sinkbowl.common.shown import Shown, TextTable, millimetres, percent
from sinkbowl.corrected import model as corrected
from sinkbowl.scatter.interval import figures, interval_words
from sinkbowl_post.measured.measured import read_measured
from sinkbowl_post.output import checked_outputs
from sinkbowl_post.reference_curves.breakdown import Region, breakdown, families
from sinkbowl_post.reference_curves.points import RunPoint, models_of
from sinkbowl_post.reference_curves.smooth import SMOOTH_MODELS, SmoothFamily, smooth_family
from sinkbowl_post.reference_curves.table import curves_csv, read_points
from sinkbowl_post.reference_curves.trials import TrialPoint, case_behind, trial_points
from sinkbowl_post.style import FIGURE_SUFFIXES, save_all, save_figure, seconds_with

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True, repr=False)
class Curves(Shown):
    """The reference curves of some runs.

    Attributes
    ----------
    points : one per run that sank, by mass ratio and hole
    left_out : the other runs, with the reason
    trials : own trials, one point per bowl and hole
    smooth : curve of a model for each family with a known bowl
    """

    points: tuple[RunPoint, ...]
    left_out: tuple[str, ...]
    trials: tuple[TrialPoint, ...] = ()
    smooth: tuple[SmoothFamily, ...] = ()

    @property
    def table(self) -> TextTable:
        """The runs."""
        return curves_table(self.points)

    def __repr__(self) -> str:
        """The runs as a table, then the range of validity of each model."""
        return f"{self.table.text}\n\n{curves_words(self.points, self.left_out)}"

    def as_dict(self) -> dict[str, Any]:
        """Points and regions as plain numbers, strings and None, units in the keys."""
        return {
            "runs": [_point_figures(point) for point in self.points],
            "regions": [_region_figures(region) for region in breakdown(self.points)],
            "left_out": list(self.left_out),
            "trials": [_trial_figures(trial) for trial in self.trials],
        }


def curves(
    places: str | Path | Sequence[str | Path],
    outputs: str | Path | Sequence[str | Path] = (),
    progress: Callable[[int, int], None] | None = None,
    reasons: str | Path | None = None,
    measured: str | Path | None = None,
    case: str | Path | Case | None = None,
    heading: str | None = None,
    comma: bool = False,
    model: str = corrected.MODEL,
) -> Curves:
    """Sinking time against hole for many runs, and the error of each model.

    Parameters
    ----------
    places : result files, folders of them, or tables written by this function; one or several
    outputs : files to write, .png, .svg or .pdf for the slide, .csv for the table; one or several
    progress : called with (runs read, runs in all)
    reasons : slide of the causes of the models' differences, .png or .svg
    measured : table of own trials to show
    case : the bowl, or its file, for trials and for smooth curves of points from tables; None: from
        the results
    heading : of the slide; None: default
    model : of the smooth curves, "corrected" or "heave"
    comma : whether to write decimal commas, in tables with ; between the cells

    Raises ResultError if a place does not exist, a table is invalid, no run sank, for an unknown
    suffix, or a folder that does not exist.
    """
    if model not in SMOOTH_MODELS:
        raise CaseError(
            f'There is no model "{model}" to draw', allowed=f"There are {', '.join(SMOOTH_MODELS)}."
        )
    files = checked_outputs(outputs, (*FIGURE_SUFFIXES, ".csv"))
    more = checked_outputs(reasons or (), FIGURE_SUFFIXES)
    paths = [Path(one) for one in ([places] if isinstance(places, str | Path) else places)]
    points, left_out = read_points(paths, progress)
    trials = () if measured is None else _trials(Path(measured), case, paths, points)
    tried = None if case is None else load_case(case)
    smooth = (smooth_family(family, model, tried) for _, family in families(points))
    known = tuple(one for one in smooth if one is not None) if files else ()
    found = Curves(tuple(points), tuple(left_out), trials, known)

    def draw() -> "Figure":
        from sinkbowl_post.reference_curves.figure import curves_figure  # and with it matplotlib

        return curves_figure(found.points, found.trials, found.smooth)

    save_all(files, draw, lambda: curves_csv(found.points, comma), heading, comma)
    for file in more:
        from sinkbowl_post.reference_curves.reasons_figure import reasons_figure

        save_figure(reasons_figure(found.points), file, comma=comma)
    return found


def _trials(
    measured: Path,
    case: str | Path | Case | None,
    places: Sequence[Path],
    points: Sequence[RunPoint],
) -> tuple[TrialPoint, ...]:
    tried = case_behind(places) if case is None else load_case(case)
    if tried is None:
        raise CaseError(
            "needs the case of the bowl: tables do not have it",
            key="--measured",
            given=str(measured),
            allowed="Give it with --case.",
        )
    return trial_points(tried, read_measured(measured), points)


def _trial_figures(trial: TrialPoint) -> dict[str, Any]:
    return {
        "hole_m": trial.hole,
        "hole_ratio": trial.hole_ratio,
        "mass_ratio": trial.mass_ratio,
        "sinking_time_s": trial.timed.mean,
        "standard_uncertainty_s": trial.timed.uncertainty,
        "half_width_s": trial.timed.half_width,
        "trials": len(trial.timed.times),
        "suspect_row": trial.timed.as_dict()["suspect_row"],
        "over_flow_less_one": trial.deviation,
    }


def curves_table(points: Sequence[RunPoint]) -> TextTable:
    """Runs and models as a table."""
    names = models_of(points)
    rows = [
        (
            f"{point.mass_ratio:.2f}",
            millimetres(point.hole, 3),
            f"{point.hole_ratio:.3f}",
            seconds_with(point.time, point.interval.half),
            *("" if d is None else percent(d, "+z.1f") for d in map(point.deviation, names)),
        )
        for point in points
    ]
    head = ("m/\u03c1V", "hole", "d/D", "flow solver", *names)
    return TextTable(rows, "rim under after; model over flow", head)


def curves_words(points: Sequence[RunPoint], left_out: Sequence[str]) -> str:
    """Ranges of validity, one line per region, and runs left out."""
    lines = [interval_words([point.interval for point in points])]
    for region in breakdown(points):
        lines.append(f"{region.model}, m/\u03c1V {region.mass_ratio:.2f}, {region.words}")
    lines += [f"left out: {reason}" for reason in left_out]
    return "\n".join(lines)


def _point_figures(point: RunPoint) -> dict[str, Any]:
    return {
        "result": str(point.path),
        "title": point.title,
        "hole_m": point.hole,
        "hole_ratio": point.hole_ratio,
        "mass_ratio": point.mass_ratio,
        "sinking_time_s": point.time,
        **figures(point.interval),
        "members": point.interval.members,
        "models_s": dict(point.models),
        "reasons": {
            model: None if one is None else one.as_dict() for model, one in point.reasons.items()
        },
    }


def _region_figures(region: Region) -> dict[str, Any]:
    return {
        "model": region.model,
        "mass_ratio": region.mass_ratio,
        "hole_ratio_from": region.low,
        "hole_ratio_to": region.high,
        "within": region.within,
        "verdict": region.verdict,
        "reasons": list(region.reasons),
    }
