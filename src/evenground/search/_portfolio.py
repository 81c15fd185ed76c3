"""Many sites assessed again when fault levels, clearing times or the standard change."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from hashlib import sha256
from pathlib import Path
from typing import Any

from evenground._version import __version__
from evenground.errors import EvengroundError, InputError
from evenground.model.fault import FaultScenario
from evenground.model.project import Identity, Project
from evenground.model.study import Check, Study, Verdict
from evenground.project import load_project
from evenground.search._base import Tell
from evenground.search._pool import run_jobs
from evenground.search._store import Store
from evenground.standards.limits import STANDARDS
from evenground.study import run_study

__all__ = ["SiteChange", "SiteCheck", "SiteResult", "SiteRow", "assess_sites", "project_files", "with_change"]

WRONG_INPUT = "wrong input"
ORDER = {"fail": 0, WRONG_INPUT: 1, "not decided": 2, "pass": 3}


@dataclass(frozen=True, slots=True)
class SiteChange:
    """What changes at every site; the default is nothing.

    Attributes
    ----------
    current : float
        Factor on every fault current, put on the growth allowance.
    time : float
        Factor on every clearing time.
    standard : str
        Key of the limits that govern from now on; empty: as each site states.
    """

    current: float = 1.0
    time: float = 1.0
    standard: str = ""

    def describe(self) -> str:
        """In words."""
        words = []
        if self.current != 1.0:
            words.append(f"fault currents x {self.current:g}")
        if self.time != 1.0:
            words.append(f"clearing times x {self.time:g}")
        if self.standard:
            words.append(f"limits of {self.standard}")
        return ", ".join(words) or "as stated"


@dataclass(frozen=True, slots=True)
class SiteCheck:
    """A governing check of a site: value and limit in ``unit``, margin as a share of the limit."""

    title: str
    verdict: str
    value: float | None
    limit: float | None
    unit: str
    margin: float | None


@dataclass(frozen=True, slots=True)
class SiteResult:
    """Outcome of one site under one change; ratios are value over limit, None where there is none.

    ``verdict`` is ``"pass"``, ``"fail"``, ``"not decided"`` or ``"wrong input"``; ``governing`` is the check
    that a reader should see first, ``reason`` why something could not be computed.
    """

    verdict: str
    governing: str = ""
    margin: float | None = None
    touch_over_limit: float | None = None
    step_over_limit: float | None = None
    resistance_ohm: float | None = None
    gpr_v: float | None = None
    failing: str = ""
    reason: str = ""
    checks: tuple[SiteCheck, ...] = ()


@dataclass(frozen=True, slots=True)
class SiteRow:
    """One site: as stated and changed; ``at_deg`` is its latitude and longitude, None when not stated."""

    site: str
    before: SiteResult
    after: SiteResult
    title: str = ""
    at_deg: tuple[float, float] | None = None

    @property
    def turned(self) -> bool:
        """Whether the change turned the verdict."""
        return self.before.verdict != self.after.verdict


@dataclass(frozen=True)
class _Job:
    key: str
    site: str
    project: Project
    change: SiteChange


def project_files(folder: Path | str) -> tuple[Path, ...]:
    """Project files (YAML that begins the format) in a folder and below, in the order of their names.

    Raises
    ------
    InputError
        When there is none.
    """
    root = Path(folder)
    names = sorted(p for p in root.rglob("*") if p.suffix in (".yaml", ".yml") and p.is_file())
    found = tuple(p for p in names if _is_project(p))
    if not found:
        raise InputError(f"{root}: no project file (YAML with the key evenground) in this folder")
    return found


def _is_project(file: Path) -> bool:
    try:
        lines = file.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return False
    return any(line.startswith("evenground:") for line in lines)


def with_change(project: Project, change: SiteChange) -> Project:
    """The project with the change put in.

    Raises
    ------
    InputError
        When the standard is not known, a factor is not above 0, or a current from sequence impedances or of a
        network would fall below what is stated without growth.
    """
    _refuse(change)
    faults = tuple(_fault(f, change, alone=project.network is None) for f in project.faults)
    assessment = project.assessment
    if change.standard:
        assessment = replace(assessment, standard=change.standard)
    return replace(project, faults=faults, assessment=assessment)


def _fault(fault: FaultScenario, change: SiteChange, *, alone: bool) -> FaultScenario:
    growth, current = fault.growth_factor * change.current, fault.current_a
    if growth < 1.0:  # a growth allowance is never below 1
        if current is None or not alone:
            text = f"{fault.name}: fault currents x {change.current:g} fall below those stated without growth"
            raise InputError(f"{text}; change the impedances or contributions in the file")
        current, growth = current * growth, 1.0
    return replace(
        fault,
        current_a=current,
        growth_factor=growth,
        shock_time_s=fault.shock_time_s * change.time,
        thermal_time_s=fault.thermal_time_s * change.time,
    )


def _refuse(change: SiteChange) -> None:
    for name in ("current", "time"):
        if not 0.0 < getattr(change, name) < 100.0:
            raise InputError(f"{name}: the factor {getattr(change, name):g} is not between 0 and 100")
    if change.standard and change.standard != "ieee80" and change.standard not in STANDARDS:
        raise InputError(f"standard {change.standard}: not known; one of ieee80, {', '.join(STANDARDS)}")


def assess_sites(
    files: Sequence[Path],
    change: SiteChange,
    store: Store,
    *,
    root: Path | None = None,
    workers: int = 1,
    progress: Tell | None = None,
    study: Callable[[Project], Study] = run_study,
) -> tuple[SiteRow, ...]:
    """Run every site as stated and changed, and rank them, the worst after the change first.

    Each result goes into the store as soon as it is there. A run that was stopped or killed continues where
    it was: what the store holds for the same input, change and version is not computed again.

    Parameters
    ----------
    files : sequence of Path
    change : SiteChange
    store : Store
    root : Path, optional
        Sites are named by their path below it.
    workers : int
        Processes; the results do not depend on it.
    study : callable, optional
        What runs one project.
    """
    tell = progress or (lambda text, done: None)
    _refuse(change)
    names = {f: str(f.relative_to(root)) if root else str(f) for f in files}
    rows: dict[tuple[str, SiteChange], SiteResult] = {}
    jobs: list[_Job] = []
    identities: dict[str, Identity] = {}
    for file, name in names.items():
        try:
            project = load_project(file)
        except InputError as error:
            wrong = SiteResult(WRONG_INPUT, reason=str(error.findings[0]))
            rows |= {(name, SiteChange()): wrong, (name, change): wrong}
            continue
        identities[name] = project.identity
        for each in dict.fromkeys((SiteChange(), change)):
            key = _key(project, each)
            known = store.get(key)
            if known is not None:
                rows[name, each] = _read(known)
            else:
                jobs.append(_Job(key, name, project, each))
    tell(f"{len(jobs)} studies to run", 0.0)
    for done, (k, result) in enumerate(run_jobs(_assess, study, jobs, workers), 1):
        job = jobs[k]
        store.put(job.key, job.site, job.change.describe(), asdict(result))
        rows[job.site, job.change] = result
        tell(f"{job.site}: {result.verdict}", done / len(jobs))
    found = [
        SiteRow(n, rows[n, SiteChange()], rows[n, change], *_placed(identities.get(n)))
        for n in names.values()
    ]
    return tuple(sorted(found, key=_rank))


def _placed(identity: Identity | None) -> tuple[str, tuple[float, float] | None]:
    """Title and place of a site on the map."""
    if identity is None:
        return "", None
    at = identity.latitude_deg, identity.longitude_deg
    return identity.title, None if at[0] is None or at[1] is None else (at[0], at[1])


def _read(known: Mapping[str, Any]) -> SiteResult:
    """A result as the store gives it."""
    return SiteResult(**{**known, "checks": tuple(SiteCheck(**c) for c in known.get("checks", ()))})


def _rank(row: SiteRow) -> tuple[int, float, str]:
    margin = row.after.margin
    return ORDER[row.after.verdict], margin if margin is not None else 0.0, row.site


def _key(project: Project, change: SiteChange) -> str:
    """What the result depends on: the project with its readings, the change, the version."""
    return sha256(repr((__version__, change, replace(project, file_name=""))).encode()).hexdigest()


def _assess(study: Callable[[Project], Study], job: _Job) -> SiteResult:
    try:
        return _result(study(with_change(job.project, job.change)))
    except InputError as error:
        return SiteResult(WRONG_INPUT, reason=str(error.findings[0]))
    except EvengroundError as error:
        return SiteResult("not decided", reason=str(error))


def _result(study: Study) -> SiteResult:
    governing: Check = study.governing_check
    failing = [c.title for c in study.checks if c.governing and c.verdict is Verdict.FAIL]
    return SiteResult(
        verdict=str(study.verdict),
        governing=governing.title,
        margin=governing.margin,
        touch_over_limit=study.worst_touch.value_v / study.worst_touch.limit_v,
        step_over_limit=study.worst_step.value_v / study.worst_step.limit_v,
        resistance_ohm=study.field.resistance_ohm,
        gpr_v=max(study.gpr_v.values()),
        failing="; ".join(failing),
        reason=governing.reason if governing.verdict is Verdict.NOT_DECIDED else "",
        checks=tuple(
            SiteCheck(c.title, str(c.verdict), c.value, c.limit, c.unit, c.margin)
            for c in study.checks
            if c.governing
        ),
    )
