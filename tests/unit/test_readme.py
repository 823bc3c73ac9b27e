"""What the documents promise and a machine can keep; the list of all texts is kept and read."""

import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer

from key_table import key_table, with_table
from messages import LIST, messages
from sinkbowl.case.case import load_case
from sinkbowl.case.keys import case_keys
from sinkbowl.design.checking import check
from sinkbowl.files.record import DATASETS
from sinkbowl.verification.suite import FAMILIES
from sinkbowl_post.cli import COMMANDS, app

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
GALLERY = ROOT / "postprocess" / "gallery"
DOCUMENTS = (
    README,
    ROOT / "DEVELOPERS.md",
    *sorted(ROOT.glob("[a-z]*/*.md")),
    GALLERY / "README.md",
)
TREE = typer.main.get_command(app).commands
NOT_FILES = {"commands/NAME.py"}
OTHERS = {"--nworkers", "--nthreads", "--no-deps", "--whole"}
"""Options of other programs that the documents name."""


def text_of(document: Path) -> str:
    return document.read_text(encoding="utf-8")


def fenced(text: str) -> str:
    """The blocks of code of a document, their remarks taken off."""
    blocks = re.findall(r"^```\w*\n(.*?)^```", text, re.DOTALL | re.MULTILINE)
    return "\n".join(re.sub(r"\s+#.*$", "", line) for block in blocks for line in block.split("\n"))


def inline(text: str) -> list[str]:
    """The pieces of code within the lines of a document."""
    prose = re.sub(r"^```\w*\n.*?^```", "", text, flags=re.DOTALL | re.MULTILINE)
    return [" ".join(piece.split()) for piece in re.findall(r"`([^`]+)`", prose)]


def calls(text: str) -> Iterator[list[str]]:
    """The words behind `sinkbowl`, wherever a document calls it."""
    lines = [part.strip() for line in fenced(text).split("\n") for part in line.split("&&")]
    for line in [*lines, *inline(text)]:
        words = shlex.split(line) if "sinkbowl " in line else []
        if words and words[0].rpartition("/")[2] == "sinkbowl":
            yield words[1:]


def options_of(command: str) -> set[str]:
    return {option for param in TREE[command].params for option in param.opts} | {"--help"}


def test_calls_are_found_in_blocks_and_in_lines():
    """The checks below see what they are to see."""
    text = "Type `sinkbowl sink it\n--fast`.\n\n```sh\nsinkbowl run a.toml -x     # fast\n```\n"
    assert list(calls(text)) == [["run", "a.toml", "-x"], ["sink", "it", "--fast"]]
    assert len(list(calls(text_of(README)))) > 15


EACH = pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))


@EACH
def test_commands_and_options_in_a_document_exist(document):
    """As the console script's own tree of commands has them."""
    for words in calls(text_of(document)):
        if words[0] in ("--version", "--help"):
            continue
        assert words[0] in TREE, f"sinkbowl {' '.join(words)}"
        given = {word for word in words[1:] if re.match(r"--?[a-z]", word)}
        assert given <= options_of(words[0]), f"sinkbowl {' '.join(words)}"


@EACH
def test_options_named_in_the_lines_of_a_document_exist(document):
    """`check --uncertainty` is one of check's; `--grids 3` alone is one of some command's."""
    every = set().union(*map(options_of, TREE)) | OTHERS | {"--version"}
    for piece in inline(text_of(document)):
        words = piece.split()
        command = words[0] if words[0] in TREE else None
        for option in re.findall(r"(?:^| )(--[a-z][a-z-]*)", piece):
            assert option in (options_of(command) if command else every), piece


@EACH
def test_files_and_links_of_a_document_are_there(document):
    """Links from where the document stands, programs by the end of their path."""
    text = text_of(document)
    for link in re.findall(r"\]\(([^)#]+)\)", text):
        assert (document.parent / link).exists(), link
    folders = ("solver", "postprocess", "tests", "cases")
    found = [path for top in folders for path in (ROOT / top).rglob("*.py")]
    programs = ["/" + str(path.relative_to(ROOT)) for path in found]
    for name in re.findall(r"(?<![\w*])[\w/]+\.py\b", text):
        named = name.lstrip("/")
        assert any(path.endswith("/" + named) for path in programs) or named in NOT_FILES, name
    for name in re.findall(r"\bcases/[\w/-]+\.(?:toml|csv|md)\b", text):
        assert (ROOT / name).exists(), name


