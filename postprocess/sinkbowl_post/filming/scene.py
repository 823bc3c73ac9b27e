"""The scene that suits a script."""

from __future__ import annotations

from typing import Protocol

from sinkbowl_post.filming.picture import Pixels
from sinkbowl_post.filming.row import RowScene
from sinkbowl_post.filming.script import Script
from sinkbowl_post.filming.single import SingleScene


class Scene(Protocol):
    """Draws the frames of a film in any order."""

    def draw(self, instant: int) -> Pixels:
        """Pixels (1080, 1920, 4) of one instant; the array is used again for the next."""
        ...


def scene_of(script: Script) -> Scene:
    """Set up the stage of a film."""
    return SingleScene(script) if len(script.results) == 1 else RowScene(script)
