"""Whoever asks which version this is gets one line, that of the installed package."""

from importlib.metadata import version

from console import call


def test_the_version_is_that_of_the_package(capsys):
    assert call("--version") == 0
    assert capsys.readouterr().out == f"sinkbowl {version('sinkbowl')}\n"
