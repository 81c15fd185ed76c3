"""The search for the cheapest design: rules, estimates, optimum, resumption, written file."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
import yaml

from evenground.electrode import mesh_lines
from evenground.errors import CancelledError, InputError
from evenground.model.construction import Construction, ForbiddenArea
from evenground.project import parse_project
from evenground.schedules import (
    build_schedules,
    design_of_study,
    parse_prices,
    starter_prices_text,
    total_cost,
)
from evenground.search import Effort, Store, find_cheapest, space_of, written
from evenground.search._demand import Demand, Scale, judged
from evenground.search._draft import Draft, mesh_positions
from evenground.search._estimate import bench_of, estimate, estimate_project
from evenground.search._evolve import evolve
from evenground.study import run_study

PRICES = parse_prices(starter_prices_text())
RULES = {
    "line_step_m": 1.0,
    "least_spacing_m": 2.0,
    "greatest_spacing_m": 6.0,
    "rod_section_m": 2.0,
    "most_rod_sections": 2,
    "ring_distances_m": [0, 1],
}
QUICK = Effort(population=8, generations=3, studies=6, seed=4)


def pad_text(pad_data, rules):
    """The pad with a current that its two by two meshes do not stand."""
    rod = {"material": "copper_clad_steel_rod_20", "joint": "exothermic", "diameter_mm": 14.2}
    metal = {**pad_data["conductors"], "rod": rod}
    data = {**pad_data, "conductors": metal, "construction": rules}
    fault = {**pad_data["faults"][0], "current_ka": 0.9}
    return "# kept\n" + yaml.safe_dump({**data, "faults": [fault]}, sort_keys=False)


@pytest.fixture(scope="module")
def pad(pad_data):
    return parse_project(pad_text(pad_data, RULES), "pad.yaml")


@pytest.fixture(scope="module")
def pad_study(pad):
    return run_study(pad)


@pytest.fixture(scope="module")
def found(pad_study):
    return find_cheapest(pad_study, PRICES, effort=QUICK)


def test_equal_meshes_are_those_of_the_mat_builder():
    outline = [(0.0, 0.0), (30.0, 0.0), (30.0, 20.0), (0.0, 20.0)]
    assert mesh_positions(0.0, 30.0, 6, 1.0, 0.5) == pytest.approx(mesh_lines(outline, 5.0, 0))


def test_meshes_shrink_by_equal_factors_toward_both_edges():
    # a geometric series over five meshes whose outermost is half the middle one: 0.5, sqrt(0.5), 1, ...
    places = mesh_positions(0.0, 100.0, 5, 0.5, 1e-4)
    widths = np.diff(places)
    assert widths[2] / widths[1] == pytest.approx(np.sqrt(2), rel=1e-4)  # lines at multiples of 0.1 mm
    assert widths[1] / widths[0] == pytest.approx(np.sqrt(2), rel=1e-4)
    assert widths == pytest.approx(widths[::-1], abs=2e-4)


def test_an_edge_of_the_outline_gets_a_line():
    assert 7.3 in mesh_positions(0.0, 20.0, 4, 1.0, 1.0, needed_m=(7.3,))


def test_rules_of_construction_are_kept(pad):
    space = space_of(pad)
    hole = ForbiddenArea("pump", ((5.0, 5.0), (7.0, 5.0), (7.0, 7.0), (5.0, 7.0)))
    blocked = replace(space, rules=replace(space.rules, forbidden=(hole,)))
    assert "through pump" in blocked.broken(space.made(space.start))  # a line at 6 m
    assert space.broken(space.made(space.start)) == ""
    wide = replace(space, rules=replace(space.rules, greatest_spacing_m=5.0))
    assert "6 m apart" in wide.broken(space.made(space.start))
    corner = ForbiddenArea("duct", ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)))
    no_lines = replace(space, rules=replace(space.rules, forbidden=(corner,)))
    assert no_lines.broken(space.made(space.start))


def test_places_that_need_metal_keep_it(demo):
    space = space_of(demo)
    names = {name for name, _ in space.places}
    assert {"mast M1", "T1"} <= names
    genes = list(space.start.genes)
    genes[[c.key for c in space.choices].index("meshes_x 0")] -= 2
    made = space.made(Draft(tuple(genes)))
    assert space.broken(made) == ""
    (mat,) = made.mats
    for name, (x, y) in space.places:
        rows = [abs(v - x) for v in mat.lines_x_m] + [abs(v - y) for v in mat.lines_y_m]
        assert min(rows) <= 0.4, name
    lines = space.lines(Draft(tuple(genes)))
    mast = next(at for name, at in space.places if name == "mast M1")
    near = tuple(line for line in lines if abs(line[2] - mast[line[1]]) <= 0.4)
    assert near
    assert space.broken(space.made(Draft(tuple(genes), near))) == "no metal at mast M1"


def test_the_cost_is_the_sum_of_the_bill(small_study):
    # the bill of quantities is the reference: material and labour of its lines, added by hand
    design = design_of_study(small_study)
    table = build_schedules(design, PRICES).table("bill")
    place = [c.key for c in table.columns].index("cost")
    assert total_cost(design, PRICES).total == pytest.approx(sum(row[place] for row in table.rows), rel=1e-12)


def test_a_cost_without_a_price_is_refused(small_study):
    fewer = replace(PRICES, items={k: v for k, v in PRICES.items.items() if k != "trench.dig"})
    with pytest.raises(InputError, match=r"trench\.dig"):
        total_cost(design_of_study(small_study), fewer)


def test_an_estimate_scaled_by_one_study_foretells_another(pad, pad_study):
    # against the full study of a denser mat with a ring, which the scale has not seen
    space = space_of(pad)
    bench = bench_of(space, pad_study, PRICES)
    scale = Scale.of(judged(pad_study), estimate_project(bench, pad))
    keys = [c.key for c in space.choices]
    genes = list(space.start.genes)
    genes[keys.index("meshes_x 0")] += 2
    genes[keys.index("ring")] = 1
    draft = Draft(tuple(genes))
    told, true = scale.read(estimate(bench, draft)), judged(run_study(space.made(draft)))
    for key in ("touch-bare-soil", "step-bare-soil"):
        assert told[key] == pytest.approx(true.ratios[key], rel=0.10)  # a few hundred places only


@pytest.mark.slow
def test_the_optimum_is_that_of_an_exhaustive_search(pad, pad_study):
    """Every design of a small space, priced and judged; those cheaper than the answer fail a full study."""
    few = {"most_rod_sections": 1, "least_rod_spacing_m": 12.0, "least_spacing_m": 3.0}
    rules = replace(pad.construction, **few)
    project = replace(pad, construction=rules)
    study = replace(pad_study, project=project)
    space = space_of(project)
    answer = find_cheapest(study, PRICES, effort=Effort(population=8, generations=3, studies=12, seed=2))
    assert answer.made is not None
    bench, demand = bench_of(space, study, PRICES), Demand(0.0, judged(study))
    scale = Scale.of(answer.best, estimate(bench, answer.draft))
    every = [Draft(g) for g in itertools.product(*(range(len(c.options)) for c in space.choices))]
    picked = [d for d in every if _plain(space, d)]
    assert 50 < len(picked) <= 400
    guesses = {d: estimate(bench, d) for d in picked}
    assert min(g.cost for g in guesses.values()) < answer.best_cost  # cost alone does not decide
    cheaper = [
        d
        for d, g in guesses.items()
        if not g.broken and g.cost < answer.best_cost * 0.999 and demand.excess(scale.read(g)) < 0.0
    ]
    for draft in cheaper:  # whatever the estimate would still allow, the full study refuses
        assert demand.fails(judged(run_study(space.made(draft))))
    assert len(cheaper) <= 3


def _plain(space, draft):
    """One of each set of drafts that are equal: sections of rods that are not there do not count."""
    chosen = space.chosen(draft)
    equal = chosen["edge_x 0"] == chosen["edge_y 0"] and chosen["edge_x 0"] in (1.0, 0.5)
    return equal and (chosen["edge_rods 0"] or chosen["edge_sections 0"] == 1)


def test_the_answer_passes_and_costs_less_than_its_neighbours_that_pass(found, pad_study):
    assert found.best is not None
    assert set(found.best.verdicts.values()) == {"pass"}
    assert "fail" in found.start.verdicts.values()  # the pad as drawn does not stand the current
    costs = [r.cost for r in found.front]
    margins = [r.margin for r in found.front]
    assert costs == sorted(costs)
    assert margins == sorted(margins)
    assert costs[0] == pytest.approx(found.best_cost)
    assert found.front[0].studied


def test_every_element_has_a_reason(found):
    assert found.reasons
    for row in found.reasons:
        rule = row.margin_without is None
        broken = row.margin_without is not None and row.margin_without < 0.0
        assert rule or broken or row.saving <= 0.0 or found.refused


def test_margins_can_be_asked_for(pad_study, found):
    more = find_cheapest(pad_study, PRICES, margin=0.15, effort=QUICK)
    assert more.best is not None
    assert max(more.best.ratios[k] for k in more.best.volts) <= 0.85 + 1e-9
    assert more.best_cost > found.best_cost


def test_a_stopped_search_goes_on_where_it_was(pad_study, found, tmp_path):
    place, told = tmp_path / "kept.sqlite", []

    def stop(text, done):
        told.append(text)
        if len(told) > 12:
            raise CancelledError("stopped")

    with Store(place) as store:
        with pytest.raises(CancelledError, match="stopped"):
            find_cheapest(pad_study, PRICES, effort=QUICK, store=store, progress=stop)
        before = len(store)
        assert before > 0
    with Store(place) as store:
        again = find_cheapest(pad_study, PRICES, effort=QUICK, store=store)
        assert len(store) > before
    assert (again.draft, again.best_cost, again.front) == (found.draft, found.best_cost, found.front)
    with Store(place) as store:
        seen = []
        find_cheapest(pad_study, PRICES, effort=QUICK, store=store, progress=lambda t, d: seen.append(t))
        assert not [t for t in seen if "designs" in t]  # everything was known


@pytest.mark.slow
def test_the_answer_does_not_depend_on_the_workers(pad_study, found):
    two = find_cheapest(pad_study, PRICES, effort=QUICK, workers=2)
    assert (two.draft, two.estimates) == (found.draft, found.estimates)
    assert two.best_cost == pytest.approx(found.best_cost, rel=1e-9)  # rounding of the field only


def test_the_design_is_written_as_a_project_file_that_says_the_same(pad, pad_data, found):
    text = written(pad_text(pad_data, RULES), pad, found.made, "found by a search")
    assert text.startswith("# kept\n")
    read = parse_project(text, "pad.yaml")
    assert read.assumptions[-1] == "found by a search"
    study = run_study(read)
    assert judged(study).ratios == pytest.approx(dict(found.best.ratios), rel=1e-6)  # rounding of the field
    assert total_cost(design_of_study(study), PRICES).total == pytest.approx(
        found.best_cost, abs=1e-3
    )  # kept to 0.0001


def test_evolution_finds_the_front_of_a_problem_solved_by_counting():
    """Few and far: minimise (a + b, (a - 6)^2 + (b - 6)^2) with a >= 2 over 8 x 8 numbers."""

    def values(g):
        return g[0] + g[1], (g[0] - 6) ** 2 + (g[1] - 6) ** 2

    seen = set()

    def score(genes):
        seen.update(genes)
        return np.array([values(g) for g in genes], dtype=float), np.array([[2.0 - g[0]] for g in genes])

    def front(points):
        allowed = {values(g) for g in points if g[0] >= 2}
        return {p for p in allowed if not any(q[0] <= p[0] and q[1] <= p[1] and q != p for q in allowed)}

    evolve([8, 8], (0, 0), score, population=16, generations=12, seed=1)
    assert front(seen) == front(itertools.product(range(8), range(8)))
    first = set(seen)
    seen.clear()
    evolve([8, 8], (0, 0), score, population=16, generations=12, seed=1)
    assert seen == first


def test_a_file_without_rules_is_refused(small):
    with pytest.raises(InputError, match="no section construction"):
        space_of(replace(small, construction=None))
    with pytest.raises(InputError, match="nothing to choose"):
        space_of(replace(small, construction=Construction(lines=False, rods=False)))


def test_slips_in_the_rules_are_told_with_their_line(pad_data):
    rules = {
        "least_spacing_m": 3,
        "greatest_spacing_m": 5,
        "covers": [{"zone": "yrad", "material": "rock", "resistivity_ohm_m": 3000, "thicknesses_m": [0.1]}],
        "mat_conductors": {"other": {"material": "coper_hard_drawn"}},
    }
    with pytest.raises(InputError) as caught:
        parse_project(pad_text(pad_data, rules), "pad.yaml")
    codes = {f.code: f for f in caught.value.findings}
    assert set(codes) == {"construction-spacing", "construction-zone", "material-unknown"}
    assert all(f.line > 0 for f in codes.values())
    assert "copper_hard_drawn" in codes["material-unknown"].advice


@pytest.mark.slow
def test_the_command_writes_a_design_that_the_study_accepts(pad_data, tmp_path, capsys):
    from evenground.cli._main import app

    file = tmp_path / "pad.yaml"
    file.write_text(pad_text(pad_data, RULES))
    words = ["thrift", str(file), "--population", "6", "--generations", "2", "--studies", "4"]
    with pytest.raises(SystemExit) as ended:
        app([*words, "--workers", "1", "--quiet"])
    assert ended.value.code == 0
    folder = tmp_path / "pad-thrift"
    names = {"front.csv", "thrift.json", "thrift.pdf", "front.png", "layouts.png"}
    assert {p.name for p in folder.iterdir()} == names
    assert "PLACEHOLDER PRICES" in capsys.readouterr().out
    with pytest.raises(SystemExit) as ended:
        app(["study", str(tmp_path / "pad-thrift.yaml"), "--no-files", "--quiet"])
    assert ended.value.code == 0


def test_the_command_refuses_a_file_without_rules(pad_file, capsys):
    from evenground.cli import main

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.argv", ["evenground", "thrift", str(pad_file)])
        with pytest.raises(SystemExit) as ended:
            main()
    assert ended.value.code == 2
    assert "no section construction" in capsys.readouterr().err
