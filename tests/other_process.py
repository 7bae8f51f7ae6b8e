"""The same work in other processes, in other time zones and with other hash seeds."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

_TESTS = Path(__file__).parent


def printed_elsewhere(script: str) -> set[str]:
    """What a script prints in two processes that differ in time zone and hash seed; it must end well in both."""
    printed = set()
    for zone, seed in (("Asia/Tokyo", "1"), ("America/Lima", "2")):
        paths = os.pathsep.join((str(_TESTS), str(_TESTS.parent)))
        environment = {**os.environ, "TZ": zone, "PYTHONHASHSEED": seed, "PYTHONPATH": paths}
        result = subprocess.run([sys.executable, "-c", script], env=environment, capture_output=True, text=True)
        assert result.returncode == 0, result.stderr
        printed.add(result.stdout.strip())
    return printed
