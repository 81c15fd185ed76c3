"""The whole project as one validated, frozen shape."""

from __future__ import annotations

from dataclasses import dataclass
from dataclasses import field as with_default
from typing import TYPE_CHECKING

from evenground.errors import Finding
from evenground.model.conductor import ConductorRequest
from evenground.model.construction import Construction
from evenground.model.fault import FaultScenario
from evenground.model.installation import Installation
from evenground.model.network import Network
from evenground.model.site import (
    Assessment,
    ExtraRun,
    MatLayout,
    RodList,
    SeparateElectrode,
    SurfaceZone,
)
from evenground.model.site_drawing import SiteDrawing
from evenground.model.soil import Earthworks, SeasonalState, SoilChoice, Traverse

if TYPE_CHECKING:
    from evenground.model.as_built import AsBuilt
    from evenground.model.lightning_site import LightningSite
    from evenground.model.site_test import SiteTest, UpkeepPlan

__all__ = ["Declaration", "Identity", "Origin", "Project", "RegisteredInput", "Revision"]


@dataclass(frozen=True, slots=True)
class Revision:
    """One row of the revision block."""

    revision: str
    date: str = ""
    description: str = ""
    prepared_by: str = ""
    checked_by: str = ""
    approved_by: str = ""


@dataclass(frozen=True, slots=True)
class Identity:
    """What stands on the title page, and how the papers are made.

    ``latitude_deg`` (north positive) and ``longitude_deg`` (east positive) place the site on a map of many.
    ``north_deg`` is the direction of north, clockwise from the y axis; None: not stated. ``compared_with``
    names the ``study.json`` of an earlier revision, ``sensitivity`` asks for that chapter. [deg]
    """

    title: str
    site: str = ""
    client: str = ""
    document_number: str = ""
    revisions: tuple[Revision, ...] = ()
    note: str = ""
    language: str = "en"
    north_deg: float | None = None
    compared_with: str = ""
    sensitivity: bool = True
    latitude_deg: float | None = None
    longitude_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Origin:
    """Where an input value comes from."""

    document: str = ""
    revision: str = ""
    date: str = ""
    note: str = ""
    confidence: str = ""


@dataclass(frozen=True, slots=True)
class RegisteredInput:
    """One row of the register of inputs: field, value as written, and origin (None: not stated)."""

    path: tuple[str | int, ...]
    value: str
    origin: Origin | None
    line: int = 0


@dataclass(frozen=True, slots=True)
class Declaration:
    """A subject that somebody declares not applicable, or leaves open."""

    subject: str
    status: str
    by: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Project:
    """Everything the designer wrote, validated, in SI.

    ``conductors`` maps a key (``"mat"``, ``"riser"``, ``"joint"``, ``"rod"``) to a request.
    ``input_hash`` is the SHA-256 of the project file's bytes, in hexadecimal. ``warnings`` are doubtful
    values of the file that do not stop a study.
    """

    identity: Identity
    frequency_hz: float
    traverses: tuple[Traverse, ...]
    soil_choice: SoilChoice
    faults: tuple[FaultScenario, ...]
    conductors: dict[str, ConductorRequest]
    mats: tuple[MatLayout, ...]
    assessment: Assessment
    surface: tuple[SurfaceZone, ...] = ()
    rods: tuple[RodList, ...] = ()
    runs: tuple[ExtraRun, ...] = ()
    declarations: tuple[Declaration, ...] = ()
    assumptions: tuple[str, ...] = ()
    register: tuple[RegisteredInput, ...] = ()
    file_name: str = ""
    input_hash: str = ""
    seasons: tuple[SeasonalState, ...] = ()
    earthworks: Earthworks | None = None
    separate: tuple[SeparateElectrode, ...] = ()
    warnings: tuple[Finding, ...] = ()
    installation: Installation = with_default(default_factory=Installation)
    network: Network | None = None
    site_drawing: SiteDrawing | None = None
    lightning: LightningSite | None = None
    tests: tuple[SiteTest, ...] = ()
    upkeep: UpkeepPlan | None = None
    as_built: AsBuilt | None = None
    construction: Construction | None = None
