"""Fields of samples in a store, so that a run that was killed continues where it was."""

from __future__ import annotations

from hashlib import sha256

from evenground._version import __version__
from evenground.model.project import Project
from evenground.model.soil import LayeredSoil
from evenground.search._slim import SlimCase, SlimJob, SlimResult
from evenground.search._store import Store

__all__ = ["KeptFields"]


class KeptFields:
    """Results of samples by what they depend on: version, project with its readings, soil, places, sample."""

    def __init__(self, store: Store, project: Project, soil: LayeredSoil, case: SlimCase) -> None:
        self._store = store
        self._site = project.identity.title
        places = (case.touch_m, case.touch_zone, case.feet_m, case.step_zone)
        shared = (__version__, repr(project), repr(soil), case.segment_m, *(a.tobytes() for a in places))
        self._base = sha256(repr(shared).encode()).hexdigest()

    def get(self, job: SlimJob) -> SlimResult | None:
        """What is known of a sample."""
        known = self._store.get(self._key(job))
        if known is None:
            return None
        unit = {(quantity, zone): value for quantity, zone, value in known["unit"]}
        return SlimResult(known["resistance_ohm"], unit)

    def put(self, job: SlimJob, result: SlimResult) -> None:
        """Keep a sample; on the disk at once."""
        unit = [[quantity, zone, value] for (quantity, zone), value in result.unit.items()]
        row = {"verdict": "solved", "resistance_ohm": result.resistance_ohm, "unit": unit}
        self._store.put(self._key(job), self._site, "field of a sample", row)

    def _key(self, job: SlimJob) -> str:
        return sha256(repr((self._base, job)).encode()).hexdigest()
