"""Errors for the user: file, key, what was given, what is allowed or to try."""

from pathlib import Path

from sinkbowl.common.shown import for_terminal

LONGEST = 1000  # longest message [characters]


class SinkbowlError(Exception):
    """Base of every error that the package raises on purpose."""

    def __str__(self) -> str:
        """The message without control characters: it may quote files of strangers."""
        words = for_terminal(super().__str__())
        return words if len(words) <= LONGEST else f"{words[:LONGEST]}..."


class CaseError(SinkbowlError):
    """The input is wrong: a case file, a key in it, or a file that it names (exit status 2).

    message : what is wrong, in a sentence
    file : the file, None for a case made from text
    key : dotted key, e.g. ``hole.diameter``, None for the whole file
    given : the value found
    allowed : what is allowed, or what to try
    """

    def __init__(
        self,
        message: str,
        *,
        file: Path | str | None = None,
        key: str | None = None,
        given: object = None,
        allowed: str | None = None,
    ) -> None:
        self.file = str(file) if file is not None else None
        self.key = key
        self.given = given
        self.allowed = allowed
        subject = key or ""
        if key is not None and given is not None:
            subject = f"{key} = {_as_written(given)}"
        parts = [part for part in (subject, message) if part]
        text = " ".join(parts) if subject and not message[:1].isupper() else ": ".join(parts)
        if not text.endswith((".", "?", "!")):
            text += "."
        if self.file is not None:
            text = f"{self.file}: {text}"
        if allowed:
            text += f" {allowed}"
        super().__init__(text)

    def __reduce__(self) -> tuple[object, ...]:
        """Pickle the complete message, which must not be composed again."""
        return CaseError.__new__, (CaseError, str(self)), self.__dict__


class InputRefused(ValueError):
    """A value is refused where its file and key are not known.

    message : what is wrong with it
    allowed : what is allowed, or what to try
    key : last part of its key, if known: ``wall``
    """

    def __init__(self, message: str, allowed: str = "", key: str = "") -> None:
        self.allowed = allowed
        self.key = key
        super().__init__(message)


class RunError(SinkbowlError):
    """The run itself failed; the message says what, where and when (exit status 1)."""


class ResultError(SinkbowlError):
    """A result file cannot be read or written (exit status 2)."""


def _as_written(value: object) -> str:
    """Value as written in a TOML file, shortened if long."""
    if isinstance(value, bool):
        return "true" if value else "false"
    try:
        text = f'"{value}"' if isinstance(value, str) else str(value)
    except ValueError:  # Python writes no integer of more than 4300 digits
        return "an integer of thousands of digits"
    return text if len(text) <= 60 else text[:57] + "..."
