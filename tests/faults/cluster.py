"""A cluster of dask on this machine, whose parts can be killed and replaced."""

import json
import subprocess
import sys
import time
from pathlib import Path
from typing import Self


class Cluster:
    """A scheduler and two workers of one thread each; what is left of them ends on leaving."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._count = folder, 0
        folder.mkdir()
        self._started: list[subprocess.Popen[bytes]] = []
        self.begin()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for process in self._started:
            self._kill(process)

    def begin(self) -> None:
        """A new scheduler with new workers in place of the old ones."""
        self.__exit__()
        self._count += 1
        self._note = self._folder / f"scheduler{self._count}.json"
        options = ("--host", "127.0.0.1", "--port", "0", "--no-dashboard")
        self.scheduler = self._launch("scheduler", *options)
        while not (self._note.exists() and self._note.read_text()):
            time.sleep(0.05)
        self.address = json.loads(self._note.read_text())["address"]
        self.workers = [self._worker(), self._worker()]

    def replace_worker(self, which: int) -> None:
        """Kill one of the two and put another in its place."""
        self._kill(self.workers[which])
        self.workers[which] = self._worker()

    def _worker(self) -> subprocess.Popen[bytes]:
        space = str(self._folder / "space")
        options = ("--nthreads", "1", "--no-nanny", "--no-dashboard", "--local-directory", space)
        return self._launch("worker", *options)

    def _launch(self, kind: str, *options: str) -> subprocess.Popen[bytes]:
        module = ("-m", f"distributed.cli.dask_{kind}", "--scheduler-file", str(self._note))
        with (self._folder / f"{kind}.log").open("ab") as log:
            command = [sys.executable, *module, *options]
            self._started.append(
                subprocess.Popen(command, stdout=log, stderr=log, cwd=self._folder)
            )
        return self._started[-1]

    def _kill(self, process: subprocess.Popen[bytes]) -> None:
        process.kill()
        process.wait()
