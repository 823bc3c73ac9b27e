"""The demonstration: check, run, compare and film a bowl, and list the files."""

from collections.abc import Callable
from itertools import count
from pathlib import Path

from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.common.errors import CaseError, RunError
from sinkbowl.design.check_page import check_page
from sinkbowl.design.checking import check
from sinkbowl.files.result import read_result
from sinkbowl.running.runner import RunResult, run
from sinkbowl.scatter.interval import time_text
from sinkbowl_post.comparing.compare import compare
from sinkbowl_post.comparing.figure import comparison_figure
from sinkbowl_post.exporting.export import export_history
from sinkbowl_post.filming.film import film
from sinkbowl_post.output import write_whole
from sinkbowl_post.pages.printing import print_table
from sinkbowl_post.pages.progress import film_bar, run_bar
from sinkbowl_post.style import save_figure

BOWL = "steel-cup-wide-hole"
FOLDER = "sinkbowl-demo"

GUIDE = (
    ("film.mp4", "the film: watch the jet in the hole, and the rim's curve when it reaches zero"),
    ("film.gif", "the same, smaller, for a web page"),
    ("comparison.png", "the figure: flow solver and reduced models (also as .svg)"),
    ("check.txt", "the check before the trial"),
    ("history.csv", "every time step, for a spreadsheet"),
    ("result.h5", "the complete result: sinkbowl compare, film and export read it"),
    ("bowl.toml", "the case: change the hole, and sinkbowl run it again"),
)


def run_demo(folder: Path | None, say: Callable[[str], None]) -> Path:
    """Run the demonstration in a new folder and return the folder.

    folder : new or empty; None: the first free of sinkbowl-demo, sinkbowl-demo-2 ...
    say : prints one message

    Raises CaseError if the folder is not empty, or cannot be created; RunError if the run failed or
    was stopped.
    """
    source = shipped_case(BOWL)
    place = _empty_folder(folder or _free_folder())
    case_file = place / "bowl.toml"
    write_whole(case_file, source.read_bytes())
    case = load_case(case_file)

    page = check_page(check(case).as_dict())
    write_whole(place / "check.txt", f"{page}\n".encode())
    say(page + "\n")

    say(
        "The flow solver computes the sinking. The first run takes half a minute longer, to "
        "compile."
    )
    output = place / "result.h5"
    with run_bar() as show_run:
        done = run(case, output, progress=show_run)
    if done.status != "finished":
        raise RunError(f"{output}: the run {done.status}: {done.outcome}")
    say(f"{done.steps} steps in {done.wall_seconds:.0f} s.\n")
    _show(output, place)
    say(_where(place, done))
    return place


def _show(output: Path, place: Path) -> None:
    """Comparison, figures, table and films of the run."""
    result = read_result(output)
    comparison = compare(result)
    print_table(comparison.table)
    figure = comparison_figure(comparison)
    for suffix in (".png", ".svg"):
        save_figure(figure, place / f"comparison{suffix}")
    export_history(result, place / "history.csv")
    with film_bar() as show_film:
        film(result, [place / "film.mp4", place / "film.gif"], progress=show_film)


def _where(place: Path, done: RunResult) -> str:
    text = ""
    if done.sinking_time is not None:
        text = f"Rim under after {time_text(done.sinking_time, done.interval)}. "
    lines = [f"\n{text}All files are in {place}:"]
    for name, meaning in GUIDE:
        lines.append(f"  {name:<16}{meaning}")
    return "\n".join(lines)


def _free_folder() -> Path:
    if not Path(FOLDER).exists():
        return Path(FOLDER)
    return next(place for n in count(2) if not (place := Path(f"{FOLDER}-{n}")).exists())


def _empty_folder(folder: Path) -> Path:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise CaseError("is not empty", file=folder, allowed="Give a folder that does not exist.")
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise CaseError(f"cannot be made ({error.strerror})", file=folder) from error
    return folder
