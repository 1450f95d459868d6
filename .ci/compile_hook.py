"""Builds the C of rules/compiled where a compiler is at hand; where none is, or it fails, numpy does the same."""

import subprocess
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface
from packaging.tags import sys_tags

PLACE = Path("rules") / "compiled" / "compiled.so"


class Compiled(BuildHookInterface[Any]):
    """Puts the library into the wheel, or beside its sources where the program is installed to be edited."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        root = Path(self.root)
        self.made = tempfile.TemporaryDirectory()
        built = root / PLACE if version == "editable" else Path(self.made.name) / PLACE.name
        try:
            subprocess.run(["sh", str(root / ".ci" / "compile"), str(built)], check=True, capture_output=True)
        except (OSError, subprocess.CalledProcessError):
            return
        if version != "editable":
            build_data["force_include"][str(built)] = str(PLACE)
            build_data["pure_python"] = False
            build_data["tag"] = f"py3-none-{next(iter(sys_tags())).platform}"

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        self.made.cleanup()
