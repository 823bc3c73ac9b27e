"""Special functions written out so that a check imports no scipy, against scipy.special."""

import subprocess
import sys

import numpy as np
import pytest
from scipy.special import elliprd, iv, kve

from sinkbowl.case.starter import shipped_case
from sinkbowl.statics.added_mass import half_spheroid_share
from sinkbowl.statics.meniscus import _bessel_i, _ratio_k


def test_bessel_functions_of_the_menisci():
    for r in np.geomspace(1e-5, 40.0, 100).tolist():
        for order in (0, 1):
            assert _bessel_i(order, r) == pytest.approx(iv(order, r), rel=1e-13)
    for r in np.geomspace(11.0, 2000.0, 100).tolist():
        assert _ratio_k(r) == pytest.approx(kve(1, r) / kve(0, r), rel=1e-13)


def test_share_of_a_half_spheroid_is_that_of_carlsons_integral():
    """Lamb art. 114 with R_D from scipy; across the sphere, where the closed form is 0 / 0.

    For a flat spheroid 2 - gamma is about pi c, so round-off counts 1 / c times.
    """
    near = 1.0 + np.linspace(-0.1, 0.1, 41)
    for c in (*np.geomspace(1e-5, 20.0, 200).tolist(), *near.tolist(), 1.0):
        gamma = 2.0 / 3.0 * c * elliprd(1.0, 1.0, c**2)
        assert half_spheroid_share(c) == pytest.approx(
            0.5 * np.pi * c * gamma / (2.0 - gamma), rel=1e-14 + 1e-15 / min(c, 1.0) + 1e-13
        )


@pytest.mark.parametrize(
    "command", [("check",), ("check", "--json"), ("size", "--time", "9 s"), ("new",)]
)
def test_answers_on_the_bench_wait_for_no_heavy_import(command, tmp_path_factory):
    """Numba solves the reduced models, and brings scipy along; whoever asks for none needs none."""
    name, *options = command
    place = str(shipped_case("steel-cup")) if name != "new" else "new.toml"
    script = f"""
import sys
from sinkbowl_post.cli import main
try:
    main({[name, place, *options]!r})
except SystemExit as end:
    assert not end.code
heavy = {{"pint", "h5py", "matplotlib", "rich", "jinja2"}}
heavy |= set() if {name!r} in ("check", "size") else {{"scipy", "numba"}}
print("heavy:", sorted(heavy & set(sys.modules)))
"""
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=tmp_path_factory.mktemp("new"),
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.endswith("heavy: []\n")
