"""The examples for whoever runs the machine: systemd takes them; commands and paths that they name are there."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from django.core.management import get_commands

from tests.conftest import ROOT

EXAMPLES = ROOT / "shop" / "keeping" / "examples"
UNITS = sorted(path.name for path in EXAMPLES.iterdir() if path.suffix in (".service", ".timer"))


@pytest.fixture
def at_home(tmp_path: Path) -> Path:
    """The units as they would stand on a machine whose project lies here."""
    python = (ROOT / ".venv").resolve() / "bin"
    for name in UNITS:
        text = (EXAMPLES / name).read_text().replace("/srv/tarebook/.venv/bin", str(python))
        (tmp_path / name).write_text(text.replace("/srv/tarebook/", f"{ROOT}/"))
    return tmp_path


def test_there_are_units_to_look_at():
    assert {"tarebook.service", "tarebook-backup.service", "tarebook-backup.timer"} == set(UNITS)


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="this machine has no systemd to ask")
@pytest.mark.parametrize("name", UNITS)
def test_systemd_takes_the_units(at_home, name):
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", str(at_home / name)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_the_commands_of_the_units_are_ours():
    named = re.findall(r"manage\.py (\w+)", "".join((EXAMPLES / name).read_text() for name in UNITS))
    assert named == ["backup", "witness"]
    assert set(named) <= set(get_commands())


def test_the_container_file_copies_what_is_there_and_installs_what_papers_need():
    text = (EXAMPLES / "Containerfile").read_text()
    assert (ROOT / "requirements.lock").is_file()
    assert 'CMD [".ci/serve", "run"]' in text
    needed = re.findall(r"want_library \S+ (libpango\S+)", (ROOT / ".ci" / "system").read_text())
    assert needed
    assert [name for name in set(needed) if name not in text] == []
