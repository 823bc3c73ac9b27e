"""Compiled kernels that somebody else could have put there are not loaded."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from sinkbowl.compiled.cache import HOME_KEY, found_strange, place_for

pytestmark = pytest.mark.skipif(not hasattr(os, "getuid"), reason="owners as POSIX knows them")

STRANGER = 12345  # number of a user that is neither this one nor root

COMPILE = (
    "import json, os\n"
    "from sinkbowl.flow.kernels import CACHE, kernel\n"
    "@kernel\n"
    "def double(x):\n"
    "    return 2.0 * x\n"
    "assert double(2.0) == 4.0\n"
    "kept = len(list(CACHE.rglob('*.nbc')))\n"
    "home = os.environ.get('NUMBA_CACHE_DIR')\n"
    "print(json.dumps({'cache': str(CACHE), 'home': home, 'kept': kept}))\n"
)


def belongs_to_a_stranger(folder: Path) -> None:
    os.chown(folder, STRANGER, STRANGER)


def holds_a_file_of_a_stranger(folder: Path) -> None:
    os.chown(folder / "laplace" / "index.nbi", STRANGER, STRANGER)


def anybody_can_write_to_it(folder: Path) -> None:
    folder.chmod(0o777)


def anybody_can_write_to_a_folder_in_it(folder: Path) -> None:
    folder.chmod(0o755)
    (folder / "laplace").chmod(0o777)


def the_group_can_write_to_a_file_in_it(folder: Path) -> None:
    folder.chmod(0o750)
    (folder / "laplace" / "index.nbi").chmod(0o664)


def holds_a_link(folder: Path) -> None:
    (folder / "laplace" / "index.nbc").symlink_to(folder.parent)


def can_be_renamed_by_anybody(folder: Path) -> None:
    folder.parent.chmod(0o777)


def can_be_renamed_by_anybody_far_above(folder: Path) -> None:
    folder.parents[3].chmod(0o777)


def lies_in_a_folder_of_a_stranger(folder: Path) -> None:
    os.chown(folder.parent, STRANGER, STRANGER)


def lies_far_below_a_folder_of_a_stranger(folder: Path) -> None:
    os.chown(folder.parents[3], STRANGER, STRANGER)


WAYS: dict[str, Callable[[Path], None]] = {
    way.__name__: way
    for way in (
        belongs_to_a_stranger,
        holds_a_file_of_a_stranger,
        anybody_can_write_to_it,
        anybody_can_write_to_a_folder_in_it,
        the_group_can_write_to_a_file_in_it,
        holds_a_link,
        can_be_renamed_by_anybody,
        can_be_renamed_by_anybody_far_above,
        lies_in_a_folder_of_a_stranger,
        lies_far_below_a_folder_of_a_stranger,
    )
}


def filled(home: Path) -> Path:
    folder = home / "kernels" / "1234"
    (folder / "laplace").mkdir(parents=True)
    folder.chmod(0o700)
    (folder / "laplace" / "index.nbi").write_bytes(b"an index")
    return folder


@pytest.mark.parametrize("way", WAYS)
def test_a_cache_that_is_not_the_users_alone_is_left_for_a_private_one_and_that_is_said(
    tmp_path, monkeypatch, way
):
    home = tmp_path / "far" / "away" / "home"
    monkeypatch.setenv(HOME_KEY, str(home))
    folder = filled(home)
    try:
        WAYS[way](folder)
    except PermissionError:
        pytest.skip("only root can give files away")
    with pytest.warns(RuntimeWarning, match="compiled again for this call only"):
        found = place_for(home, "kernels", "1234")
    assert tmp_path not in found.parents
    private = found.parents[1]
    assert private.stat().st_mode & 0o777 == 0o700
    assert os.environ[HOME_KEY] == str(private)


def test_a_folder_that_is_a_link_is_not_used(tmp_path):
    """Whoever owns the link could turn it elsewhere."""
    folder = filled(tmp_path)
    (tmp_path / "other").mkdir()
    link = tmp_path / "other" / "1234"
    link.symlink_to(folder)
    assert found_strange(link) == f"{link} is a link"


@pytest.mark.parametrize("umask", [0o022, 0o002, 0o000])
def test_a_new_cache_is_the_users_alone_whatever_the_umask(tmp_path, umask):
    """With 002, as many systems have it, all files get writable by the group."""
    before = os.umask(umask)
    try:
        if umask == 0:
            (tmp_path / "kernels").mkdir(mode=0o700)
        folder = place_for(tmp_path, "kernels", "1234")
        (folder / "laplace").mkdir()
        (folder / "laplace" / "index.nbi").write_bytes(b"an index")
        assert folder == place_for(tmp_path, "kernels", "1234") == tmp_path / "kernels" / "1234"
        assert folder.stat().st_mode & 0o777 == 0o700
    finally:
        os.umask(before)


def compiled_in(home: Path) -> subprocess.CompletedProcess[str]:
    """A kernel compiled by a process of its own, its cache under a folder."""
    script = home / "compile.py"
    script.write_text(COMPILE)
    return subprocess.run(
        [sys.executable, str(script)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, HOME_KEY: str(home)},
    )


def test_kernels_are_compiled_in_the_private_cache_which_goes_at_the_end(tmp_path):
    """In a process of its own, with the package as it is started by users."""
    shared = tmp_path / "kernels"
    shared.mkdir()
    shared.chmod(0o777)
    done = compiled_in(tmp_path)
    told = json.loads(done.stdout)
    assert "compiled again for this call only" in done.stderr
    assert told["cache"].startswith(told["home"])
    assert told["kept"] == 1
    assert not told["home"].startswith(str(tmp_path))
    assert not Path(told["home"]).exists()
    assert not any(path.is_file() for path in shared.rglob("*"))


def test_a_cache_that_is_the_users_own_is_used_without_a_word(tmp_path):
    done = compiled_in(tmp_path)
    assert not done.stderr
    assert json.loads(done.stdout)["cache"].startswith(str(tmp_path))
