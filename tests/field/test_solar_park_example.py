"""The small form of the solar park runs, and what it prints hangs together."""

import importlib.util
import re
import sys
from pathlib import Path

import numpy as np
import pytest

SCRIPT = Path(__file__).resolve().parents[2] / "examples" / "solar_park.py"


@pytest.mark.slow
def test_the_small_park(tmp_path, capsys):
    spec = importlib.util.spec_from_file_location("solar_park", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    sys.modules["solar_park"] = module
    try:
        spec.loader.exec_module(module)
        solution = module.main(["--small", "--out", str(tmp_path)])
    finally:
        del sys.modules["solar_park"]
    printed = capsys.readouterr().out
    assert "A licensed engineer must check every result" in printed
    assert "no limit was applied" in printed
    assert {p.name for p in tmp_path.iterdir()} == {"metal-potential.png", "touch-along-a-row.png"}
    z = solution.impedance_ohm
    bonded = float(re.search(r"one potential +([\d.]+) ohm", printed)[1])
    # impedance along the metal adds to the earth resistance of the same metal at one potential
    assert bonded < z.real < 1.1 * bonded
    assert z.imag > 0.0
    assert solution.leaked_a.sum() == pytest.approx(5000.0, rel=1e-5)
    assert solution.earth_power_w + solution.metal_power_w == pytest.approx(5000.0**2 * z.real, rel=1e-5)
    v = np.abs(solution.node_potential_v)
    assert v.max() == pytest.approx(5000.0 * abs(z), rel=1e-6)
    assert solution.report.segments > 3000
    assert solution.report.residual < 1e-6
