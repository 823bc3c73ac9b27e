"""Quantities on the command line, read like those of a case file."""

from __future__ import annotations

from sinkbowl.common.units import Kind, number_of

HEIGHT_WISHED = Kind("a metacentric height", "m", "-1 m", "1 m", "1 mm")
RING_STEP = Kind("a mass", "kg", "0.1 g", "10 kg", "10 g")
DIFFERENCE = Kind("a time", "s", "0.1 ms", "1000 hour", "50 ms")

read_option = number_of
