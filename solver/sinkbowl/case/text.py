"""Case text with another hole: what a sweep stores has to say what was computed."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from sinkbowl.errors import InputRefused

DIAMETER = re.compile(r"""(\bdiameter["']?\s*=\s*)("[^"\n]*"|'[^'\n]*')""")


def text_with_hole(text: str, diameter: str) -> str:
    """The TOML text of a case with hole.diameter set to another quantity, all else untouched.

    Raises
    ------
    InputRefused : if the key is written in a way that cannot be replaced in place
    """
    wanted = tomllib.loads(text)
    wanted["hole"]["diameter"] = diameter
    for match in DIAMETER.finditer(text):
        changed = f'{text[: match.start()]}{match[1]}"{diameter}"{text[match.end() :]}'
        if _means(changed, wanted):
            return changed
    raise InputRefused(
        "cannot be set in this file",
        'Write the hole as diameter = "20 mm", on one line.',
        "diameter",
    )


def _means(text: str, wanted: dict[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == wanted
    except tomllib.TOMLDecodeError:
        return False
