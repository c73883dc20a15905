"""Options and settings that all tests share."""

from __future__ import annotations

import os
import tempfile

import pytest
from hypothesis import HealthCheck, settings

os.environ["XDG_CACHE_HOME"] = tempfile.mkdtemp(prefix="planbuilder-cache-")  # leave the user's own alone

settings.register_profile(
    "house", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow], max_examples=100
)
settings.load_profile("house")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--accept",
        action="store_true",
        help="write the generated documents and the golden plans anew; read the diff before you commit it",
    )
