"""Electrodes under impulse: current shapes, soil over frequency, ionisation, published effective sizes."""

from __future__ import annotations

import math

from evenground.provenance import equation
from evenground.standards._checks import need, need_positive

__all__ = [
    "alipio_visacro_conductivity",
    "alipio_visacro_permittivity",
    "arrester_lead_voltage",
    "arrester_protective_distance",
    "cigre_781_conductivity",
    "cigre_781_permittivity",
    "cigre_ionised_resistance",
    "cigre_limit_current",
    "grcev_effective_length",
    "grcev_effective_side",
    "grcev_impulse_coefficient",
    "gupta_thapar_radius",
    "heidler_current",
    "heidler_eta",
    "ionised_hemisphere_resistance",
    "mast_inductance",
    "mast_surge_impedance",
    "simple_effective_length",
]

EPS0 = 8.8541878128e-12
_HEIDLER = "Heidler function; e.g. IEC 62305-1:2010, Annex B; Rachidi et al. (2001)"
_ALIPIO = "Alipio and Visacro, IEEE Trans. EMC 56 (2014)"
_GRCEV = "Grcev, IEEE Trans. Power Delivery 24 (2009) 441-451"
_CHECKED = "from memory, cross-checked"


@equation(
    "eta",
    "",
    source=_HEIDLER,
    symbols="t_1 t_2 n",
    form="exp(-(t_1/t_2)*(n*t_2/t_1)**(1/n))",
    evidence=_CHECKED,
)
def heidler_eta(front_time_constant_s: float, tail_time_constant_s: float, steepness: float) -> float:
    """Correction of the peak of a Heidler function. [-]"""
    need_positive(
        front_time_constant_s=front_time_constant_s,
        tail_time_constant_s=tail_time_constant_s,
        steepness=steepness,
    )
    ratio = front_time_constant_s / tail_time_constant_s
    return math.exp(-ratio * (steepness / ratio) ** (1.0 / steepness))


@equation(
    "i",
    "A",
    source=_HEIDLER,
    symbols="t I_0 t_1 t_2 n",
    text="I_0/eta x^n/(1 + x^n) exp(-t/t_2) with x = t/t_1, eta = exp(-(t_1/t_2)(n t_2/t_1)^(1/n))",
    evidence=_CHECKED,
)
def heidler_current(
    time_s: float,
    amplitude_a: float,
    front_time_constant_s: float,
    tail_time_constant_s: float,
    steepness: float,
) -> float:
    """Current of one Heidler term at a time from its start. [A]"""
    need_positive(time_s=time_s, amplitude_a=amplitude_a)
    eta = heidler_eta(front_time_constant_s, tail_time_constant_s, steepness)
    x = math.pow(time_s / front_time_constant_s, -steepness) if time_s > 0.0 else math.inf
    return amplitude_a / eta / (1.0 + x) * math.exp(-time_s / tail_time_constant_s)


@equation(
    "sigma",
    "S/m",
    source=_ALIPIO,
    symbols="rho_0 f c g",
    form="1/rho_0 + 1e-3*c*(1000/rho_0)**0.27*(f/1e6)**g",
    valid=("f <= 4e6",),
    evidence=_CHECKED,
)
def alipio_visacro_conductivity(
    resistivity_ohm_m: float, frequency_hz: float, c: float = 1.26, g: float = 0.54
) -> float:
    """Conductivity of soil at a frequency, mean parameters by default. [S/m]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, frequency_hz=frequency_hz, c=c, g=g)
    s0 = 1000.0 / resistivity_ohm_m
    return 1e-3 * (s0 + c * math.pow(s0, 0.27) * math.pow(frequency_hz / 1e6, g))


@equation(
    "eps_r",
    "",
    source=_ALIPIO,
    symbols="rho_0 f c g e_inf",
    text="e_inf + tan(pi g/2) 1e-3 c s_0^0.27 (f/1 MHz)^g/(2 pi f e_0), s_0 = 1000/rho_0 in mS/m",
    valid=("f <= 4e6",),
    evidence=_CHECKED,
)
def alipio_visacro_permittivity(
    resistivity_ohm_m: float,
    frequency_hz: float,
    c: float = 1.26,
    g: float = 0.54,
    permittivity_high: float = 12.0,
) -> float:
    """Relative permittivity of soil at a frequency from 100 Hz, mean parameters by default. [-]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, frequency_hz=frequency_hz, c=c)
    need_positive(permittivity_high=permittivity_high)
    need(0.0 < g < 1.0, f"g must lie between 0 and 1, got {g!r}")
    s0 = 1000.0 / resistivity_ohm_m
    growth = 1e-3 * c * math.pow(s0, 0.27) * math.pow(frequency_hz / 1e6, g)
    return permittivity_high + math.tan(math.pi * g / 2.0) * growth / (2.0 * math.pi * frequency_hz * EPS0)


