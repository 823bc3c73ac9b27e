"""The README's promises that a machine can keep."""

from pathlib import Path

from sinkbowl.proof.ladder import LADDER

ROOT = Path(__file__).parents[2]


def test_ci_runs_the_readme_s_own_test_command():
    """What a newcomer is told to type is what is tested."""
    lines = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    command = next(line for line in lines if line.endswith("-m pytest"))
    assert command in (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()


def test_every_shipped_case_is_in_the_readme():
    """The table of cases is complete."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    missing = [case.name for case in (ROOT / "cases").glob("*.toml") if case.name not in readme]
    assert not missing


def test_every_family_of_checks_is_in_the_readme():
    """Whoever types ``sinkbowl verify --only`` finds the names there."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    told = next(line for line in readme.splitlines() if line.startswith("sinkbowl verify"))
    assert not [family for family in LADDER if family not in told]
