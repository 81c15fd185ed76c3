"""The command line: exit codes, messages, and that nothing is lost on bad input."""

import json
import subprocess
import sys

import pytest
from typer.testing import CliRunner

from evenground.cli._main import app

DEMO = "examples/harrow-lane/site.yaml"


def command(*words, cwd=None):
    return subprocess.run(
        [sys.executable, "-m", "evenground", *map(str, words)],
        capture_output=True,
        text=True,
        cwd=cwd,
        timeout=120,
    )


@pytest.fixture
def starter(tmp_path):
    file = tmp_path / "site.yaml"
    result = CliRunner().invoke(app, ["new", str(file)])
    assert result.exit_code == 0
    return file


def test_help_shows_the_commands_and_the_caution():
    done = command("--help")
    assert done.returncode == 0
    for name in ("study", "soil", "new", "schema"):
        assert name in done.stdout
    assert "licensed engineer" in " ".join(done.stdout.split())


def test_help_loads_no_heavy_library():
    code = (
        "import sys; sys.argv=['evenground','--help']\n"
        "from evenground.cli import main\n"
        "try: main()\nexcept SystemExit: pass\n"
        "heavy={'numpy','scipy','numba','shapely','matplotlib','typst','pydantic'}\n"
        "print('LOADED', sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert "LOADED []" in done.stderr


def test_new_never_overwrites(starter):
    before = starter.read_text()
    done = command("new", starter)
    assert done.returncode == 2
    assert "exists already" in done.stderr
    assert starter.read_text() == before


def test_schema_is_json_schema():
    done = command("schema")
    assert done.returncode == 0
    assert json.loads(done.stdout)["type"] == "object"


def test_soil_command_prints_the_model(starter):
    done = command("soil", starter)
    assert done.returncode == 0
    assert "Ω·m" in done.stdout or "ohm" in done.stdout


@pytest.mark.parametrize("name", ["missing.yaml", "."])
def test_a_file_that_can_not_be_read_is_an_input_error(tmp_path, name):
    done = command("study", tmp_path / name)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert name in done.stderr or str(tmp_path) in done.stderr


def test_bad_input_shows_every_error_and_leaves_earlier_results_intact(starter):
    out = starter.parent / "out"
    first = command("study", starter, "--out", out)
    assert first.returncode in (0, 1, 3)
    before = {p.name: p.read_bytes() for p in out.iterdir() if p.is_file()}
    text = starter.read_text()
    assert "depth_m: 0.6" in text
    assert "frequency_hz: 50" in text
    starter.write_text(
        text.replace("depth_m: 0.6", "depth_m: 600").replace("frequency_hz: 50", "frequncy_hz: 50")
    )
    second = command("study", starter, "--out", out)
    assert second.returncode == 2
    assert "Traceback" not in second.stderr
    assert "frequency_hz" in second.stderr
    assert "600" in second.stderr
    assert "0.6" in second.stderr
    assert f"{starter.name}:" in second.stderr
    assert {p.name: p.read_bytes() for p in out.iterdir() if p.is_file()} == before


def test_a_folder_with_other_files_is_not_touched(starter):
    out = starter.parent / "precious"
    out.mkdir()
    (out / "letter.txt").write_text("keep me")
    done = command("study", starter, "--out", out)
    assert done.returncode == 2
    assert "other files" in done.stderr
    assert [p.name for p in out.iterdir()] == ["letter.txt"]


def test_json_output_is_the_study(starter):
    done = command("study", starter, "--json", "--no-files")
    data = json.loads(done.stdout)
    assert data["verdict"] in ("pass", "fail", "not decided")
    assert done.returncode == {"pass": 0, "fail": 1, "not decided": 3}[data["verdict"]]
    assert not (starter.parent / "site-results").exists()


def test_an_implausible_reading_is_found_with_its_line(starter):
    """Values below 0.1 ohm m are no soil (common practice: sea water has 0.2 ohm m)."""
    text = starter.read_text()
    line = next(i for i, row in enumerate(text.splitlines(), 1) if "spacing_m: 2," in row)
    rows = text.splitlines()
    rows[line - 1] = rows[line - 1].replace("resistance_ohm: 2", "resistance_ohm: 0.0002 # 2")
    starter.write_text("\n".join(r.split(" # 2")[0] + "}" if " # 2" in r else r for r in rows) + "\n")
    done = command("soil", starter)
    assert done.returncode == 2
    assert f"{starter.name}:{line}" in done.stderr


def test_piped_output_is_not_cut_to_the_width_of_a_terminal(capsys, monkeypatch):
    """Common practice: what goes into a file or a pipe keeps each sentence on one line."""
    from evenground.cli._run import PIPED_COLUMNS, wide_console

    sentence = " ".join(["word"] * 60)
    monkeypatch.delenv("COLUMNS", raising=False)
    console = wide_console()
    assert console.width == PIPED_COLUMNS
    console.print(sentence)
    assert capsys.readouterr().out.splitlines() == [sentence]
    monkeypatch.setenv("COLUMNS", "70")
    assert wide_console().width == 70
