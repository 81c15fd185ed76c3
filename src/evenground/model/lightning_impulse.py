"""Soil and metal over frequency, current shapes, and the answer of an electrode; z is depth."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from evenground.model._numbers import above_zero
from evenground.model.electrode import Electrode, Point3

__all__ = [
    "CurrentWave",
    "EffectiveSize",
    "FrequencySoil",
    "HeidlerTerm",
    "HeidlerWave",
    "ImpulseRequest",
    "ImpulseResult",
    "MeasuredWave",
    "OscillationWave",
    "PublishedSize",
    "WireMetal",
]

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]


@dataclass(frozen=True, slots=True)
class FrequencySoil:
    """Uniform soil over frequency.

    Attributes
    ----------
    resistivity_ohm_m : float
        At low frequency. [ohm m]
    relative_permittivity : float
        Used without dispersion.
    dispersion : str
        ``"none"``, ``"cigre 781"``, ``"alipio-visacro mean"``, ``"alipio-visacro relatively conservative"``
        or ``"alipio-visacro conservative"``.
    """

    resistivity_ohm_m: float
    relative_permittivity: float = 10.0
    dispersion: str = "cigre 781"

    def __post_init__(self) -> None:
        above_zero(resistivity_ohm_m=self.resistivity_ohm_m, relative_permittivity=self.relative_permittivity)


@dataclass(frozen=True, slots=True)
class WireMetal:
    """Metal of the conductors; copper by default. [ohm m, -]"""

    resistivity_ohm_m: float = 1.78e-8
    relative_permeability: float = 1.0

    def __post_init__(self) -> None:
        above_zero(resistivity_ohm_m=self.resistivity_ohm_m, relative_permeability=self.relative_permeability)


@dataclass(frozen=True, slots=True)
class HeidlerTerm:
    """One term I0/eta x^n/(1 + x^n) exp(-t/t2), x = t/t1. [A, s, s, -]"""

    amplitude_a: float
    front_time_constant_s: float
    tail_time_constant_s: float
    steepness: float = 2.0

    def __post_init__(self) -> None:
        above_zero(
            amplitude_a=self.amplitude_a,
            front_time_constant_s=self.front_time_constant_s,
            tail_time_constant_s=self.tail_time_constant_s,
            steepness=self.steepness,
        )


@dataclass(frozen=True, slots=True)
class HeidlerWave:
    """A stroke as a sum of Heidler terms."""

    name: str
    terms: tuple[HeidlerTerm, ...]
    source: str = ""
    evidence: str = ""


@dataclass(frozen=True, slots=True)
class MeasuredWave:
    """A current as recorded: times from 0, rising, and values. [s, A]"""

    name: str
    times_s: tuple[float, ...]
    currents_a: tuple[float, ...]
    source: str = ""

    def __post_init__(self) -> None:
        if len(self.times_s) != len(self.currents_a) or len(self.times_s) < 3:
            raise ValueError(f"wave {self.name}: needs at least three times, each with a current")
        if any(b <= a for a, b in zip(self.times_s, self.times_s[1:], strict=False)):
            raise ValueError(f"wave {self.name}: times must rise")
        if self.times_s[0] < 0 or not all(isfinite(v) for v in (*self.times_s, *self.currents_a)):
            raise ValueError(f"wave {self.name}: times from 0 and finite currents are needed")


@dataclass(frozen=True, slots=True)
class OscillationWave:
    """A switching transient: a sine that dies out, i = I exp(-t/t_d) sin(2 pi f t). [A, Hz, s]"""

    name: str
    amplitude_a: float
    frequency_hz: float
    decay_s: float
    source: str = ""

    def __post_init__(self) -> None:
        above_zero(amplitude_a=self.amplitude_a, frequency_hz=self.frequency_hz, decay_s=self.decay_s)


CurrentWave = HeidlerWave | MeasuredWave | OscillationWave


@dataclass(frozen=True, slots=True)
class ImpulseRequest:
    """A current shape driven into an electrode at one place.

    Attributes
    ----------
    electrode : Electrode
    injection_m : (x, y, depth)
        Must lie within ``snap_m`` of the metal. [m]
    soil : FrequencySoil
    wave : CurrentWave
    metal : WireMetal
    watch_m : tuple of (name, (x, y, depth))
        Other places: on the metal (within ``snap_m``) its potential, elsewhere that of the soil. [m]
    segment_m : float or None
        Longest segment; None: from the front of the wave. [m]
    ionisation_v_per_m : float or None
        Critical gradient of the soil; None: no ionisation, which is the careful choice. [V/m]
    per_decade : int
        Solved frequencies per decade.
    propagation : bool
        False for power-frequency and slow switching transients, see the documentation.
    snap_m : float
        [m]
    """

    electrode: Electrode
    injection_m: Point3
    soil: FrequencySoil
    wave: CurrentWave
    metal: WireMetal = WireMetal()
    watch_m: tuple[tuple[str, Point3], ...] = ()
    segment_m: float | None = None
    ionisation_v_per_m: float | None = None
    per_decade: int = 8
    propagation: bool = True
    snap_m: float = 0.05


@dataclass(frozen=True, slots=True)
class PublishedSize:
    """Effective length or size of a published formula, with the ranges that these inputs break."""

    name: str
    value: float
    unit: str
    source: str
    outside: tuple[str, ...] = ()
    evidence: str = ""


@dataclass(frozen=True, slots=True)
class EffectiveSize:
    """How an impulse impedance stops falling as an electrode grows.

    ``effective_m`` is the size whose low-frequency resistance equals the impedance of the largest electrode;
    None, with ``reason``, when the impedance had not stopped falling (``saturated`` False). [m, ohm]
    """

    sizes_m: tuple[float, ...]
    resistances_ohm: tuple[float, ...]
    impedances_ohm: tuple[float, ...]
    saturated: bool
    effective_m: float | None
    reason: str = ""


@dataclass(frozen=True, eq=False)
class ImpulseResult:
    """Answer of the electrode in time.

    Attributes
    ----------
    resistance_ohm : float
        At low frequency, all metal at one potential. [ohm]
    impulse_impedance_ohm : float
        Peak voltage over peak current, which need not come at the same time. [ohm]
    impulse_coefficient : float
        Impulse impedance over resistance.
    peak_current_a, peak_voltage_v : float
        [A, V]
    front_time_us, peak_time_us : float
        1.25 times the time from 10 to 90 % of the peak current; time from the start to the peak. [us]
    times_s, current_a, voltage_v : arrays of equal length
        At the place of injection. [s, A, V]
    watch_v : mapping
        Name -> voltage in time. [V]
    watch_peak_v, watch_difference_v : mappings
        Name -> largest potential, and largest difference to the place of injection. [V]
    frequencies_hz, impedance_ohm : arrays
        Solved frequencies and the impedance there. [Hz, ohm]
    peak_leakage_a_per_m : array
        Largest leakage of every segment. [A/m]
    peak_gradient_v_per_m : float
        Largest field at the surface of the metal, before ionisation. [V/m]
    ionised_radius_m : array or None
        Radius of every segment with ionisation. [m]
    charge_c, action_a2s : float
        Integral of the current and of its square over the window computed. [C, A2 s]
    segments : int
    published : tuple of PublishedSize
    notes : tuple of str
        What limits the result.
    """

    resistance_ohm: float
    impulse_impedance_ohm: float
    impulse_coefficient: float
    peak_current_a: float
    peak_voltage_v: float
    front_time_us: float
    peak_time_us: float
    times_s: Floats
    current_a: Floats
    voltage_v: Floats
    watch_v: dict[str, Floats]
    watch_peak_v: dict[str, float]
    watch_difference_v: dict[str, float]
    frequencies_hz: Floats
    impedance_ohm: Complexes
    peak_leakage_a_per_m: Floats
    peak_gradient_v_per_m: float
    ionised_radius_m: Floats | None
    charge_c: float
    action_a2s: float
    segments: int
    published: tuple[PublishedSize, ...] = ()
    notes: tuple[str, ...] = ()