@equation(
    "sigma",
    "S/m",
    source="CIGRE Technical Brochure 781 (2019)",
    symbols="rho_0 f",
    form="1/rho_0 + 4.7e-6*(1/rho_0)**0.27*f**0.54",
    valid=("f <= 4e6",),
    evidence=_CHECKED,
)
def cigre_781_conductivity(resistivity_ohm_m: float, frequency_hz: float) -> float:
    """Conductivity of soil at a frequency. [S/m]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, frequency_hz=frequency_hz)
    s0 = 1.0 / resistivity_ohm_m
    return s0 + 4.7e-6 * math.pow(s0, 0.27) * math.pow(frequency_hz, 0.54)


@equation(
    "eps_r",
    "",
    source="CIGRE Technical Brochure 781 (2019)",
    symbols="rho_0 f",
    form="12 + 9.5e4*(1/rho_0)**0.27*f**-0.46",
    valid=("f <= 4e6",),
    evidence=_CHECKED,
)
def cigre_781_permittivity(resistivity_ohm_m: float, frequency_hz: float) -> float:
    """Relative permittivity of soil at a frequency from 100 Hz. [-]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, frequency_hz=frequency_hz)
    return 12.0 + 9.5e4 * math.pow(resistivity_ohm_m, -0.27) * math.pow(frequency_hz, -0.46)


@equation(
    "I_g",
    "A",
    source="CIGRE Technical Brochure 63 (1991), concentrated electrodes",
    symbols="rho R_0 E_0",
    form="E_0*rho/(2*pi*R_0**2)",
    evidence="from memory",
)
def cigre_limit_current(
    resistivity_ohm_m: float, resistance_ohm: float, gradient_v_per_m: float = 400e3
) -> float:
    """Current at which soil around a concentrated electrode breaks down noticeably. [A]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m, resistance_ohm=resistance_ohm, gradient_v_per_m=gradient_v_per_m
    )
    return gradient_v_per_m * resistivity_ohm_m / (2.0 * math.pi * resistance_ohm**2)


@equation(
    "R_i",
    "ohm",
    source="CIGRE Technical Brochure 63 (1991), concentrated electrodes",
    symbols="R_0 I I_g",
    form="R_0/sqrt(1 + I/I_g)",
    evidence="from memory",
)
def cigre_ionised_resistance(resistance_ohm: float, current_a: float, limit_current_a: float) -> float:
    """Resistance of a concentrated electrode (up to about 30 m across) while the soil is ionised. [ohm]"""
    need_positive(resistance_ohm=resistance_ohm, current_a=current_a, limit_current_a=limit_current_a)
    return resistance_ohm / math.sqrt(1.0 + current_a / limit_current_a)


@equation(
    "R",
    "ohm",
    source="hemisphere of perfectly conducting ionised soil; potential theory",
    symbols="rho I E_c",
    form="rho/(2*pi*sqrt(rho*I/(2*pi*E_c)))",
)
def ionised_hemisphere_resistance(
    resistivity_ohm_m: float, current_a: float, gradient_v_per_m: float = 300e3
) -> float:
    """Resistance of a small electrode that feeds a hemisphere of ionised soil. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, current_a=current_a, gradient_v_per_m=gradient_v_per_m)
    radius = math.sqrt(resistivity_ohm_m * current_a / (2.0 * math.pi * gradient_v_per_m))
    return resistivity_ohm_m / (2.0 * math.pi * radius)


