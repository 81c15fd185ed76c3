"""Current shapes in time, and how finely and how long they must be followed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenground.model.lightning import (
    CurrentWave,
    HeidlerTerm,
    HeidlerWave,
    MeasuredWave,
    OscillationWave,
)
from evenground.standards.impulse import heidler_eta

__all__ = ["FIRST_STROKE", "SUBSEQUENT_STROKE", "current_at", "front_time_us", "iec_first_stroke", "scales"]

Floats = NDArray[np.float64]
_RACHIDI = "Rachidi et al., IEEE Trans. EMC 43 (2001); used by Grcev (2009)"
_CHECKED = "from memory, cross-checked"

FIRST_STROKE = HeidlerWave(
    "first stroke, 30 kA", (HeidlerTerm(28e3, 1.8e-6, 95e-6),), source=_RACHIDI, evidence=_CHECKED
)
SUBSEQUENT_STROKE = HeidlerWave(
    "subsequent stroke, 12 kA",
    (HeidlerTerm(10.7e3, 0.25e-6, 2.5e-6), HeidlerTerm(6.5e3, 2.0e-6, 230e-6)),
    source=_RACHIDI,
    evidence=_CHECKED,
)


def iec_first_stroke(peak_a: float) -> HeidlerWave:
    """The positive first stroke 10/350 us of IEC 62305-1, Annex B, of a given peak. [A]"""
    return HeidlerWave(
        "first stroke 10/350 us",
        (HeidlerTerm(peak_a, 19e-6, 485e-6, 10.0),),
        source="IEC 62305-1:2010, Annex B, Table B.1",
        evidence=_CHECKED,
    )


def current_at(wave: CurrentWave, times_s: Floats) -> Floats:
    """Current at times from the start; 0 before it and after the end of a record. [A]"""
    t = np.asarray(times_s, dtype=np.float64)
    if isinstance(wave, HeidlerWave):
        total = np.zeros_like(t)
        for term in wave.terms:
            x = (np.maximum(t, 0.0) / term.front_time_constant_s) ** term.steepness
            eta = heidler_eta(term.front_time_constant_s, term.tail_time_constant_s, term.steepness)
            total += (
                term.amplitude_a
                / eta
                * x
                / (1.0 + x)
                * np.exp(-np.maximum(t, 0.0) / term.tail_time_constant_s)
            )
        return total
    if isinstance(wave, OscillationWave):
        decay = np.exp(-np.maximum(t, 0.0) / wave.decay_s)
        swing: Floats = (
            wave.amplitude_a * decay * np.sin(2.0 * np.pi * wave.frequency_hz * np.maximum(t, 0.0))
        )
        return swing
    record: Floats = np.interp(t, wave.times_s, wave.currents_a, left=0.0, right=0.0)
    return record


def scales(wave: CurrentWave) -> tuple[float, float]:
    """Shortest time to be resolved and time after which nothing more happens. [s]"""
    if isinstance(wave, HeidlerWave):
        front = min(t.front_time_constant_s for t in wave.terms)
        return front, 12.0 * max(t.tail_time_constant_s for t in wave.terms)
    if isinstance(wave, OscillationWave):
        return 0.15 / wave.frequency_hz, 12.0 * wave.decay_s
    return _measured_front(wave), wave.times_s[-1]


def _measured_front(wave: MeasuredWave) -> float:
    """Time constant of the steepest part: peak over the largest slope."""
    t, i = np.asarray(wave.times_s), np.asarray(wave.currents_a)
    slope = float(np.max(np.abs(np.diff(i) / np.diff(t))))
    if slope == 0.0:
        raise ValueError(f"wave {wave.name}: the current does not change")
    return float(np.ptp(i)) / slope


def front_time_us(times_s: Floats, current_a: Floats) -> float:
    """1.25 times the time from 10 to 90 % of the peak. [us]"""
    size = np.abs(current_a)
    top = int(np.argmax(size))
    rise, at = size[: top + 1] / size[top], times_s[: top + 1]
    first = int(np.argmax(rise >= 0.1))
    last = int(np.argmax(rise >= 0.9))

    def crossing(index: int, level: float) -> float:
        if index == 0:
            return float(at[0])
        share = (level - rise[index - 1]) / (rise[index] - rise[index - 1])
        return float(at[index - 1] + share * (at[index] - at[index - 1]))

    return 1.25e6 * (crossing(last, 0.9) - crossing(first, 0.1))
