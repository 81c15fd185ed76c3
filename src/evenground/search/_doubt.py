"""How sure a result is: the uncertain inputs sampled through soil, field and limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import log

import numpy as np
from numpy.typing import NDArray

from evenground._study_cases import soil_cases
from evenground._study_parts import native_resistivity
from evenground.errors import OutOfRangeError
from evenground.fault import fault_currents
from evenground.field import keep_solution
from evenground.model.fault import FaultResult
from evenground.model.site import SurfaceZone
from evenground.model.soil import LayeredSoil
from evenground.model.study import Study, ZoneLimit
from evenground.provenance import recording
from evenground.safety import ZoneIndex, zone_limits
from evenground.search._base import Base, Tell, exact_rises, prepare, rise_curve
from evenground.search._between import fields_of
from evenground.search._kept import KeptFields
from evenground.search._pieces import pieces_of
from evenground.search._slim import SlimCase, SlimJob, SlimResult, slim_case, slim_result
from evenground.search._store import Store
from evenground.search._verdicts import Confidence, Spread, confidence_of
from evenground.soil import soil_posterior

__all__ = ["Doubts", "Range", "sample_doubts"]

FloatArray = NDArray[np.float64]
Z95 = 1.959963984540054
"""97.5 % point of the standard normal distribution."""


@dataclass(frozen=True, slots=True)
class Range:
    """An uncertain input: between ``low`` and ``high``.

    ``shape`` is ``"even"`` (every value between them alike), ``"log"`` or ``"normal"`` (95 % of the values
    lie between them, logarithms or values normally distributed).
    """

    low: float
    high: float
    shape: str = "log"

    def __post_init__(self) -> None:
        if self.shape not in ("even", "log", "normal"):
            raise ValueError(f"shape: {self.shape!r} is not even, log or normal")
        if not self.low < self.high:
            raise ValueError(f"low {self.low:g} must be below high {self.high:g}")
        if self.shape == "log" and self.low <= 0.0:
            raise ValueError(f"low {self.low:g} must be above 0 for the shape log")

    def at(self, probability: FloatArray) -> FloatArray:
        """Values at probabilities between 0 and 1."""
        from scipy.special import ndtri

        if self.shape == "even":
            return self.low + probability * (self.high - self.low)
        low, high = (log(self.low), log(self.high)) if self.shape == "log" else (self.low, self.high)
        value = 0.5 * (low + high) + ndtri(probability) * (high - low) / (2.0 * Z95)
        return np.asarray(np.exp(value) if self.shape == "log" else value)


@dataclass(frozen=True, slots=True)
class Doubts:
    """What is uncertain, as factors on the values of the project; None: as stated.

    Attributes
    ----------
    soil : bool
        Soils that the readings allow (their posterior).
    resistivity : Range or None
        Factor on all layers, for what one survey can not tell: another season, another place.
    current, share, time : Range or None
        Factor on the fault currents, on the share of the mat, on the clearing times.
    cover_resistivity, cover_thickness : Range or None
        Factor on those of every cover.
    depth_m : Range or None
        Change of burial depth of all metal. [m]
    broken : float
        Probability that one stretch between joints, any of them, is missing.
    """

    soil: bool = True
    resistivity: Range | None = None
    current: Range | None = None
    share: Range | None = None
    time: Range | None = None
    cover_resistivity: Range | None = None
    cover_thickness: Range | None = None
    depth_m: Range | None = None
    broken: float = 0.0


RANGES = ("resistivity", "current", "share", "time", "cover_resistivity", "cover_thickness", "depth_m")


@dataclass(frozen=True, eq=False)
class _Drawn:
    """Samples of every input, (n,) each; ``inputs`` are those that vary, by name."""

    soils: tuple[LayeredSoil, ...]
    values: dict[str, FloatArray]
    missing: tuple[tuple[int, float, float] | None, ...]
    inputs: dict[str, FloatArray]
    notes: tuple[str, ...]


def sample_doubts(
    study: Study,
    doubts: Doubts,
    *,
    samples: int = 1000,
    seed: int = 1,
    workers: int = 1,
    store: Store | None = None,
    progress: Tell | None = None,
) -> Confidence:
    """Draw the uncertain inputs, run each draw through field and limits, and sum up.

    Draws are a Latin hypercube (:class:`scipy.stats.qmc.LatinHypercube`). Equal seeds give equal answers, for
    any number of workers.

    Parameters
    ----------
    study : Study
        Of the project as stated; every sample is a ratio against it.
    doubts : Doubts
    samples, seed, workers : int
    store : Store, optional
        Keeps every solved sample as it comes; what it holds is not solved again.

    Raises
    ------
    OutOfRangeError
        When nothing is uncertain, or for metal that the searches do not follow.
    ValueError
        With fewer than 50 samples.
    """
    if samples < 50:
        raise ValueError(f"samples: {samples} are too few; at least 50")
    tell = progress or (lambda text, done: None)
    tell("study as stated", 0.0)
    base = prepare(study.project, study.soil)
    case = slim_case(base, study)
    drawn = _draw(base, study, case, doubts, samples, seed)
    name = next((c.name for c in study.soil_cases if c.governs), "as surveyed")
    jobs = _jobs(base, drawn, name)
    reference = slim_result(case, SlimJob(study.soil_used or study.soil.soil))
    different = list(dict.fromkeys(jobs))  # without doubt about soil and metal one field serves all
    found = fields_of(
        case,
        different,
        workers,
        lambda done, of: tell(f"field {done} of at most {of}", 0.05 + 0.9 * done / of),
        None if store is None else KeptFields(store, study.project, study.soil.soil, case),
    )
    results = [found.solved[job] for job in jobs]
    tell("limits", 0.95)
    spreads = _spreads(base, study, drawn, jobs, reference, results, name)
    notes = (*drawn.notes, *([found.note] if found.note else []))
    return confidence_of(spreads, drawn.inputs, study.soil, seed, notes)


def _draw(base: Base, study: Study, case: SlimCase, doubts: Doubts, samples: int, seed: int) -> _Drawn:
    from scipy.stats import qmc

    ranges: dict[str, Range] = {n: r for n in RANGES if (r := getattr(doubts, n)) is not None}
    rng = np.random.default_rng(seed)
    soils, inputs, notes = _soils(study, doubts, samples, rng)
    if not ranges and not inputs and doubts.broken <= 0.0:
        raise OutOfRangeError("nothing is uncertain: give readings of the soil, or a range for an input")
    cube = qmc.LatinHypercube(max(len(ranges), 1), seed=rng).random(samples)
    values = {name: r.at(cube[:, k]) for k, (name, r) in enumerate(ranges.items())}
    inputs |= values
    missing: tuple[tuple[int, float, float] | None, ...] = (None,) * samples
    if doubts.broken > 0.0:
        missing = _missing(case, study, doubts.broken, samples, rng)
        inputs["broken conductor"] = np.array([0.0 if m is None else 1.0 for m in missing])
    return _Drawn(soils, values, missing, inputs, notes)


def _soils(
    study: Study, doubts: Doubts, samples: int, rng: np.random.Generator
) -> tuple[tuple[LayeredSoil, ...], dict[str, FloatArray], tuple[str, ...]]:
    result = study.soil
    if not doubts.soil:
        return (result.soil,) * samples, {}, ("the soil was taken as certain",)
    if result.noise is None or not any(r.used for r in result.readings):
        return (result.soil,) * samples, {}, ("the soil is given without readings and was taken as certain",)
    posterior = soil_posterior(result, soils=samples)
    order = rng.permutation(len(posterior.soils))
    soils = tuple(posterior.soils[order[k % len(order)]] for k in range(samples))
    rows = np.array([[*s.resistivities_ohm_m, *s.thicknesses_m] for s in soils])
    layers = result.soil.layers
    names = [_layer_word(k, layers, "resistivity") for k in range(layers)]
    names += [_layer_word(k, layers, "thickness") for k in range(layers - 1)]
    notes = (
        "soils are those that the readings allow for as many layers as the study has; what a survey of one "
        "place and one day can not tell is not in them, unless a range for resistivity is given",
    )
    return soils, {n: rows[:, k] for k, n in enumerate(names)}, (*posterior.notes, *notes)


def _layer_word(k: int, layers: int, what: str) -> str:
    if layers == 1:
        return f"{what} of the soil"
    if layers == 2:
        return f"{what} of the {'lower' if k else 'upper'} layer"
    return f"{what} of layer {k + 1}"


def _missing(
    case: SlimCase, study: Study, probability: float, samples: int, rng: np.random.Generator
) -> tuple[tuple[int, float, float] | None, ...]:
    """Stretches whose loss cuts nothing else off, drawn alike."""
    kept = keep_solution(
        case.electrode,
        study.soil_used or study.soil.soil,
        segment_m=case.segment_m,
        backfill=case.backfill,
    )
    pieces = pieces_of(kept, case.electrode)
    choice = []
    for k, piece in enumerate(pieces.pieces):
        if not pieces.loose(without=[k]):
            origin = np.array(case.electrode.conductors[piece.conductor].start_m)
            low, high = (float(np.linalg.norm(np.array(p) - origin)) for p in (piece.start_m, piece.end_m))
            choice.append((piece.conductor, low, high))
    happens = rng.random(samples) < probability
    which = rng.integers(0, len(choice), samples)
    return tuple(choice[int(w)] if h else None for w, h in zip(which, happens, strict=True))


def _jobs(base: Base, drawn: _Drawn, case_name: str) -> list[SlimJob]:
    n = len(drawn.soils)
    factor = drawn.values.get("resistivity", np.ones(n))
    deeper = drawn.values.get("depth_m", np.zeros(n))
    jobs = []
    for k, soil in enumerate(drawn.soils):
        scaled = replace(
            soil, resistivities_ohm_m=tuple(float(factor[k]) * r for r in soil.resistivities_ohm_m)
        )
        layers = soil_cases(scaled, base.project)[case_name]
        jobs.append(SlimJob(layers, float(deeper[k]), drawn.missing[k]))
    return jobs


def _spreads(
    base: Base,
    study: Study,
    drawn: _Drawn,
    jobs: Sequence[SlimJob],
    reference: SlimResult,
    results: Sequence[SlimResult],
    case_name: str,
) -> list[Spread]:
    """Value over limit of every check in every sample."""
    n = len(results)
    scale = study.field.resistance_ohm / reference.resistance_ohm
    resistance = np.array([r.resistance_ohm for r in results]) * scale
    rises = _rises(base, study, drawn, resistance)
    limits = _limits(base, study, drawn, jobs, case_name)
    spreads = []
    for quantity, zone in reference.unit:
        rows = [s for s in study.shocks if (s.quantity, s.zone, s.metal) == (quantity, zone, "")]
        if not rows:
            continue
        unit_ratio = np.array([r.unit[quantity, zone] for r in results]) / reference.unit[quantity, zone]
        used = np.max(
            [
                s.value_v
                / study.gpr_v[s.scenario]
                * rises[s.scenario]
                * unit_ratio
                / limits[quantity, zone, s.scenario]
                for s in rows
                if study.gpr_v[s.scenario] > 0.0
            ],
            axis=0,
        )
        nominal = max(s.value_v / s.limit_v for s in rows)
        spreads.append(Spread(f"{quantity} voltage, {zone}", nominal, used))
    assessment = base.project.assessment
    highest = np.max(list(rises.values()), axis=0)
    if assessment.resistance_target_ohm is not None:
        target = assessment.resistance_target_ohm
        spreads.append(
            Spread("resistance, owner's target", study.field.resistance_ohm / target, resistance / target)
        )
    if assessment.gpr_limit_v is not None:
        limit = assessment.gpr_limit_v
        spreads.append(
            Spread("potential rise, owner's limit", max(study.gpr_v.values()) / limit, highest / limit)
        )
    assert all(len(s.values) == n for s in spreads)
    return spreads


def _rises(base: Base, study: Study, drawn: _Drawn, resistance: FloatArray) -> dict[str, FloatArray]:
    """Potential rise of each scenario, with current, share and decrement of the sample. [V]"""
    curve = rise_curve(base, study.soil.soil, resistance)
    ones = np.ones(len(resistance))
    current, share = drawn.values.get("current", ones), drawn.values.get("share", ones)
    time = drawn.values.get("time", ones)
    own = {
        f.scenario.name: f.scenario.split_factor
        for f in exact_rises(base, study.soil.soil, study.field.resistance_ohm)[0]
    }
    found = {}
    for fault in base.faults:
        name = fault.scenario.name
        part = np.minimum(share, 1.0 / own[name])  # the mat can not take more than the whole current
        offset = np.array([_decrement(base, fault, float(t)) for t in time]) / fault.decrement_shock
        found[name] = curve[name] * current * part * offset
    return found


def _decrement(base: Base, fault: FaultResult, factor: float) -> float:
    if factor == 1.0 or fault.decrement_shock == 1.0:
        return fault.decrement_shock
    return _with_time(base, fault, factor).decrement_shock


def _with_time(base: Base, fault: FaultResult, factor: float) -> FaultResult:
    scenario = fault.scenario
    longer = replace(
        scenario,
        shock_time_s=factor * scenario.shock_time_s,
        thermal_time_s=max(scenario.thermal_time_s, factor * scenario.shock_time_s),
    )
    with recording():
        return fault_currents(longer, frequency_hz=base.project.frequency_hz, share_later=True)


def _limits(
    base: Base, study: Study, drawn: _Drawn, jobs: Sequence[SlimJob], case_name: str
) -> dict[tuple[str, str, str], FloatArray]:
    """Limit of each quantity, zone and scenario in every sample. [V]"""
    assessment = base.project.assessment
    rows: list[tuple[ZoneLimit, ...]] = []
    for k, job in enumerate(jobs):
        time = float(drawn.values["time"][k]) if "time" in drawn.values else 1.0
        faults = [
            replace(f, scenario=replace(f.scenario, shock_time_s=time * f.scenario.shock_time_s))
            for f in base.faults
        ]
        with recording():
            native = native_resistivity(base.project, case_name, job.soil)
            rows.append(zone_limits(_covers(base, study, drawn.values, k), faults, assessment, native))
    found: dict[tuple[str, str, str], FloatArray] = {}
    for column in zip(*rows, strict=True):
        first = column[0]
        found["touch", first.zone, first.scenario] = np.array([r.touch_v for r in column])
        found["step", first.zone, first.scenario] = np.array([r.step_v for r in column])
    return found


def _covers(base: Base, study: Study, values: Mapping[str, FloatArray], k: int) -> list[SurfaceZone]:
    zones = ZoneIndex(base.project.surface).zones
    rho, thick = (values[n][k] if n in values else 1.0 for n in ("cover_resistivity", "cover_thickness"))
    return [
        z
        if z.resistivity_ohm_m is None
        else replace(
            z, resistivity_ohm_m=float(rho * z.resistivity_ohm_m), thickness_m=float(thick * z.thickness_m)
        )
        for z in zones
    ]
