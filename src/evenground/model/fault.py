"""Earth faults: what the network can drive into the earthing system, and for how long."""

from __future__ import annotations

from dataclasses import dataclass, replace

__all__ = ["FaultResult", "FaultScenario", "SequenceImpedances", "fault_cases"]


@dataclass(frozen=True, slots=True)
class SequenceImpedances:
    """Sequence impedances seen from the fault, referred to the fault's voltage. [ohm]"""

    z1_ohm: complex
    z2_ohm: complex
    z0_ohm: complex
    fault_resistance_ohm: float = 0.0


@dataclass(frozen=True, slots=True)
class FaultScenario:
    """One earth fault to be survived.

    Attributes
    ----------
    name : str
    voltage_v : float
        Nominal phase-to-phase voltage of the faulted level. [V]
    kind : str
        ``"single"`` or ``"double"`` line to earth.
    current_a : float or None
        Earth-fault current 3I0, rms symmetrical, when given directly. [A]
    sequence : SequenceImpedances or None
        When the current is to be computed.
    x_over_r : float or None
        At the fault; computed from ``sequence`` when not given.
    shock_time_s : float
        Duration a person may be exposed. [s]
    thermal_time_s : float
        Duration for which metal must carry the current (back-up clearing). [s]
    growth_factor : float
        Allowance for growth of the network, >= 1.
    split_factor : float
        Share of the earth-fault current that leaves through the mat, 0 < Sf <= 1.
    split_source : str
        Where the split factor comes from.
    decrement : bool
        Apply the decrement factor to the shock current.
    decrement_thermal : bool
        Apply it to the current that heats conductors as well.
    reclosings : int
        Unsuccessful reclosures; each shot lasts ``shock_time_s``, the last one heats for
        ``thermal_time_s``.
    split_stated : bool
        The project states ``split_factor``; False: it is the default.
    base : str
        Fault of which this is the back-up case; empty: itself.
    voltage_factor : float
        Voltage factor c on the driving voltage, for currents from sequence impedances.
    faults_per_year : float or None
        How often this fault comes, for the risk; None: as the exposure says. [1/year]
    """

    name: str
    voltage_v: float
    shock_time_s: float
    thermal_time_s: float
    kind: str = "single"
    current_a: float | None = None
    sequence: SequenceImpedances | None = None
    x_over_r: float | None = None
    growth_factor: float = 1.0
    split_factor: float = 1.0
    split_source: str = ""
    decrement: bool = True
    voltage_factor: float = 1.0
    note: str = ""
    path: tuple[str | int, ...] = ()
    decrement_thermal: bool = True
    faults_per_year: float | None = None
    reclosings: int = 0
    split_stated: bool = True
    base: str = ""

    @property
    def exposure_s(self) -> float:
        """Time for which a person is exposed: the sum of all shots. [s]

        IEEE Std 80-2013, clause 8.3 (effect of reclosing): two shocks in quick succession count as one of
        their summed duration; from memory. The pauses are not counted as recovery.
        """
        return (1 + self.reclosings) * self.shock_time_s

    @property
    def heating_s(self) -> float:
        """Time for which metal carries the current: all shots, the last one cleared by back-up. [s]

        No cooling in the pauses is counted.
        """
        return self.reclosings * self.shock_time_s + self.thermal_time_s

    @property
    def fault_name(self) -> str:
        """Name of the project's fault that this scenario belongs to."""
        return self.base or self.name


def fault_cases(scenario: FaultScenario, backup_time_s: float | None) -> tuple[FaultScenario, ...]:
    """The scenario and, when a time is given, the same fault cleared by back-up protection."""
    if backup_time_s is None:
        return (scenario,)
    name = f"{scenario.name}, back-up clearing"
    thermal_s = max(scenario.thermal_time_s, backup_time_s)
    late = replace(scenario, name=name, shock_time_s=backup_time_s, thermal_time_s=thermal_s, reclosings=0)
    return (scenario, replace(late, base=scenario.fault_name))


@dataclass(frozen=True, slots=True)
class FaultResult:
    """What the fault stage hands on for one scenario.

    Attributes
    ----------
    scenario : FaultScenario
    earth_fault_current_a : float
        3I0 with growth, rms symmetrical. [A]
    x_over_r : float or None
        None when it is neither stated nor computable; the decrement factors are then 1 and a warning
        says so.
    decrement_shock, decrement_thermal : float
        Decrement factors for the shock and the thermal duration (1.0 when not applied).
    grid_current_a : float
        Current into the soil through the mat for the shock check: split and decrement applied. [A]
    thermal_current_a : float
        Current a connection must carry, decrement applied, no split. [A]
    soil_rise : float
        Potential rise over mat current times resistance: above 1 where earths near the mat lift it. Never
        below 1: earths that lower the rise lower metal and ground alike, so touch voltages stay.
    warnings : tuple of str
    notes : tuple of str
        What was assumed, short of a warning.
    """

    scenario: FaultScenario
    earth_fault_current_a: float
    x_over_r: float | None
    decrement_shock: float
    decrement_thermal: float
    grid_current_a: float
    thermal_current_a: float
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    soil_rise: float = 1.0
