"""From the validated file to the frozen shapes: rules of construction."""

from __future__ import annotations

from collections.abc import Callable

from evenground.model.conductor import ConductorRequest
from evenground.model.construction import Construction, CoverChoice, ForbiddenArea, MetalChoice
from evenground.model.site import BackfillLayout
from evenground.project._polygons import opened
from evenground.project._schema_construction import ConstructionFile
from evenground.project._schema_metal import ConductorFile

__all__ = ["construction_of"]


def construction_of(
    file: ConstructionFile | None, conductor: Callable[[str, ConductorFile], ConductorRequest]
) -> Construction | None:
    """The rules of construction of the file; ``conductor`` turns one kind of conductor into its shape."""
    if file is None:
        return None
    return Construction(
        trench_width_m=file.trench.width_m,
        trench_below_m=file.trench.below_m,
        depths_m=tuple(sorted(set(file.depths_m))),
        line_step_m=file.line_step_m,
        least_spacing_m=file.least_spacing_m,
        greatest_spacing_m=file.greatest_spacing_m,
        rod_section_m=file.rod_section_m,
        most_rod_sections=file.most_rod_sections,
        least_rod_spacing_m=file.least_rod_spacing_m,
        ring_distances_m=tuple(sorted(set(file.ring_distances_m))),
        forbidden=tuple(
            ForbiddenArea(f.name, tuple(opened([(x, y) for x, y in f.outline_m]))) for f in file.forbidden
        ),
        metal=tuple(MetalChoice(name, conductor(name, c)) for name, c in file.mat_conductors.items()),
        covers=tuple(
            CoverChoice(c.zone, c.material, c.state, c.resistivity_ohm_m, tuple(sorted(set(c.thicknesses_m))))
            for c in file.covers
        ),
        rod_backfills=tuple(
            BackfillLayout(b.outer_diameter_mm, b.resistivity_ohm_m, b.material) for b in file.rod_backfills
        ),
        lines=file.lines,
        rods=file.rods,
    )
