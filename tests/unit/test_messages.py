"""A changed text shows in a diff: the list of all that reach a person is kept and read."""

from messages import LIST, messages


def test_the_list_of_messages_is_that_of_the_source():
    """`python tests/messages.py` brings it up to date; read what changed."""
    assert LIST.read_text(encoding="utf-8") == messages()


def test_errors_labels_and_help_are_in_the_list():
    """One of each kind that the source has, by hand."""
    kept = messages().split("\n")
    assert "{key} was {} and is {}" in kept
    assert "time until the rim is under" in kept
    assert "File to write: .png, .pdf, .svg or .csv; may be repeated." in kept
