"""Texts of a figure that cover each other, by the boxes that they are drawn in."""

from itertools import combinations
from unittest.mock import patch

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

TOUCH = 2.0  # points that boxes may share: they are wider than the letters


def overlapping(figure: Figure) -> list[tuple[str, str]]:
    """Pairs of the texts that are drawn that share more than the edge of their boxes."""
    drawn: list[Text] = []
    draw = Text.draw

    def note(text: Text, *given: object, **more: object) -> None:
        if text.get_visible() and text.get_text().strip():
            drawn.append(text)
        draw(text, *given, **more)

    canvas = FigureCanvasAgg(figure)
    with patch.object(Text, "draw", note):
        canvas.draw()
    boxes = {id(t): (t.get_text(), t.get_window_extent()) for t in drawn}
    touch = TOUCH * figure.dpi / 72.0
    return [
        (a, b)
        for (a, one), (b, other) in combinations(boxes.values(), 2)
        if min(one.x1, other.x1) - max(one.x0, other.x0) > touch
        and min(one.y1, other.y1) - max(one.y0, other.y0) > touch
    ]
