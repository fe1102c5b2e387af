"""Distance to lines by the plain formula for each of their edges: slow, and independent of any index."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import LineString


def distances_m(line: LineString, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the distance of places from a line: the least over all its edges."""
    corners = shapely.get_coordinates(line)
    dx, dy = np.diff(corners, axis=0).T[:, :, None]
    from_x, from_y = x - corners[:-1, 0, None], y - corners[:-1, 1, None]
    share = np.clip((from_x * dx + from_y * dy) / (dx * dx + dy * dy), 0.0, 1.0)
    from_x -= share * dx
    from_y -= share * dy
    return np.sqrt((from_x * from_x + from_y * from_y).min(axis=0))
