"""Fixtures every test may use."""

import os
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def shared_real() -> Path:
    """The folder of real recordings beside the checkout, which is never part of the project."""
    default = Path(__file__).resolve().parents[2] / "shared" / "real"
    folder = Path(os.environ.get("DRIFTLEAD_REAL", default))
    if not folder.is_dir():
        pytest.skip("the real recordings are not on this machine (set DRIFTLEAD_REAL to them)")
    return folder
