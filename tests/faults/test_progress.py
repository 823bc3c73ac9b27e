"""What a run shows of its progress: on a real terminal, on a narrow one, in a pipe, in a build."""

import fcntl
import json
import os
import pty
import re
import struct
import subprocess
import termios
from pathlib import Path

import pytest

from console import started
from faults.killed_runs import CUP

PARTS = re.compile(r"\x1b\[([?0-9;]*)([A-Za-z])|(\r)|(\n)|([^\x1b\r\n])")
"""What a terminal is sent: control sequences (ECMA-48), ends of lines, letters."""


class Screen:
    """A terminal that keeps to a width and knows the few sequences that a line in place needs."""

    def __init__(self, width: int) -> None:
        self.width, self.row, self.column = width, 0, 0
        self.lines: list[list[str]] = [[]]
        self.shown: list[str] = []
        self.wrapped = False
        self.hidden = False

    def take(self, sent: str) -> None:
        """Show what is sent; every line is noted as it stands when it is left or cleared."""
        for sequence in PARTS.finditer(sent):
            number, letter, start, end, _ = sequence.groups()
            if letter:
                self._control(number, letter)
            elif start:
                self.column = 0
            elif end:
                self._note()
                self.row, self.column = self.row + 1, 0
                self.lines += [[] for _ in range(self.row + 1 - len(self.lines))]
            else:
                self._write(sequence.group())

    def _write(self, letter: str) -> None:
        self.wrapped |= self.column >= self.width
        line = self.lines[self.row]
        line += [" "] * (self.column + 1 - len(line))
        line[self.column] = letter
        self.column += 1

    def _control(self, number: str, letter: str) -> None:
        if letter == "K":
            assert number == "2"
            self._note()
            self.lines[self.row] = []
        elif letter == "A":
            self.row -= int(number or 1)
        elif number == "?25":
            self.hidden = letter == "l"
        else:
            assert letter == "m", f"unknown sequence {number}{letter}"

    def _note(self) -> None:
        text = "".join(self.lines[self.row]).rstrip()
        if text and self.shown[-1:] != [text]:
            self.shown.append(text)


def command(folder: Path, *more: str) -> list[str]:
    (folder / "cup.toml").write_text(CUP)
    return started("run", folder / "cup.toml", "-o", folder / "cup.h5", *more)


def plain_environment(**more: str) -> dict[str, str]:
    """Without what this test session itself may be told about its terminal."""
    told = ("CI", "COLUMNS", "LINES", "FORCE_COLOR", "NO_COLOR", "TTY_COMPATIBLE", "TERM")
    kept = {name: value for name, value in os.environ.items() if name not in told}
    return {**kept, "TERM": "xterm-256color", "PYTHONUTF8": "1", **more}


def on_terminal(folder: Path, width: int, **environment: str) -> tuple[Screen, str, float]:
    """What a terminal was shown by a run, what it was sent, and the run's sinking time [s]."""
    outer, inner = pty.openpty()
    fcntl.ioctl(inner, termios.TIOCSWINSZ, struct.pack("HHHH", 24, width, 0, 0))
    run = subprocess.Popen(
        command(folder, "--json"),
        stdout=subprocess.PIPE,
        stderr=inner,
        env=plain_environment(**environment),
    )
    os.close(inner)
    sent = b""
    try:
        while piece := os.read(outer, 4096):
            sent += piece
    except OSError:  # how Linux tells that the other side is closed
        pass
    os.close(outer)
    told = json.loads(run.communicate()[0])
    assert run.returncode == 0
    screen = Screen(width)
    screen.take(sent.decode())
    return screen, sent.decode(), told["sinking_time_s"]


@pytest.mark.slow
@pytest.mark.parametrize("width", [40, 100])
def test_a_terminal_is_shown_one_line_in_place_and_left_clean(tmp_path, width):
    screen, _, sinking_time = on_terminal(tmp_path, width)
    assert not screen.wrapped
    assert len(screen.lines) == 2, "the second line is where the cursor goes before the end"
    assert not any("".join(line).strip() for line in screen.lines)
    assert not screen.hidden
    assert screen.row == screen.column == 0
    shares = [int(re.findall(r"(\d+) %", line)[0]) for line in screen.shown]
    assert len(shares) > 3
    assert shares == sorted(shares)
    for line in screen.shown:
        assert re.match(r"(starting|t = \d\.\d{3} s, draft \d+\.\d mm) .*\d %", line), line
    last = re.match(r"t = ([\d.]+) s, draft [\d.]+ mm .*100 %$", screen.shown[-1])
    assert last, screen.shown[-1]
    assert float(last[1]) > sinking_time


@pytest.mark.slow
@pytest.mark.parametrize("environment", [{"CI": "true"}, {"TERM": "dumb"}])
def test_a_build_and_a_terminal_without_a_cursor_are_sent_nothing(tmp_path, environment):
    assert on_terminal(tmp_path, 80, **environment)[1] == ""


@pytest.mark.slow
def test_a_pipe_gets_no_control_codes_and_few_lines(tmp_path):
    """Also where colours are asked for: they are none of a bar's."""
    coloured = plain_environment(FORCE_COLOR="1")
    done = subprocess.run(command(tmp_path), capture_output=True, env=coloured, check=True)
    assert done.stderr == b""
    assert done.stdout.count(b"\n") < 20
    assert not re.search(rb"[\x00-\x09\x0b-\x1f\x7f]", done.stdout)
