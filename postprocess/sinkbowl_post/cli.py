"""The console script ``sinkbowl``: the commands, and what becomes of their errors.

Exit status: 0 done, 1 the run itself failed, 2 the input is wrong. Heavy imports wait until a
command needs them, so that ``--help`` comes at once.
"""

from __future__ import annotations

import io
import os
import signal
import sys
from collections.abc import Sequence
from typing import Annotated

import typer

from sinkbowl.common.errors import RunError, SinkbowlError
from sinkbowl_post.commands.chart import chart
from sinkbowl_post.commands.check import check
from sinkbowl_post.commands.compare import compare
from sinkbowl_post.commands.curves import curves
from sinkbowl_post.commands.demo import demo
from sinkbowl_post.commands.export import export
from sinkbowl_post.commands.film import film
from sinkbowl_post.commands.fit import fit
from sinkbowl_post.commands.log import log
from sinkbowl_post.commands.new import new
from sinkbowl_post.commands.report import report
from sinkbowl_post.commands.run import run
from sinkbowl_post.commands.size import size
from sinkbowl_post.commands.sweep import sweep
from sinkbowl_post.commands.trace import trace
from sinkbowl_post.commands.verify import verify

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
"""Numpy's matrices here are small: a second thread waits for more than it takes over, and is read
as numpy is first imported."""

LEAST_MEMORY = 500e6
"""Memory without which numpy and the compiler do not load [bytes of addresses]."""

OLD_NAMES = {"--levels": "--grids", "--spread": "--uncertainty"}
"""Options of the version before by what they are called now."""

INTERRUPTED = 130  # exit status that typer gives to Ctrl-C

app = typer.Typer(
    name="sinkbowl",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

COMMANDS = (
    new,
    check,
    size,
    chart,
    run,
    sweep,
    compare,
    curves,
    fit,
    log,
    trace,
    film,
    report,
    export,
    demo,
    verify,
)

for command in COMMANDS:
    app.command()(command)


def _tell_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"sinkbowl {version('sinkbowl')}")
        raise typer.Exit


@app.callback()
def _first(
    wanted: Annotated[
        bool,
        typer.Option("--version", callback=_tell_version, is_eager=True, help="Print the version."),
    ] = False,
) -> None:
    """Bowls that sink because they have a hole in the base: how long, and how."""


def with_present_names(arguments: Sequence[str]) -> list[str]:
    """The arguments with options by their names of today; what had another one is told."""
    found = []
    for argument in arguments:
        name, *value = argument.split("=", 1)
        if name in OLD_NAMES:
            typer.echo(
                f"{name} is now called {OLD_NAMES[name]}; the next version no longer has the old "
                "name.",
                err=True,
            )
            argument = "=".join((OLD_NAMES[name], *value))
        found.append(argument)
    return found


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line; errors become one message and an exit status."""
    if signal.getsignal(signal.SIGTERM) is signal.SIG_DFL:
        signal.signal(signal.SIGTERM, signal.default_int_handler)  # ends all as Ctrl-C does
    for stream in (sys.stdout, sys.stderr):
        # An ASCII terminal, or a console or pipe of Windows, may lack a letter.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    _check_memory()
    try:
        app(args=with_present_names(sys.argv[1:] if arguments is None else arguments))
    except SystemExit as end:
        if end.code == INTERRUPTED:
            _give_up("stopped by hand", 1)
        raise
    except RunError as error:
        _give_up(error, 1)
    except (SinkbowlError, OSError) as error:
        _give_up(error, 2)
    except MemoryError:
        _give_up("out of memory. Use coarser cells, fewer frames or fewer workers.", 1)
    except Exception as error:
        from sinkbowl_post.unforeseen import told

        _give_up(told(error, arguments), 1)


def _check_memory() -> None:
    """Give up where the shell allows so little that libraries end the process when they load."""
    if sys.platform != "win32":
        try:
            import resource
        except ImportError:  # a system without limits
            return
        allowed = resource.getrlimit(resource.RLIMIT_AS)[0]
        if 0 <= allowed < LEAST_MEMORY:
            told = f"only {allowed / 1e6:.0f} MB of memory are allowed (ulimit -v)"
            _give_up(f"{told}, and it needs {LEAST_MEMORY / 1e6:.0f}. Raise the limit.", 1)


def _give_up(error: Exception | str, status: int) -> None:
    print(f"sinkbowl: {error}", file=sys.stderr)
    sys.exit(status)
