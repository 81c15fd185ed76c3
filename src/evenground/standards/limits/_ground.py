"""Layer factor and standing resistance, shared by the standards."""

from __future__ import annotations

from collections.abc import Callable

from evenground.errors import OutOfRangeError
from evenground.provenance import equation
from evenground.standards._checks import need, need_positive
from evenground.standards.handbook_1986 import surface_factor_1986
from evenground.standards.ieee80_limits import surface_factor, surface_factor_exact
from evenground.standards.limits.shapes import LimitCase

__all__ = ["FACTORS", "ground", "standing_resistance", "surface_factor_0106", "surface_factor_over_resistive"]


@equation(
    "C_s",
    "",
    source="Spain, RD 337/2014, ITC-RAT 13, clause 1.1",
    symbols="rho rho_s h_s",
    form="1 - 0.106*(1 - rho/rho_s)/(2*h_s + 0.106)",
    valid=("rho <= rho_s",),
    evidence="from memory",
    name="surface layer factor with 0.106",
)
def surface_factor_0106(
    resistivity_ohm_m: float, surface_resistivity_ohm_m: float, thickness_m: float
) -> float:
    """Factor of the foot's resistance on a thin surface layer, older empirical form. [-]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m,
        surface_resistivity_ohm_m=surface_resistivity_ohm_m,
        thickness_m=thickness_m,
    )
    return 1.0 - 0.106 * (1.0 - resistivity_ohm_m / surface_resistivity_ohm_m) / (2.0 * thickness_m + 0.106)


@equation(
    "C_s",
    "",
    source="potential theory: a body of higher resistivity below can only raise the resistance of a foot "
    "(monotonicity, Rayleigh); IEEE Std 80, Eq. (20) to (23) with K >= 0 gives 1 or more",
    symbols="rho rho_s",
    valid=("rho >= rho_s",),
    text="1: the cover is counted as endless, which is cautious; the empirical forms were fitted to soil "
    "that conducts better than the cover and would give far too much here",
    name="surface layer factor where the soil is more resistive than the cover",
)
def surface_factor_over_resistive(resistivity_ohm_m: float, surface_resistivity_ohm_m: float) -> float:
    """Lower bound of the factor for a cover on soil that is more resistive, such as frozen ground. [-]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, surface_resistivity_ohm_m=surface_resistivity_ohm_m)
    return 1.0


FACTORS: dict[str, Callable[[float, float, float], float]] = {
    "empirical": surface_factor,
    "exact": surface_factor_exact,
    "series 1986": surface_factor_1986,
    "0.106": surface_factor_0106,
}
"""Forms of the layer factor."""


def ground(case: LimitCase, usual: str) -> tuple[float, float]:
    """Layer factor and resistivity under the feet; 1 and the native soil where no cover lies. [-, ohm m]

    On soil that is more resistive than the cover (frozen ground) the factor is 1, whatever the form: the
    exact one is higher, so this is cautious.

    Raises
    ------
    OutOfRangeError
        For an unknown form of the factor, or an empirical form that comes out at zero or below.
    """
    form = case.surface_factor or usual
    need(form == "none" or form in FACTORS, f"surface factor must be 'none' or one of {', '.join(FACTORS)}")
    cover = case.surface_resistivity_ohm_m
    if cover is None:
        return 1.0, case.native_resistivity_ohm_m
    if form == "none":
        return 1.0, cover
    if case.native_resistivity_ohm_m > cover:
        return surface_factor_over_resistive(case.native_resistivity_ohm_m, cover), cover
    factor = FACTORS[form](case.native_resistivity_ohm_m, cover, case.surface_thickness_m)
    if not factor > 0.0:
        raise OutOfRangeError(f"surface factor ({form}) comes out at {factor:.3g}")
    return factor, cover


@equation(
    "R_a",
    "ohm",
    source="EN 50522, Annex B, additional resistances",
    symbols="R_sh C_s rho_s",
    form="R_sh/2 + 1.5*C_s*rho_s",
    evidence="from memory",
    name="resistance of shoes and standing surface, feet together",
)
def standing_resistance(shoe_ohm: float, surface_factor: float, surface_resistivity_ohm_m: float) -> float:
    """Two shoes side by side and the two feet on the surface. [ohm]

    The standard has no layer factor (then it is 1); 2000 ohm per shoe is its old wet shoe.
    """
    need(0.0 <= shoe_ohm < 1e12, f"shoe_ohm must be zero or more, got {shoe_ohm!r}")
    need_positive(surface_factor=surface_factor, surface_resistivity_ohm_m=surface_resistivity_ohm_m)
    return shoe_ohm / 2.0 + 1.5 * surface_factor * surface_resistivity_ohm_m
