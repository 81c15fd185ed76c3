"""A second process draws the same figures as this one, however the two share them."""

from evenground.deliver._second import begin, draw, draw_all, second_process
from evenground.deliver.plots import study_figures


def test_two_processes_draw_what_one_draws(study):
    names = list(study_figures(study))
    alone = draw(study, names)
    with second_process() as helper:
        begun = begin(study, helper)
        begun[2].result()  # the helper is on its way; the rest is shared
        together = draw_all(study, helper, begun)
        assert draw_all(study, helper) == alone
    assert list(together) == names
    assert together == alone
