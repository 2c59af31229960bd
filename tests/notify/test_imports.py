"""What importing the notifiers costs a boat that does not use them."""

import os
import subprocess
import sys
from pathlib import Path

import driftlead

PROGRAM = """
import importlib, pathlib, sys
folder = pathlib.Path(sys.argv[1])
for file in folder.glob("*.py"):
    importlib.import_module("driftlead.notify." + file.stem)
import driftlead.testing
print(sorted({"aiohttp", "gpiozero", "numpy", "scipy", "pytest"} & set(sys.modules)))
"""


def test_importing_every_notifier_loads_neither_aiohttp_nor_gpiozero() -> None:
    """They are loaded when such a notifier is built; pytest only when a contract test skips."""
    package = Path(driftlead.__file__).parent
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(package / "notify")],
        env=os.environ | {"PYTHONPATH": str(package.parent)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "[]"
