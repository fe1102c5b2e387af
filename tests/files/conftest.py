"""Makes `farms`, the writer of small farms, importable from the tests in this folder."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
