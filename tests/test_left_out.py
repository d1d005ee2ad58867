"""What a bare machine cannot test is left out and said so; in the build that is an error."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

TESTS = """
import pytest

@pytest.mark.browser
def test_in_a_browser():
    raise AssertionError("there is no browser here")

@pytest.mark.postgresql
def test_of_postgresql():
    raise AssertionError("there is no server here")

def test_anywhere():
    pass
"""


@pytest.fixture
def run_bare(tmp_path):
    """Run tests where neither Chromium nor PostgreSQL is to be found."""

    def run(tests: str, **environment: str) -> subprocess.CompletedProcess[str]:
        (tmp_path / "test_some.py").write_text(tests)
        return subprocess.run(
            [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "-c", "pyproject.toml"]
            + ["--rootdir", str(tmp_path), "--noconftest", "-p", "tests.left_out", str(tmp_path)],
            cwd=ROOT,
            env={
                "PATH": str(tmp_path),
                "BREWLOG_DATA": str(tmp_path / "data"),
                "HOME": os.environ.get("HOME", str(tmp_path)),
                **environment,
            },
            capture_output=True,
            text=True,
            timeout=120,
        )

    return run


def test_a_bare_machine_passes_and_says_what_it_left_out(run_bare):
    ran = run_bare(TESTS)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "1 passed" in ran.stdout
    assert "Left out: browser tests (no Chromium found)." in ran.stdout
    assert "Left out: the suite on PostgreSQL and the tests of it" in ran.stdout


def test_the_build_refuses_to_leave_the_browser_out(run_bare):
    ran = run_bare(TESTS, BREWLOG_CI="yes")
    assert ran.returncode != 0
    assert "BREWLOG_CI leaves nothing out: browser tests" in ran.stdout + ran.stderr


SKIPPED = """
import pytest

def test_skipped():
    pytest.skip("later")

def test_expected_to_fail():
    pytest.xfail("later")
"""


def test_a_skip_passes_at_home_and_fails_in_the_build(run_bare, tmp_path):
    assert run_bare(SKIPPED).returncode == 0
    (tmp_path / "chromium").write_text("#!/bin/sh\n")
    (tmp_path / "chromium").chmod(0o755)
    ran = run_bare(SKIPPED, BREWLOG_CI="yes")
    assert ran.returncode == 1
    assert "BREWLOG_CI allows no skipped and no xfailed tests." in ran.stdout
