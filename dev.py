#!/usr/bin/env python3
"""Every command a user or developer of this checkout needs, with nothing to install first.

    python3 dev.py demo     set up, then run the study of the demo site
    python3 dev.py test     set up, then run the tests (extra words go to pytest)
    python3 dev.py check    what CI runs: lint, types, import rules, tests
    python3 dev.py bench    print the benchmark table
    python3 dev.py lock     write requirements.lock anew

Needs Python 3.11 or newer with the standard library only; installs into .venv in this folder.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
PYTHON = BIN / ("python.exe" if os.name == "nt" else "python")
LOCK = ROOT / "requirements.lock"
DEMO = ROOT / "examples" / "harrow-lane" / "site-revised.yaml"


def run(*words: object, check: bool = True) -> int:
    """Run a command in this folder; stop the script with its exit code when it fails."""
    code = subprocess.run([str(w) for w in words], cwd=ROOT, check=False).returncode
    if check and code:
        sys.exit(code)
    return code


def setup(extras: str) -> None:
    """Make .venv and install the package with the locked versions, unless that is done already."""
    wanted = hashlib.sha256(
        (ROOT / "pyproject.toml").read_bytes() + LOCK.read_bytes() + extras.encode() + sys.version.encode()
    ).hexdigest()
    stamp = VENV / "evenground-setup"
    if PYTHON.exists() and stamp.exists() and wanted in stamp.read_text().split():
        return
    if not PYTHON.exists():
        print("setting up .venv (about a minute)", file=sys.stderr, flush=True)
        venv.create(VENV, with_pip=True)
    target = f".[{extras}]" if extras else "."
    run(PYTHON, "-m", "pip", "install", "-q", "--disable-pip-version-check", "-c", LOCK, "-e", target)
    with stamp.open("a") as file:
        file.write(wanted + "\n")


def demo(words: list[str]) -> int:
    setup("")
    return run(
        PYTHON,
        "-m",
        "evenground",
        "study",
        DEMO,
        "--out",
        ROOT / "results" / "harrow-lane",
        *words,
        check=False,
    )


BROWSER = ("chromium", "chromedriver", "npm")


def have_browser() -> bool:
    """Whether Chromium, its driver and npm are there; on Debian as root they are installed when missing."""
    if all(map(shutil.which, BROWSER)):
        return True
    if shutil.which("apt-get") and hasattr(os, "geteuid") and os.geteuid() == 0:
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "check": False}
        subprocess.run(["apt-get", "update", "-qq"], **quiet)
        subprocess.run(["apt-get", "install", "-y", "-qq", "chromium", "chromium-driver", "npm"], **quiet)
    return all(map(shutil.which, BROWSER))


def test(words: list[str]) -> int:
    setup("test")
    extra: list[str] = []
    if not have_browser():
        print(
            "NOT RUN: tests/browser (install chromium, chromium-driver and npm)", file=sys.stderr, flush=True
        )
        extra = ["--ignore=tests/browser"]
    if not words:
        extra += ["-n", str(min(os.cpu_count() or 1, 4)), "--dist", "loadfile"]
    return run(PYTHON, "-m", "pytest", *extra, *words, check=False)


def check(words: list[str]) -> int:
    setup("test,dev")
    run(PYTHON, "-m", "ruff", "check", ".")
    run(PYTHON, "-m", "ruff", "format", "--check", ".")
    run(PYTHON, "-m", "mypy")
    run(BIN / "lint-imports")
    return test(words)


def bench(words: list[str]) -> int:
    setup("test")
    return run(PYTHON, "-m", "benchmarks", *words, check=False)


def lock(words: list[str]) -> int:
    setup("test,dev")
    run(PYTHON, "-m", "pip", "install", "-q", "uv")
    return run(
        PYTHON, "-m", "uv", "pip", "compile", "--quiet", "--universal", "--python-version", "3.11", "--strip-extras",
        "--no-annotate", "--no-header", "--no-emit-index-url", "--all-extras", "pyproject.toml", "-o", LOCK, *words,
    )  # fmt: skip


COMMANDS = {"demo": demo, "test": test, "check": check, "bench": bench, "lock": lock}

if __name__ == "__main__":
    if sys.version_info < (3, 11):
        sys.exit("Evenground needs Python 3.11 or newer")
    if len(sys.argv) < 2 or sys.argv[1] not in COMMANDS:
        sys.exit(__doc__)
    sys.exit(COMMANDS[sys.argv[1]](sys.argv[2:]))
