"""A run of samples that is killed continues where it was and answers as one that was not."""

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from evenground.errors import CancelledError
from evenground.search import Doubts, Range, Store, sample_doubts

SOURCE = Path(__file__).resolve().parents[2] / "src"
DEEPER = Doubts(soil=False, depth_m=Range(-0.1, 0.2, "normal"))


def test_what_is_kept_is_not_solved_again(small_study, monkeypatch):
    calls = []

    def stop(text, done):
        if "field 21 " in text:
            raise CancelledError("stopped")

    with Store(":memory:") as store:
        with pytest.raises(CancelledError, match="stopped"):
            sample_doubts(small_study, DEEPER, samples=50, store=store, progress=stop)
        assert len(store) == 21
        continued = sample_doubts(
            small_study, DEEPER, samples=50, store=store, progress=lambda text, done: calls.append(text)
        )
        assert len([c for c in calls if "field" in c]) == 29
        assert len(store) == 50
        assert continued == sample_doubts(small_study, DEEPER, samples=50)


def run(file, store):
    """The command as a process of its own, that can be killed."""
    options = ["--samples", "120", "--fixed-soil", "--depth=-0.1:0.2", "--workers", "1", "--json", "-q"]
    command = ["-m", "evenground", "confidence", str(file), *options, "--store", str(store)]
    paths = {"PYTHONPATH": str(SOURCE), "OPENBLAS_NUM_THREADS": "1", "NUMBA_NUM_THREADS": "1"}
    environment = {**os.environ, **paths}
    return subprocess.Popen([sys.executable, *command], stdout=subprocess.PIPE, env=environment)


def rows(store):
    """Samples that another process has kept so far."""
    try:
        base = sqlite3.connect(f"file:{store}?mode=ro", uri=True)
        try:
            return int(base.execute("select count(*) from results").fetchone()[0])
        finally:
            base.close()
    except sqlite3.OperationalError:
        return 0


@pytest.mark.slow
def test_a_run_that_is_killed_gives_the_same_answer(pad_file, tmp_path):
    store, whole = tmp_path / "killed.sqlite", tmp_path / "whole.sqlite"
    with run(pad_file, store) as process:
        until = time.monotonic() + 120
        while rows(store) < 5 and process.poll() is None and time.monotonic() < until:
            time.sleep(0.005)
        process.send_signal(signal.SIGKILL)
        process.communicate()
    assert process.returncode == -signal.SIGKILL
    before = rows(store)
    assert 5 <= before < 120
    with run(pad_file, store) as process:
        continued = json.loads(process.communicate()[0])
    assert rows(store) == 120
    with run(pad_file, whole) as process:
        assert json.loads(process.communicate()[0]) == continued
