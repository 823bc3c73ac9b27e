"""Figure and trial sheet written by ``sinkbowl check``."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from sinkbowl.case.case import Case


def check_papers(figure: Path | None, sheet: Path | None) -> None:
    """Refuse names that cannot be written, before any work.

    Raises
    ------
    ResultError : another suffix, or a folder that does not exist
    """
    if figure is None and sheet is None:
        return
    from sinkbowl_post.output import check_output
    from sinkbowl_post.style import FIGURE_SUFFIXES, SHEET_SUFFIXES

    if figure is not None:
        check_output(figure, FIGURE_SUFFIXES)
    if sheet is not None:
        check_output(sheet, SHEET_SUFFIXES)


def write_papers(
    case: Case,
    figure: Path | None,
    sheet: Path | None,
    heading: str | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> list[Path]:
    """Write the requested files, the figure with its own or a given heading; returns their names.

    `progress` is called with the number of parts done, including the check, and in total.
    """
    parts = 1 + sum(path is not None for path in (figure, sheet))
    progress(1, parts)
    if figure is not None:
        from sinkbowl_post.check.figure import check_figure
        from sinkbowl_post.style import save_figure

        save_figure(check_figure(case), figure, heading)
        progress(2, parts)
    if sheet is not None:
        from sinkbowl_post.check.sheet import trial_sheet
        from sinkbowl_post.check.sheet_pdf import write_sheet

        write_sheet(trial_sheet(case), sheet)
    return [path for path in (figure, sheet) if path is not None]
