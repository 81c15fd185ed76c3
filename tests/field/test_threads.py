"""Several threads at once, and what is kept between calls."""

import gc
import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from layouts import square_mat

from evenground.field import solve
from evenground.field._tables import _KEPT
from evenground.model.soil import LayeredSoil

SOILS = [
    LayeredSoil((100.0,)),
    LayeredSoil((300.0, 60.0), (1.2,)),
    LayeredSoil((60.0, 900.0, 40.0), (0.9, 3.0)),
]
POINTS = np.array([(x, y, 0.0) for x in np.linspace(-3, 23, 9) for y in np.linspace(-3, 23, 9)])

JOB = """
import json, sys
from concurrent.futures import ThreadPoolExecutor
from test_threads import job
with ThreadPoolExecutor(4) as pool:
    print(json.dumps(list(pool.map(job, range(24)))))
"""


def job(number):
    """Solve one of the soils and look at its potential twice, so that kept arrays are used."""
    found = solve(square_mat(20, 4), SOILS[number % 3], method="compressed" if number % 2 else "dense")
    first, again = found.potential_v(POINTS), found.potential_v(POINTS[::-1])[::-1]
    assert np.allclose(first, again, rtol=1e-12, atol=0)
    return [found.resistance_ohm, *first.tolist()]


@pytest.mark.parametrize("layer", ["default", "workqueue"])
def test_threads_with_different_soils_get_their_own_answers(layer):
    """Also with Numba's own thread pool, which ends the process when two threads enter it together."""
    here = Path(__file__).parent
    path = os.pathsep.join([str(here), *sys.path])
    environment = {**os.environ, "NUMBA_THREADING_LAYER": layer, "PYTHONPATH": path}
    done = subprocess.run([sys.executable, "-c", JOB], env=environment, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    for number in range(6):
        alone = job(number)
        for values in found[number::6]:
            assert values == pytest.approx(alone, rel=1e-9)


def test_arrays_are_kept_once_for_each_living_solution_only():
    gc.collect()
    before = len(_KEPT)
    found = [solve(square_mat(20, 4), soil) for soil in SOILS]
    for solution in found:
        for count in (40, 81):
            solution.potential_v(np.tile(POINTS, (20, 1))[: 20 * count])
    assert before < len(_KEPT) <= before + len(SOILS)
    del found, solution
    gc.collect()
    assert len(_KEPT) == before
