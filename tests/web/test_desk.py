"""The open project: history, saving, foreign changes, recovery."""

import os
import signal
import subprocess
import sys
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenground.errors import InputError
from evenground.project import load_project, starter_text
from evenground.project._save import ChangedOnDiskError, earlier_states, read_draft, read_state, save_text
from evenground.web._desk import Desk


@pytest.fixture
def site(tmp_path):
    file = tmp_path / "site.yaml"
    file.write_text(starter_text("substation"))
    return file


def test_undo_and_redo_bring_back_every_text(site):
    desk = Desk.open(site)
    texts = [desk.text]
    for k in range(30):
        desk.command({"do": "add_rod", "at": [k, -2]})
        texts.append(desk.text)
    for text in reversed(texts[:-1]):
        assert desk.undo()
        assert desk.text == text
    assert not desk.undo()
    for text in texts[1:]:
        assert desk.redo()
        assert desk.text == text
    assert not desk.redo()


@settings(max_examples=20, deadline=None)
@given(st.lists(st.sampled_from(["edit", "undo", "redo"]), max_size=30))
def test_history_behaves_like_two_stacks(tmp_path_factory, acts):
    file = tmp_path_factory.mktemp("h") / "site.yaml"
    file.write_text(starter_text("plant"))
    desk = Desk.open(file)
    past, future, number = [], [], 0
    for act in acts:
        now = desk.text
        if act == "edit":
            number += 1
            desk.put(("project", "title"), f"title {number}")
            past, future = [*past, now], []
        elif act == "undo":
            assert desk.undo() == bool(past)
            if past:
                future.append(now)
                assert desk.text == past.pop()
        else:
            assert desk.redo() == bool(future)
            if future:
                past.append(now)
                assert desk.text == future.pop()


def test_an_edit_made_on_an_earlier_state_is_refused(site):
    desk = Desk.open(site)
    shown = desk.view["revision"]
    desk.command({"do": "add_rod", "at": [1, -2]}, shown)
    with pytest.raises(InputError, match="changed meanwhile"):
        desk.command({"do": "add_rod", "at": [2, -2]}, shown)


def test_saving_keeps_the_earlier_state_and_its_comments(site):
    before = site.read_text()
    desk = Desk.open(site)
    desk.put(("frequency_hz",), 60)
    assert desk.unsaved
    desk.save()
    assert not desk.unsaved
    assert load_project(site).frequency_hz == 60
    (earlier,) = earlier_states(site)
    assert earlier.read_text() == before
    assert [x for x in site.read_text().splitlines() if "#" in x] == [
        x.replace("frequency_hz: 50", "frequency_hz: 60") for x in before.splitlines() if "#" in x
    ]


def test_two_programs_do_not_overwrite_each_other(site):
    first, second = Desk.open(site), Desk.open(site)
    first.put(("project", "title"), "of the first")
    second.put(("project", "title"), "of the second")
    first.save()
    with pytest.raises(ChangedOnDiskError, match="nothing was written"):
        second.save()
    assert load_project(site).identity.title == "of the first"
    assert second.foreign is not None
    second.keep_own()
    assert load_project(site).identity.title == "of the second"
    assert any("of the first" in p.read_text() for p in earlier_states(site))


def test_a_foreign_change_is_noticed_and_can_be_taken_with_own_work_in_the_history(site):
    desk = Desk.open(site)
    desk.put(("project", "title"), "own")
    site.write_text(starter_text("substation").replace("frequency_hz: 50", "frequency_hz: 60"))
    desk.seen(read_state(site))
    assert desk.foreign is not None
    desk.take_foreign()
    assert desk.data["frequency_hz"] == 60
    assert not desk.unsaved
    desk.undo()
    assert desk.data["project"]["title"] == "own"


def test_a_deleted_file_is_written_again_only_when_asked(site):
    desk = Desk.open(site)
    desk.put(("project", "title"), "own")
    site.unlink()
    desk.seen(None)
    assert desk.missing
    with pytest.raises(ChangedOnDiskError, match="no longer there"):
        desk.save()
    desk.keep_own()
    assert load_project(site).identity.title == "own"


def test_unsaved_work_is_found_again_after_a_kill(site):
    """A process that edits, keeps its draft and is killed without warning."""
    code = (
        "import sys, time\nfrom pathlib import Path\nfrom evenground.web._desk import Desk\n"
        "d = Desk.open(Path(sys.argv[1]))\nd.put(('project', 'title'), 'unsaved title')\nd.write_draft()\n"
        "print('kept', flush=True)\ntime.sleep(60)\n"
    )
    process = subprocess.Popen([sys.executable, "-c", code, str(site)], stdout=subprocess.PIPE, text=True)
    assert process.stdout.readline().strip() == "kept"
    process.send_signal(signal.SIGKILL)
    process.wait(10)
    process.stdout.close()
    desk = Desk.open(site)
    assert desk.found_draft is not None
    assert "unsaved title" not in desk.text
    desk.take_draft()
    assert desk.data["project"]["title"] == "unsaved title"
    desk.save()
    assert read_draft(site) is None
    assert Desk.open(site).found_draft is None


def test_work_beside_an_unanswered_offer_survives_a_crash_and_so_does_what_was_offered(site):
    before = Desk.open(site)
    before.put(("project", "title"), "older work")
    before.write_draft()
    desk = Desk.open(site)
    desk.put(("project", "title"), "newer work")
    desk.write_draft()  # no answer to the offer; then the process is killed
    again = Desk.open(site)
    assert again.found_draft.text == desk.text
    assert "older work" in earlier_states(site)[0].read_text()
    desk.leave_draft()
    desk.write_draft()
    assert Desk.open(site).found_draft.text == desk.text


def test_a_damaged_draft_is_passed_over(site):
    (site.parent / f".{site.name}.draft").write_text('{"text": "half')
    assert Desk.open(site).found_draft is None


def test_a_kill_while_saving_leaves_a_whole_file(site):
    """Save again and again in a process, kill it at many moments; the file is always whole."""
    code = (
        "import sys\nfrom pathlib import Path\nfrom evenground.web._desk import Desk\n"
        "d = Desk.open(Path(sys.argv[1]))\nk = 0\nprint('go', flush=True)\n"
        "while True:\n    k += 1\n    d.put(('project', 'title'), f'title {k}')\n    d.save()\n"
    )
    for wait in (0.01, 0.03, 0.06):
        process = subprocess.Popen([sys.executable, "-c", code, str(site)], stdout=subprocess.PIPE, text=True)
        process.stdout.readline()
        time.sleep(wait)
        process.kill()
        process.wait(10)
        process.stdout.close()
        load_project(site)
        lock = site.parent / f".{site.name}.lock"
        if lock.exists():  # the next writer waits for it to grow old; here time is turned forward
            os.utime(lock, (0, 0))


def test_only_so_many_earlier_states_are_kept(site, monkeypatch):
    monkeypatch.setattr("evenground.project._save.KEPT", 5)
    state = read_state(site)
    for k in range(9):
        state = save_text(site, state.text + f"# {k}\n", state.sha256)
    assert len(earlier_states(site)) == 5
    assert earlier_states(site)[0].read_text().endswith("# 7\n")


def test_permissions_and_links_stay(site, tmp_path):
    site.chmod(0o640)
    link = tmp_path / "link.yaml"
    link.symlink_to(site)
    desk = Desk.open(link)
    desk.put(("frequency_hz",), 60)
    desk.save()
    assert link.is_symlink()
    assert site.stat().st_mode & 0o777 == 0o640
    assert load_project(site).frequency_hz == 60