@EACH
def test_case_keys_and_columns_named_in_a_document_exist(document):
    """`flow.wall` is a key of the schema; what ends in _force is one of the history's."""
    keys = set(case_keys())
    columns = {dataset.column for dataset in DATASETS}
    tables = {key.partition(".")[0] for key in keys if "." in key}
    for piece in inline(text_of(document)):
        found = re.match(r"(?:--over )?([a-z]+\.[a-z_]+)(?: ?=.*)?$", piece)
        if found and found[1].partition(".")[0] in tables:
            assert found[1] in keys, piece
        if re.fullmatch(r"\w+_(?:force|energy|correction)", piece):
            assert piece in columns, piece


def test_the_readme_has_every_command_in_its_table_and_no_other():
    rows = re.findall(r"^\| `sinkbowl (\w+)", text_of(README), re.MULTILINE)
    assert sorted(rows) == sorted(COMMANDS)


def test_the_story_s_figures_are_those_of_the_check():
    """Heads, heel, heave periods and both theories' times of the shipped cup."""
    found = check(load_case(ROOT / "cases" / "steel-cup-wide-hole.toml")).as_dict()
    story = text_of(README)
    models = found["reduced"]
    told = (
        f"{1e3 * found['head_m']:.1f} mm of head",
        f"{1e3 * found['breakthrough_head_m']:.2f} mm",
        f"{models['quasi-static']['sinking_time_s']:.3f} s",
        f"{models['heave']['sinking_time_s']:.3f} s",
    )
    assert not [words for words in told if words not in story], told


def test_the_readme_takes_80_lines_the_developers_150_and_the_solver_250():
    assert len(text_of(README).splitlines()) <= 80
    assert len(text_of(ROOT / "DEVELOPERS.md").splitlines()) <= 150
    assert len(text_of(ROOT / "solver" / "README.md").splitlines()) <= 250


def test_the_gallery_has_every_picture_with_a_command():
    shown = text_of(GALLERY / "README.md")
    pictures = sorted(path.name for path in GALLERY.glob("*.png"))
    assert sorted(re.findall(r"!\[[^\]]*\]\(([^)]+)\)", shown)) == pictures
    assert shown.count("`sinkbowl ") == len(pictures) + 1


def test_the_imports_of_the_script_in_the_documents_work():
    script = text_of(ROOT / "postprocess" / "README.md")
    lines = re.findall(r"^from sinkbowl.* import .*$", script, re.MULTILINE)
    assert len(lines) == 2
    for line in lines:
        exec(line, {})


def test_ci_runs_the_readme_s_own_test_command():
    """What a newcomer is told to type is what is tested."""
    command = next(line for line in text_of(README).splitlines() if line.endswith("-m pytest"))
    assert command in text_of(ROOT / ".ci" / "run").splitlines()


def test_every_shipped_case_is_in_the_table_of_cases():
    readme = text_of(ROOT / "cases" / "README.md")
    missing = [case.name for case in (ROOT / "cases").glob("*.toml") if case.name not in readme]
    assert not missing


def test_the_table_of_keys_is_that_of_the_schema():
    """`python tests/key_table.py` brings it up to date."""
    readme = text_of(ROOT / "cases" / "README.md")
    assert readme == with_table(readme)
    rows = re.findall(r"^\| `(\w+)` \|", key_table(), re.MULTILINE)
    assert len(rows) == len([key for key in case_keys() if "." in key]) + 1


def test_every_family_of_checks_is_told():
    """Whoever types ``sinkbowl verify --only`` finds the names there."""
    lines = text_of(ROOT / "solver" / "README.md").splitlines()
    told = next(line for line in lines if line.startswith("sinkbowl verify"))
    assert not [family for family in FAMILIES if family not in told]


@pytest.mark.slow
def test_tests_are_found_from_any_folder(tmp_path):
    """By `pytest` alone, which does not look for modules where it is started."""
    script = "import sys, pytest; sys.path.remove(''); sys.exit(pytest.console_main())"
    found = subprocess.run(
        [sys.executable, "-c", script, "--collect-only", "-qq", "-n0", ROOT / "tests"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
    )
    assert found.returncode == 0, found.stdout[-2000:]


def test_the_list_of_messages_is_that_of_the_source():
    """`python tests/messages.py` brings it up to date; read what changed."""
    assert LIST.read_text(encoding="utf-8") == messages()


def test_errors_labels_and_help_are_in_the_list():
    """One of each kind that the source has, by hand."""
    kept = messages().split("\n")
    assert "{key} was {} and is {}" in kept
    assert "time until the rim is under" in kept
    assert "File to write: .png, .pdf, .svg or .csv; may be repeated." in kept
