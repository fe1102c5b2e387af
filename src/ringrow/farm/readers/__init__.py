"""Reading flags from files that people bring: GPX, CSV and GeoJSON."""

from ringrow.farm.readers.open import READABLE, read_points
from ringrow.farm.readers.rows import PointFile, PointRow, Refused

__all__ = ["READABLE", "PointFile", "PointRow", "Refused", "read_points"]
