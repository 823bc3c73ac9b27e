"""Whether a folder holds the same sweep, and what is different where it does not."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator

from sinkbowl.common.errors import CaseError
from sinkbowl.sweeps.index import Sweep
from sinkbowl.sweeps.plan import SweepPlan


def check_same(before: Sweep, plan: SweepPlan) -> None:
    """CaseError where a folder holds another plan, with the difference."""
    differences = [
        f"{key} was {_shown(old)} and is {_shown(new)}"
        for key, old, new in _changed(before.case_text, plan.case.text)
        if key not in before.keys
    ]
    keys = tuple(key.name for key in plan.keys)
    if keys != before.keys:
        differences.append(f"it varied {', '.join(before.keys)} and now varies {', '.join(keys)}")
    else:
        old = [", ".join(run.written) for run in before.runs]
        new = [", ".join(str(value.written) for value in run.values) for run in plan.runs]
        gone = [row for row in old if row not in new]
        come = [row for row in new if row not in old]
        differences += [f"values gone: {'; '.join(gone)}"] if gone else []
        differences += [f"values new: {'; '.join(come)}"] if come else []
        if not gone and not come and old != new:
            differences.append("the runs are in another order")
    if differences:
        raise CaseError(
            f"Contains a sweep with another plan: {'. '.join(differences)}",
            file=before.folder,
            allowed="Give another folder.",
        )


def _changed(before: str, now: str) -> Iterator[tuple[str, object, object]]:
    """Keys that differ between two case texts, with both values; remarks do not count."""
    flat = []
    for text in (before, now):
        tables = tomllib.loads(text)
        flat.append({k: v for k, v in tables.items() if not isinstance(v, dict)})
        for name, table in tables.items():
            if isinstance(table, dict):
                flat[-1].update({f"{name}.{key}": value for key, value in table.items()})
    for key in sorted({*flat[0], *flat[1]}):
        if flat[0].get(key) != flat[1].get(key):
            yield key, flat[0].get(key), flat[1].get(key)


def _shown(value: object) -> str:
    return "not given" if value is None else f'"{value}"'
