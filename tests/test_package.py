"""The package away from its checkout: wheel and sdist hold rules, catalogue and demo calls, and work."""

import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


def run(*command, cwd, env=None):
    done = subprocess.run(
        [sys.executable, *map(str, command)],
        cwd=cwd,
        capture_output=True,
        text=True,
        timeout=180,
        env={**os.environ, **(env or {})},
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def built(source, where):
    run("-m", "hatchling", "build", "-d", where, cwd=source)
    return next(where.glob("*.whl")), next(where.glob("*.tar.gz"))


@pytest.fixture(scope="module")
def packages(tmp_path_factory):
    """Wheel and sdist of this checkout, and the wheel that the unpacked sdist gives."""
    first, second, unpacked = (tmp_path_factory.mktemp(name) for name in ("first", "second", "unpacked"))
    wheel, sdist = built(ROOT, first)
    with tarfile.open(sdist) as archive:
        archive.extractall(unpacked, filter="data")
    again, _ = built(next(unpacked.iterdir()), second)
    return wheel, again


def test_wheel_from_checkout_and_from_sdist_hold_the_same_files(packages):
    contents = [sorted(zipfile.ZipFile(wheel).namelist()) for wheel in packages]
    assert contents[0] == contents[1]
    for part in ("advisor/shop/rules/facts.yaml", "advisor/shop/rules/catalogue/turbos.yaml",
                 "advisor/shop/transcripts_demo/tow-only.yaml", "advisor/sheet/call_sheet.html"):  # fmt: skip
        assert part in contents[0]


def test_the_installed_wheel_works_in_an_empty_folder(packages, tmp_path):
    target, empty = tmp_path / "installed", tmp_path / "empty"
    empty.mkdir()
    run("-m", "pip", "install", "-q", "--no-deps", "--no-index", "--target", target, packages[1], cwd=empty)
    env = {"PYTHONPATH": str(target)}
    where = run("-c", "import advisor; print(advisor.__file__)", cwd=empty, env=env)
    assert Path(where.strip()).is_relative_to(target)
    assert "0 to mend" in run("-m", "advisor", "check", cwd=empty, env=env)
    script = target / "advisor" / "shop" / "transcripts_demo" / "tow-only.yaml"
    assert "Recommended:" in run("-m", "advisor", "call", "--answers", script, cwd=empty, env=env)
    assert "0 differ, 0 refused" in run("-m", "advisor", "replay", script, cwd=empty, env=env)
