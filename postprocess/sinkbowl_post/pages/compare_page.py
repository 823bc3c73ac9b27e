"""Text of ``sinkbowl compare``: one row per model with causes, or one row per run."""

from collections.abc import Mapping, Sequence

from sinkbowl.common.shown import TextTable, capital
from sinkbowl.reduced.attribution.attribute import Reasons
from sinkbowl.scatter.interval import interval_words, longest_of
from sinkbowl_post.comparing.compare import Comparison
from sinkbowl_post.comparing.reasons import HOLE, REMAINDER, REST, amount, cautions, ride, sentence
from sinkbowl_post.comparing.runs import Run
from sinkbowl_post.style import seconds, seconds_with


def compare_page(runs: Sequence[Run]) -> TextTable:
    """The comparison as a table."""
    return _runs_table(runs) if len(runs) > 1 else runs[0].comparison.table


def _runs_table(runs: Sequence[Run]) -> TextTable:
    """Several runs, one per row: time, coefficient, and ratios of models and trials."""
    models = list(dict.fromkeys(name for run in runs for name in run.comparison.models))
    measured = any(run.comparison.overlay is not None for run in runs)
    headings = ["", "rim under", "C_d", *models, *(["measured", ""] if measured else [])]
    compared = [run.comparison for run in runs]
    longest = longest_of([one.best_time for one in compared], [one.interval for one in compared])
    text = [interval_words([run.comparison.interval for run in runs])]
    beside = {run.label: run.comparison.overlay for run in runs}
    text += [f"{name}: {one.words}" for name, one in beside.items() if one and one.words]
    return TextTable(
        [
            (*_cells(run, models, longest), *(_measured(run, longest) if measured else ()))
            for run in runs
        ],
        f"{len(runs)} runs, and the models' sinking times over the best",
        [heading.replace("-", "-\n") for heading in headings],
        "\n".join(words for words in text if words),
    )


def _cells(run: Run, models: Sequence[str], longest: float) -> list[str]:
    comparison = run.comparison
    time, coefficient = comparison.best_time, comparison.discharge["flow"]
    half = comparison.interval.half if comparison.interval else None
    ratios = [comparison.ratio(model) for model in models]
    return [
        run.label,
        comparison.flow.outcome if time is None else seconds_with(time, half, longest),
        "" if coefficient is None else f"{coefficient:.3f}",
        *("" if ratio is None else f"{ratio:.3f}" for ratio in ratios),
    ]


def _measured(run: Run, longest: float) -> tuple[str, str]:
    """Ratio of the measured time to the flow solver's, and that time."""
    if run.comparison.overlay is None:
        return "", ""
    _, text, ratio, _ = run.comparison.overlay.row(run.comparison.best_time, longest)
    return ratio, text


def reasons_table(comparison: Comparison) -> TextTable | None:
    """One row per cause, one column per model; None without times to compare."""
    known = {name: one for name, one in comparison.reasons.items() if one is not None}
    if not known:
        return None
    rows = reasons_rows(known, comparison.half_width)
    title = f"Causes of the difference, {difference_words(comparison)}"
    return TextTable(rows, title, ["", *known])


def difference_words(comparison: Comparison) -> str:
    """What the causes add up to: the run's own time may not be the best one."""
    return f"model minus run ({seconds(comparison.flow.sinking_time or 0.0)})"


def reasons_words(comparison: Comparison) -> list[str]:
    """One sentence per model, and cautions."""
    half = comparison.half_width
    lines = [
        sentence(name, one, half, ride(comparison.flow, comparison.models[name]))
        for name, one in comparison.reasons.items()
        if one is not None
    ]
    return [capital(line) for line in lines] + cautions(comparison.reasons, half)


def reasons_rows(known: Mapping[str, Reasons], half: float | None) -> list[list[str]]:
    """Rows of causes that occur in some model."""

    def cells(values: Mapping[str, float | None]) -> list[str]:
        return [
            "" if value is None else amount(value, half, known[name].total, signed=True)
            for name, value in values.items()
        ]

    shared = {name: one for name, one in known.items() if not one.note}
    terms = dict.fromkeys(term for one in shared.values() for term in one.terms)
    rows = [["total", *cells({name: one.total for name, one in known.items()})]]
    shown: dict[str, dict[str, float | None]] = {
        HOLE: {name: one.hole for name, one in known.items()},
        "forces": {name: one.forces for name, one in known.items()},
        **{
            f"  {term}": {name: one.terms.get(term) for name, one in known.items()}
            for term in terms
        },
        f"  {REST}": {name: one.rest if one.terms else None for name, one in known.items()},
        REMAINDER: {name: one.remainder for name, one in known.items()},
    }
    if not shared:
        return rows
    return rows + [[label, *cells(values)] for label, values in shown.items()]
