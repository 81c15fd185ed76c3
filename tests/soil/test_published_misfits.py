"""How far published models are from their readings, and other numbers of the trade about soundings."""

import numpy as np
import pytest
from scipy.optimize import brentq

from evenground.model.soil import LayeredSoil
from evenground.soil import fit_layers, process_readings, wenner_apparent_resistivity
from evenground.soil._arrays import POINT_DEPTH_PER_LENGTH, wenner_factor


@pytest.mark.parametrize(
    ("soil", "relative", "log", "absolute"),
    [
        # IEEE Std 81-1983, gradient method (from memory): stopped early, minimum of no norm
        ((383.498, 147.657, 2.563), 0.007928, 0.008060, 328.31),
        # Seedher and Arora 1992 (from memory)
        ((372.729, 145.259, 2.690), 0.007528, 0.007719, 275.60),
        # Gonos and Stathopulos 2005 (from memory)
        ((364.67, 143.56, 2.827), 0.007869, 0.007985, 257.83),
    ],
)
def test_sums_of_squares_of_published_models_of_the_classic_six(surveys, soil, relative, log, absolute):
    """The sums were computed from the published models with image series in a separate program."""
    measured = np.array(list(surveys.k1.values()), dtype=float)
    rho1, rho2, h = soil
    model = wenner_apparent_resistivity(np.array(list(surveys.k1)), LayeredSoil((rho1, rho2), (h,)))
    assert np.sum((model / measured - 1) ** 2) == pytest.approx(relative, rel=2e-3)
    assert np.sum(np.log(model / measured) ** 2) == pytest.approx(log, rel=2e-3)
    assert np.sum((model - measured) ** 2) == pytest.approx(absolute, rel=2e-3)


@pytest.mark.parametrize(
    ("soil", "low", "high"),
    [
        # worksheet of the graphical method of Pirson, its 4.5 m read as a thickness and as a depth
        (LayeredSoil((8300, 42003, 3062), (0.8, 4.5)), 0.31, 0.41),
        (LayeredSoil((8300, 42003, 3062), (0.8, 3.7)), 0.31, 0.41),
        # textbook (from memory), its second number read as a depth and as a thickness
        (LayeredSoil((8600, 21575, 3103), (0.64, 5.0)), 0.10, 0.12),
        (LayeredSoil((8600, 21575, 3103), (0.64, 5.64)), 0.15, 0.17),
    ],
)
def test_graphical_results_are_no_reference(surveys, soil, low, high):
    """pt.scribd.com, document 242460244, and the textbook; least squares reaches 0.3 % here."""
    a, measured = np.array(list(surveys.p1)), np.array(list(surveys.p1.values()), dtype=float)
    off = np.log(wenner_apparent_resistivity(a, soil) / measured)
    assert low - 0.005 <= np.sqrt(np.mean(off**2)) <= high + 0.005
    assert fit_layers(surveys.apparent(surveys.p1), layers=3).rms < 0.004


def test_geometric_means_of_the_tnb_traverses(surveys):
    """TNB Substation Design Manual, table B-3: means of the two traverses and the pooled uniform soil."""
    readings, _ = process_readings(
        [surveys.wenner(t, name=n, key="resistance_ohm") for n, t in zip("AB", surveys.tnb, strict=True)]
    )
    values = np.array([r.apparent_resistivity_ohm_m for r in readings]).reshape(2, -1)
    printed = [129.09, 133.79, 132.04, 129.79, 129.23, 127.62, 135.07, 135.82]
    assert np.exp(np.log(values).mean(axis=0)) == pytest.approx(printed, rel=3e-4)
    uniform = fit_layers(readings, layers=1)
    assert uniform.soil.resistivities_ohm_m[0] == pytest.approx(131.53, rel=1e-3)
    assert uniform.rms == pytest.approx(0.037, abs=0.001)


@pytest.mark.parametrize(
    ("length", "shown", "with_length", "with_half", "depth_share"),
    [
        (0.05, 0.99855, 1.00290, 0.99964, 0.5772),
        (0.1, 0.99424, 1.01137, 0.99858, 0.5767),
        (0.2, 0.97782, 1.04225, 0.99467, 0.5751),
        (0.5, 0.88806, 1.16867, 0.97659, 0.5695),
        (1.0, 0.71688, 1.20756, 0.94340, 0.5878),
    ],
)
def test_driven_probes_as_points_in_depth(length, shown, with_length, with_half, depth_share):
    """Mutual resistance of vertical lines of uniform current (image method, checked by double quadrature) at
    1 m spacing in 1 ohm m: what 2 pi a R shows, what the formula of IEEE Std 81 makes of it with the driven
    length or half of it as depth, and the depth that is right. The last row is beyond the program's range."""
    resistance = shown / (2 * np.pi)

    def taken_back(depth):
        return resistance * wenner_factor(1.0, depth)

    assert taken_back(length) == pytest.approx(with_length, rel=1e-4)
    assert taken_back(length / 2) == pytest.approx(with_half, rel=1e-4)
    if length < 1.0:
        exact = brentq(lambda d: taken_back(d) - 1.0, 1e-6, length)
        assert exact / length == pytest.approx(depth_share, rel=5e-3)
        assert taken_back(POINT_DEPTH_PER_LENGTH * length) == pytest.approx(1.0, rel=3e-3)


def test_a_wenner_array_looks_half_its_spacing_deep():
    """Median depth of investigation, 0.519 a (Edwards 1977, from memory): half of the effect of a small
    change of the ground below a depth is there when that depth is 0.519 of the spacing."""
    change = 1e-4

    def share(h):
        value = float(wenner_apparent_resistivity(1.0, LayeredSoil((1.0, 1.0 + change), (h,))))
        return (value - 1.0) / change

    assert brentq(lambda h: share(h) - 0.5, 0.2, 1.0) == pytest.approx(0.51902, rel=1e-3)