def _grcev_alpha_beta(product: float) -> tuple[float, float]:
    alpha = 0.025 + math.exp(-0.82 * math.pow(product, 0.257))
    beta = 0.17 + math.exp(-0.22 * math.pow(product, 0.555))
    return alpha, beta


@equation(
    "l_eff",
    "m",
    source=_GRCEV,
    symbols="rho T_1",
    form="(1 - (0.17 + exp(-0.22*(rho*T_1)**0.555)))/(0.025 + exp(-0.82*(rho*T_1)**0.257))",
    valid=("rho >= 10", "rho*T_1 >= 10"),
    evidence=_CHECKED,
)
def grcev_effective_length(resistivity_ohm_m: float, front_time_us: float) -> float:
    """Length of a horizontal or vertical wire beyond which more length does not help an impulse. [m]

    For injection at one end, no soil ionisation; front 0.8 us for subsequent and 8 us for first strokes.
    """
    need_positive(resistivity_ohm_m=resistivity_ohm_m, front_time_us=front_time_us)
    alpha, beta = _grcev_alpha_beta(resistivity_ohm_m * front_time_us)
    need(beta < 1.0, "resistivity times front time is too small for the formula")
    return (1.0 - beta) / alpha


@equation(
    "A",
    "",
    source=_GRCEV,
    symbols="l rho T_1",
    form="max(1, (0.025 + exp(-0.82*(rho*T_1)**0.257))*l + 0.17 + exp(-0.22*(rho*T_1)**0.555))",
    valid=("rho >= 10", "rho*T_1 >= 10"),
    evidence=_CHECKED,
)
def grcev_impulse_coefficient(length_m: float, resistivity_ohm_m: float, front_time_us: float) -> float:
    """Impulse impedance of a wire fed at its end over its resistance, 1 up to the effective length. [-]"""
    need_positive(length_m=length_m, resistivity_ohm_m=resistivity_ohm_m, front_time_us=front_time_us)
    alpha, beta = _grcev_alpha_beta(resistivity_ohm_m * front_time_us)
    return max(1.0, alpha * length_m + beta)


@equation(
    "a_eff",
    "m",
    source="Grcev, IEEE Trans. Power Delivery (2011), square mats; k = 1 fed in the centre, 0.5 at a corner",
    symbols="rho T_1 k",
    form="k*exp(0.84*(rho*T_1)**0.22)",
    evidence=_CHECKED,
)
def grcev_effective_side(resistivity_ohm_m: float, front_time_us: float, k: float = 1.0) -> float:
    """Side of a square mat beyond which more area does not help an impulse. [m]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, front_time_us=front_time_us, k=k)
    return k * math.exp(0.84 * math.pow(resistivity_ohm_m * front_time_us, 0.22))


@equation(
    "r_e",
    "m",
    source="Gupta and Thapar, IEEE Trans. PAS (1980)",
    symbols="rho T s at_corner",
    form="((0.6 - 0.025*s) if at_corner else (1.45 - 0.05*s))*sqrt(rho*T)",
    valid=("s <= 20",),
    evidence="from memory",
)
def gupta_thapar_radius(
    resistivity_ohm_m: float, front_time_us: float, mesh_m: float, at_corner: bool
) -> float:
    """Effective radius of a mat under impulse, fed in its centre or at a corner. [m]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, front_time_us=front_time_us, mesh_m=mesh_m)
    factor = 0.6 - 0.025 * mesh_m if at_corner else 1.45 - 0.05 * mesh_m
    need(factor > 0.0, f"mesh of {mesh_m!r} m is outside the formula")
    return factor * math.sqrt(resistivity_ohm_m * front_time_us)


