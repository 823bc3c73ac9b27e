# %% [markdown]
# A tea timer from a stainless cup.
#
# The workshop has a cup and three drills. Which hole gives half a second, and what does the water
# do meanwhile? Open this file as a notebook of cells, or run it whole; everything goes to the
# folder tea-timer. In a notebook a last line `case` shows a table where `print(case)` shows text.

# %%
from pathlib import Path

from sinkbowl import check, load_case, read_result, run
from sinkbowl.case.starter import shipped_case
from sinkbowl_post import compare, comparison_figure, export, film, save_figure

folder = Path("tea-timer")
folder.mkdir(exist_ok=True)

# %% [markdown]
# The shipped cup with a 40 mm hole, on a coarse grid that takes seconds. Leave the cell out for
# numbers that count.

# %%
text = shipped_case("steel-cup-wide-hole").read_text(encoding="utf-8")
(folder / "cup.toml").write_text(f'{text}\n[flow]\ncell = "4 mm"\n', encoding="utf-8")
case = load_case(folder / "cup.toml")
print(case)

# %% Before the water
print(check(case))

# %% Three drills
times = {}
for diameter in (0.036, 0.040, 0.044):
    file = folder / f"cup-{diameter * 1e3:.0f}.h5"
    run(case.with_hole(diameter), file, overwrite=True)
    times[diameter] = read_result(file).sinking_time
nearest = min(times, key=lambda diameter: abs(times[diameter] - 0.5))
print({f"{diameter * 1e3:.0f} mm": f"{time:.3f} s" for diameter, time in times.items()})

# %% The one that comes nearest to half a second
result = read_result(folder / f"cup-{nearest * 1e3:.0f}.h5")
print(result)
print(result.history)
fastest = result.history["speed"].max()
print(f"fastest: {fastest:.3g} {result.history.units['speed']}")

# %% Beside the simple theories
comparison = compare(result)
print(comparison)
save_figure(comparison_figure(comparison, case.bowl.rim_height), folder / "comparison.png")

# %% For the eye, and for a viewer of VTK files
film(result, folder / "cup.gif")
print(export(result, folder / "jet.vtu", times=["0.2 s"], sectors=36))
