"""What other systems lack or forbid, taken away from this one: the parts that a laptop with Windows
or macOS would stumble over. Stands in for such machines, and does not replace a trial on one.

The rules of Windows are those of its documentation (CreateFile, LockFileEx, naming of files), from
memory: an open file can be neither renamed nor removed, and a lock keeps out all other handles.
"""

import re
from pathlib import Path

import pytest

from console import python
from faults.killed_runs import CUP

ROOT = Path(__file__).parents[2]

WITHOUT_POSIX = """
# The libraries first: they have wheels of their own for each system.
import concurrent.futures.process, multiprocessing.util, subprocess, tempfile
import filelock, h5py, imageio_ffmpeg, matplotlib.pyplot, numba, platformdirs, rich.progress
import numba.core.caching, scipy.integrate, scipy.ndimage, scipy.spatial, scipy.stats
import dask.distributed
import os, sys

class Missing:
    NAMES = {"fcntl", "resource", "termios", "tty", "pty", "pwd", "grp", "syslog", "curses"}

    def find_spec(self, name, path=None, target=None):
        if name in self.NAMES:
            raise ImportError(f"{name} is not there")

for name in Missing.NAMES:
    sys.modules.pop(name, None)
sys.meta_path.insert(0, Missing())
for name in (
    "fork", "forkpty", "sched_getaffinity", "sched_setaffinity", "getpgid",
    "setsid", "killpg", "O_NOFOLLOW", "O_DIRECTORY", "O_CLOEXEC", "O_NONBLOCK", "statvfs", "mkfifo",
):
    delattr(os, name)
"""

IMPORT_ALL = """
import importlib, pkgutil
import sinkbowl, sinkbowl_post
count = 0
for package in (sinkbowl, sinkbowl_post):
    for module in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
        importlib.import_module(module.name)
        count += 1
print(count)
"""

LIKE_WINDOWS = """
from sinkbowl.files import safe_writing, work_file
safe_writing.WINDOWS = work_file.WINDOWS = True
safe_writing.PATIENCE = 0.0

def opened():
    links = (f"/proc/self/fd/{name}" for name in os.listdir("/proc/self/fd"))
    return {os.readlink(link) for link in links if os.path.lexists(link)}

def held(path):
    mapped = {line.split()[-1] for line in open("/proc/self/maps")}
    if os.path.realpath(path) in opened() | mapped:
        raise PermissionError(13, f"a process has it open: {path}")

def rules(event, given):
    if event in ("os.symlink", "os.link", "os.fork"):
        raise PermissionError(13, f"{event} takes a privilege")
    if event == "os.rename":
        held(given[0]), held(given[1])
    elif event == "os.remove":
        held(given[0])
    elif event == "open" and isinstance(given[0], str) and given[0].endswith(".part"):
        held(given[0])

from sinkbowl_post.cli import main
sys.addaudithook(rules)

def command(*arguments):
    try:
        main([str(one) for one in arguments])
    except SystemExit as end:
        return end.code or 0
"""


@pytest.mark.slow
def test_every_module_is_imported_without_what_only_unix_has(tmp_path):
    assert int(python(WITHOUT_POSIX + IMPORT_ALL, cwd=tmp_path)) > 200


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="sees what is open in /proc")
def test_runs_go_by_the_rules_of_windows(tmp_path):
    """One run, one gone over, and a few releases: locks, copies, renaming, clearing up."""
    (tmp_path / "cup.toml").write_text(CUP.replace("\n", "\r\n"), newline="")
    commands = """
assert command("check", "cup.toml") == 0
assert command("run", "cup.toml", "-o", "cup.h5") == 0
assert command("run", "cup.toml", "-o", "cup.h5", "--overwrite") == 0
assert command("run", "cup.toml", "-o", "many.h5", "--members", "2") == 0
assert command("compare", "cup.h5", "-o", "cup.png") == 0
assert command("export", "cup.h5", "-o", "cup.csv") == 0
"""
    python(WITHOUT_POSIX + LIKE_WINDOWS + commands, cwd=tmp_path)
    made = {path.name for path in tmp_path.iterdir()}
    assert made == {"cup.toml", "cup.h5", "many.h5", "cup.png", "cup.csv"}


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="sees what is open in /proc")
def test_a_result_that_a_reader_holds_open_is_not_lost_on_windows(tmp_path):
    """The reader keeps the old one whole; the run says what is in its way and leaves nothing."""
    (tmp_path / "cup.toml").write_text(CUP)
    commands = """
assert command("run", "cup.toml", "-o", "cup.h5") == 0
before = open("cup.h5", "rb").read()
reader = open("cup.h5", "rb")
assert command("run", "cup.toml", "-o", "cup.h5", "--overwrite") == 1
assert reader.read() == before
reader.close()
assert command("run", "cup.toml", "-o", "cup.h5", "--overwrite") == 0
"""
    python(WITHOUT_POSIX + LIKE_WINDOWS + commands, cwd=tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {"cup.toml", "cup.h5"}


def test_files_have_names_that_windows_can_have_and_none_is_a_link():
    """No reserved letter or name, no dot or blank at the end, no two that differ in case alone."""
    folders = (ROOT / name for name in ("solver", "postprocess", "cases", "tests", ".ci"))
    paths = [path for folder in folders for path in folder.rglob("*")]
    reserved = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
    assert [path for path in paths if path.is_symlink()] == []
    for path in paths:
        assert not re.search(r'[<>:"|?*\\]|[. ]$', path.name), path
        assert not reserved.fullmatch(path.name), path
    assert len({str(path).lower() for path in paths}) == len(paths)


@pytest.mark.slow
@pytest.mark.parametrize("encoding", ["cp437", "cp1252", "ascii"])
def test_answers_can_be_printed_to_a_console_of_few_letters(encoding, tmp_path):
    (tmp_path / "cup.toml").write_text(CUP)
    script = f"""
import io, sys
sys.stdout = io.TextIOWrapper(sys.stdout.detach(), encoding={encoding!r})
from sinkbowl_post.cli import main
main(["check", "cup.toml"])
"""
    assert "heave" in python(script, cwd=tmp_path)
