"""From the response at chosen frequencies to a voltage in time."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.fft import next_fast_len
from scipy.interpolate import CubicSpline

from evenground.lightning._waves import current_at, scales
from evenground.model.lightning import CurrentWave, MeasuredWave

__all__ = ["TimeGrid", "respond", "time_grid"]

Complexes = NDArray[np.complex128]
Floats = NDArray[np.float64]

_STEPS_PER_FRONT = 40
_MOST_STEPS = 2_000_000


class TimeGrid:
    """Equal steps over a window in which the current dies out, and the frequencies to be solved."""

    def __init__(self, wave: CurrentWave, per_decade: int, coarser: int = 1) -> None:
        front, end = scales(wave)
        measured = isinstance(wave, MeasuredWave)
        window = 2.0 * end if measured else end  # a record is followed by as long a tail, then cut
        step = front / _STEPS_PER_FRONT * coarser
        count = next_fast_len(max(256, math.ceil(window / step)), real=True)
        if count > _MOST_STEPS:
            raise ValueError(
                f"the wave asks for {count} time steps: its front of {front:.3g} s is too short for "
                f"its length of {window:.3g} s"
            )
        self.step_s = window / count
        self.times_s: Floats = np.arange(count) * self.step_s
        self.current_a = current_at(wave, self.times_s)
        if measured:
            after = self.times_s > end
            last = float(current_at(wave, np.array([end]))[0])
            fade = 0.5 * (1.0 + np.cos(np.pi * (self.times_s[after] - end) / end))
            self.current_a[after] = last * np.minimum(fade, 1.0)
        self.shown = self.times_s <= end
        top = 2.0 / front
        low = min(100.0, 1.0 / window)
        decades = math.log10(top / low)
        self.frequencies_hz: Floats = np.geomspace(low, top, math.ceil(decades * per_decade) + 1)


def time_grid(wave: CurrentWave, per_decade: int = 8, coarser: int = 1) -> TimeGrid:
    """Time steps and frequencies for a wave; ``coarser`` stretches the steps."""
    return TimeGrid(wave, per_decade, coarser)


def respond(grid: TimeGrid, response: Complexes, static: Floats | float) -> Floats:
    """Voltage in time for responses (per ampere) given at the grid's frequencies and at zero.

    ``response`` has shape (frequencies,) or (frequencies, m), ``static`` is a number or has shape (m,); the
    answer has the time in place of the frequencies. The response is a cubic in the logarithm of frequency
    between the solved ones, linear from zero to the first, and fades out above the last, where the wave has
    next to no content.
    """
    spectrum = np.fft.rfft(grid.current_a)
    at = np.fft.rfftfreq(len(grid.times_s), grid.step_s)
    known, at_zero = grid.frequencies_hz, np.asarray(static)
    tail = (1,) * (response.ndim - 1)
    first, last = np.searchsorted(at, known[0]), np.searchsorted(at, known[-1], side="right")
    values = np.empty((len(at), *response.shape[1:]), dtype=np.complex128)
    curve = CubicSpline(np.log(known), response)
    values[first:last] = curve(np.log(at[first:last]))
    share = (at[:first] / known[0]).reshape(-1, *tail)
    values[:first] = at_zero + (response[0] - at_zero) * share
    values[last:] = response[-1] * ((known[-1] / at[last:]) ** 2).reshape(-1, *tail)
    voltage: Floats = np.fft.irfft(spectrum.reshape(-1, *tail) * values, n=len(grid.times_s), axis=0)
    return voltage
