"""The console script ``sinkbowl``: commands and error handling.

Exit status: 0 done, 1 the run itself failed, 2 the input is wrong. Heavy imports are made only when
a command needs them, so that ``--help`` is fast.
"""

import io
import logging
import os
import signal
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import Annotated

import typer

from sinkbowl.common.errors import RunError, SinkbowlError

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
"""One thread for numpy, whose matrices here are small; must be set before its first import."""

LEAST_MEMORY = 500e6  # minimum address space for numpy and the compiler [bytes]

OLD_NAMES = {"--levels": "--grids", "--spread": "--uncertainty"}
"""Old option names and their present ones."""

INTERRUPTED = 130  # exit status that typer gives to Ctrl-C

app = typer.Typer(
    name="sinkbowl",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

COMMANDS = (
    *("new", "check", "size", "chart", "run", "sweep", "compare", "curves", "fit", "log", "trace"),
    *("film", "report", "export", "demo", "verify"),
)
"""In the order of the help; each is a function of that name in a module of that name."""

for name in COMMANDS:
    app.command()(getattr(import_module(f"sinkbowl_post.commands.{name}"), name))


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
    """The arguments with present option names; old names give a warning."""
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
    """Run the command line; errors become a message and an exit status."""
    if signal.getsignal(signal.SIGTERM) is signal.SIG_DFL:
        signal.signal(signal.SIGTERM, signal.default_int_handler)  # as Ctrl-C
    for stream in (sys.stdout, sys.stderr):
        # An ASCII terminal, or a console or pipe of Windows, may not have a character.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    _check_memory()
    if sys.stderr.isatty():
        told = logging.getLogger("sinkbowl")
        told.setLevel(logging.INFO)
        told.addHandler(logging.StreamHandler())
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
        from sinkbowl_post.unforeseen import message_of

        _give_up(message_of(error, arguments), 1)


def _check_memory() -> None:
    """Stop if the shell's memory limit is too low to load the libraries."""
    if sys.platform != "win32":
        try:
            import resource
        except ImportError:  # a system without limits
            return
        allowed = resource.getrlimit(resource.RLIMIT_AS)[0]
        if 0 <= allowed < LEAST_MEMORY:
            limit = f"only {allowed / 1e6:.0f} MB of memory are allowed (ulimit -v)"
            _give_up(f"{limit}, and it needs {LEAST_MEMORY / 1e6:.0f}. Raise the limit.", 1)


def _give_up(error: Exception | str, status: int) -> None:
    print(f"sinkbowl: {error}", file=sys.stderr)
    sys.exit(status)
