"""What a killed command leaves, beside its output or in TMPDIR, the next one clears away."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from console import call
from faults.test_places import mounted
from sinkbowl.common.errors import ResultError
from sinkbowl.files import safe_writing
from sinkbowl.files.result import read_result
from sinkbowl.files.safe_writing import LOCK, scratch
from sinkbowl_post.filming.film import film
from synthetic import write_result

DYING = """
import os, signal, sys
from pathlib import Path

def die(*_):
    os.kill(os.getpid(), signal.SIGKILL)

if sys.argv[1] == "whole":
    Path.replace = die                      # all is written, nothing is in its place
elif sys.argv[1] == "frame":
    import sinkbowl_post.filming.film as encoders
    encoders._finish = die                    # all frames are drawn, the encoder waits for more
elif sys.argv[1] == "figure":
    import sinkbowl_post.reporting.html_page as page
    page.data_url = die
elif sys.argv[1] == "step":
    from sinkbowl.running.runner import RunState
    RunState.step = die
from sinkbowl_post.cli import main
if __name__ == "__main__":
    main(sys.argv[2:])
"""

EXPORT = ("export", "r.h5", "-o", "r.csv")
FIELDS = ("export", "r.h5", "-o", "r.xdmf")
FILM = ("film", "r.h5", "-o", "r.mp4", "--workers", "2")
REPORT = ("report", "r.h5", "-o", "r.html")
ESTIMATE = ("run", "c.toml", "--estimate")


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a result and a case; temporary files go to a folder beside it."""
    folder, temporary = tmp_path / "place", tmp_path / "temporary"
    folder.mkdir()
    temporary.mkdir()
    monkeypatch.setenv("TMPDIR", str(temporary))
    write_result(folder / "r.h5", frames=2, cells=(8, 10), steps=20)
    (folder / "c.toml").write_text((Path(__file__).parents[2] / "cases/steel-cup.toml").read_text())
    return folder


def command(place: Path, when: str, arguments: tuple[str, ...]) -> int:
    """Exit status of a command that kills itself at a moment, or at none."""
    script = place.parent / "dying.py"
    script.write_text(DYING)
    done = subprocess.run(
        [sys.executable, str(script), when, *arguments], cwd=place, capture_output=True, text=True
    )
    print(done.stdout, done.stderr)
    return done.returncode


def lying(place: Path) -> set[str]:
    """Names of what lies beside the output and among temporary files."""
    temporary = place.parent / "temporary"
    return {path.name for folder in (place, temporary) for path in folder.iterdir()}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("when", "arguments", "made"),
    [
        ("whole", EXPORT, {"r.csv"}),
        ("whole", FIELDS, {"r.xdmf", "r-data.h5"}),
        ("frame", FILM, {"r.mp4"}),
        ("whole", FILM, {"r.mp4"}),
        ("figure", REPORT, {"r.html"}),
        ("whole", REPORT, {"r.html"}),
        ("step", ESTIMATE, set()),
    ],
)
def test_what_a_killed_command_left_goes_with_the_next_of_its_kind(place, when, arguments, made):
    before = lying(place)
    assert command(place, when, arguments) == -signal.SIGKILL
    left = lying(place) - before
    print(left)
    assert left
    assert not left & made
    time.sleep(0.5)  # the encoder of a killed film ends when its input does
    assert command(place, "never", arguments) == 0
    now = lying(place) - before
    assert now == made


def test_a_folder_that_is_held_stays_and_one_that_is_not_goes(tmp_path):
    with scratch("kind-", tmp_path) as first:
        with scratch("kind-", tmp_path) as second:
            assert first.is_dir()
            assert second != first
        assert not second.exists()
    assert list(tmp_path.iterdir()) == []
    dead = tmp_path / "kind-dead"
    dead.mkdir()
    (dead / LOCK).touch()
    (dead / "much").write_bytes(b"of it")
    with scratch("kind-", tmp_path):
        assert not dead.exists()


def test_what_is_not_ours_stays(tmp_path, monkeypatch):
    """Folders without a lock, files, links to folders; but for an old empty folder."""
    theirs = tmp_path / "theirs"
    theirs.mkdir()
    (theirs / LOCK).touch()
    (tmp_path / "kind-full").mkdir()
    (tmp_path / "kind-full" / "notes.txt").touch()
    (tmp_path / "kind-file").touch()
    (tmp_path / "kind-link").symlink_to(theirs)
    (tmp_path / "kind-new").mkdir()
    before = set(tmp_path.iterdir())
    with scratch("kind-", tmp_path):
        pass
    assert set(tmp_path.iterdir()) == before
    monkeypatch.setattr(safe_writing, "IN_THE_MAKING", -1.0)
    with scratch("kind-", tmp_path):
        pass
    assert set(tmp_path.iterdir()) == before - {tmp_path / "kind-new"}
    assert (theirs / LOCK).exists()


def test_a_folder_of_another_user_stays(tmp_path, monkeypatch):
    dead = tmp_path / "kind-dead"
    dead.mkdir()
    (dead / LOCK).touch()
    monkeypatch.setattr(os, "getuid", lambda: dead.stat().st_uid + 1)
    with scratch("kind-", tmp_path):
        pass
    assert dead.is_dir()


def test_a_film_says_that_the_folder_for_temporary_files_is_full(tmp_path, monkeypatch):
    """Its processes would be killed at the first frame that finds no room."""
    result = read_result(write_result(tmp_path / "r.h5", frames=2, cells=(8, 10), steps=20))
    small = tmp_path / "small"
    small.mkdir()
    for disk in mounted(small, "size=4m"):
        monkeypatch.setattr(safe_writing, "gettempdir", lambda disk=disk: str(disk))
        with pytest.raises(ResultError, match=r"No space left.*TMPDIR.*--workers 1"):
            film(result, tmp_path / "r.gif", workers=2)
        assert list(disk.iterdir()) == []
    assert not (tmp_path / "r.gif").exists()


def test_a_folder_that_cannot_be_written_is_told(tmp_path):
    """Nobody, root included, makes folders in /proc."""
    with (
        pytest.raises(ResultError, match=r"/proc/self: cannot be written"),
        scratch("kind-", Path("/proc/self")),
    ):
        pass


@pytest.mark.slow
@pytest.mark.parametrize(
    "arguments",
    [
        ("export", "r.h5", "-o", "disk/e.csv"),
        ("export", "r.h5", "-o", "disk/e.vtu"),
        ("export", "r.h5", "-o", "disk/e.xdmf"),
        ("film", "r.h5", "-o", "disk/f.png"),
        ("film", "r.h5", "-o", "disk/f.mp4"),
        ("check", "c.toml", "--figure", "disk/c.png"),
        ("check", "c.toml", "--sheet", "disk/c.pdf"),
        ("new", "disk/n.toml"),
    ],
)
def test_an_output_for_which_the_disk_has_no_room_is_one_line_and_no_file(
    place, monkeypatch, capfd, arguments
):
    """No page from HDF5 or an encoder, and nothing half written."""
    monkeypatch.chdir(place)
    (place / "disk").mkdir()
    for disk in mounted(place / "disk", "size=40k"):
        (disk / "filler").write_bytes(b"x" * os.statvfs(disk).f_bavail * 4096)
        assert call(*arguments) == 2
        told = capfd.readouterr().err
        assert told.startswith("sinkbowl: disk: cannot be written ("), told
        assert told.count("\n") == 1, told
        assert [path.name for path in disk.iterdir()] == ["filler"]
