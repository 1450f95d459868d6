"""What it takes to install: the unit as systemd reads it, completion as bash reads it, licence, and other systems."""

import json
import re
import shutil
import subprocess
import sys
from importlib.metadata import metadata, version
from pathlib import Path

import pytest
import yaml

from bot.__main__ import main
from tests.bot.household_phones import demo_garden

ROOT = Path(__file__).parents[3]
# What Windows lacks, taken away before anything of ours is imported; and its event loop, which takes no signals.
WITHOUT_UNIX = """
import asyncio, json, os, signal, sys
for name in ("fcntl", "pwd", "grp", "resource", "termios"):
    sys.modules[name] = None
for name in ("geteuid", "getuid", "fchown", "fchmod", "pread", "pwrite"):
    delattr(os, name)
del signal.SIGHUP
class Locking:
    LK_NBLCK = 2
    @staticmethod
    def locking(file, how, count): pass
sys.modules["msvcrt"] = Locking
def none(*_): raise NotImplementedError
asyncio.unix_events._UnixSelectorEventLoop.add_signal_handler = none
from bot.__main__ import main
for name, *more in json.loads(sys.argv[2]):
    if main([name, sys.argv[1], *more]):
        sys.exit(f"{name} failed")
"""


def printed(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(arguments) == 0
    return capsys.readouterr().out


@pytest.mark.parametrize("many", [False, True])
def test_systemd_finds_no_fault_with_the_unit(many: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = printed(capsys, "unit", *(["--many"] if many else []))
    assert ("serve-many /var/lib/bedstraw/gardens" if many else "serve /var/lib/bedstraw/my_garden.toml") in text
    assert ("postgresql.service" in text) == many
    verify = shutil.which("systemd-analyze")
    if verify is None:
        pytest.skip("systemd is not installed here")
    place = tmp_path / f"bedstraw{'@' if many else ''}.service"
    place.write_text(text.replace("/opt/bedstraw/bin/bedstraw", "/bin/true").replace("User=bedstraw", "User=root"))
    seen = subprocess.run([verify, "verify", str(place)], capture_output=True, text=True)
    assert "bedstraw" not in seen.stderr, seen.stderr


def test_bash_completes_our_commands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    script = tmp_path / "completion"
    script.write_text(printed(capsys, "completion", "bash"))
    function = re.search(r"-F (\S+) bedstraw", script.read_text())
    assert function is not None
    typed = f"source {script}; COMP_WORDS=(bedstraw try); COMP_CWORD=1; {function[1]} bedstraw try bedstraw"
    shell = ["bash", "-c", f'{typed}; echo "${{COMPREPLY[@]}}"']
    told = subprocess.run(shell, capture_output=True, text=True, check=True)
    assert told.stdout.split() == ["try-alarm"]


def test_the_version_is_the_packages(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as leave:
        main(["--version"])
    assert leave.value.code == 0
    assert capsys.readouterr().out == f"bedstraw {version('bedstraw')}\n"


def test_the_licence_stands_in_the_package_and_in_the_readme() -> None:
    own = " ".join((ROOT / "bot" / "licence.txt").read_text(encoding="utf-8").split())
    assert own in " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())
    assert metadata("bedstraw")["License-Expression"] == "MIT"


def test_the_container_is_made_of_files_that_are_there() -> None:
    """Only read, since no base image can be had here: what is copied in is there, and the program's own words fit."""
    folder = ROOT / ".container"
    recipe = (folder / "Containerfile").read_text(encoding="utf-8")
    copied = [word for line in re.findall(r"^COPY (.*)$", recipe, re.MULTILINE) for word in line.split()[:-1]]
    assert copied
    assert [name for name in copied if not (ROOT / name).exists()] == []
    service = yaml.safe_load((folder / "compose.yaml").read_text(encoding="utf-8"))["services"]["bedstraw"]
    assert (folder / service["build"]["context"] / service["build"]["dockerfile"]).samefile(folder / "Containerfile")


def test_it_talks_where_unix_has_no_calls(tmp_path: Path) -> None:
    garden = demo_garden(tmp_path, "Porch fig")
    commands = ["chat"], ["check"], ["season", "--csv", str(tmp_path / "season.csv")]
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT_UNIX, str(garden), json.dumps(commands)],
        input="closed porch\nwho is here\n", capture_output=True, text=True, cwd=ROOT,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "Porch fig closed" in done.stdout