@equation(
    "l_e",
    "m",
    source="rule of thumb of the trade: twice the root of the resistivity",
    symbols="rho",
    form="2*sqrt(rho)",
    evidence="from memory",
)
def simple_effective_length(resistivity_ohm_m: float) -> float:
    """Effective length of a buried wire under a lightning current, regardless of its front. [m]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m)
    return 2.0 * math.sqrt(resistivity_ohm_m)


@equation(
    "U_L",
    "kV",
    source="induction in a straight lead; IEC 60099-5 uses about 1 uH/m",
    symbols="l di_dt L",
    form="l*L*di_dt",
    evidence="from memory",
)
def arrester_lead_voltage(
    lead_length_m: float, steepness_ka_per_us: float, inductance_uh_per_m: float = 1.0
) -> float:
    """Inductive voltage of arrester leads (line side and earth side together). [kV]"""
    need_positive(
        lead_length_m=lead_length_m,
        steepness_ka_per_us=steepness_ka_per_us,
        inductance_uh_per_m=inductance_uh_per_m,
    )
    return lead_length_m * inductance_uh_per_m * steepness_ka_per_us


@equation(
    "L_p",
    "m",
    source="travelling waves to an open end; simplified method of IEC 60099-5 and IEC 60071-2",
    symbols="U_w k_s U_p S v",
    form="(U_w/k_s - U_p)*v/(2*S)",
    evidence="from memory",
)
def arrester_protective_distance(
    withstand_kv: float,
    safety_factor: float,
    protective_level_kv: float,
    steepness_kv_per_us: float,
    speed_m_per_us: float = 300.0,
) -> float:
    """Largest distance from the arrester at which equipment is still protected. [m]

    Leads are part of the distance. A formula for one line and one arrester: the voltage at the equipment is
    the protective level plus twice the steepness times the travel time.

    Raises
    ------
    OutOfRangeError
        When the protective level already exceeds the withstand voltage over its safety factor.
    """
    need_positive(
        withstand_kv=withstand_kv,
        safety_factor=safety_factor,
        protective_level_kv=protective_level_kv,
        steepness_kv_per_us=steepness_kv_per_us,
        speed_m_per_us=speed_m_per_us,
    )
    margin = withstand_kv / safety_factor - protective_level_kv
    need(margin > 0.0, "the arrester's protective level leaves no margin to the withstand voltage")
    return margin * speed_m_per_us / (2.0 * steepness_kv_per_us)


@equation(
    "Z_m",
    "ohm",
    source="Sargent and Darveniza, IEEE Trans. PAS-88 (1969), cylindrical tower",
    symbols="h r",
    form="60*(log(2*sqrt(2)*h/r) - 1)",
    valid=("h >= 10*r",),
    evidence="from memory, cross-checked",
)
def mast_surge_impedance(height_m: float, radius_m: float) -> float:
    """Surge impedance of a mast or single down conductor, as a cylinder. [ohm]"""
    need_positive(height_m=height_m, radius_m=radius_m)
    return 60.0 * (math.log(2.0 * math.sqrt(2.0) * height_m / radius_m) - 1.0)


@equation(
    "L_m",
    "uH",
    source="lossless line far shorter than the front: inductance is surge impedance times travel time",
    symbols="Z h v",
    form="Z*h/v",
)
def mast_inductance(surge_impedance_ohm: float, height_m: float, speed_m_per_us: float = 300.0) -> float:
    """Inductance of a mast for fronts much longer than the time of travel. [uH]"""
    need_positive(surge_impedance_ohm=surge_impedance_ohm, height_m=height_m, speed_m_per_us=speed_m_per_us)
    return surge_impedance_ohm * height_m / speed_m_per_us
