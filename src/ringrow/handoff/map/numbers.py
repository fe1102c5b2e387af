"""Numbers of the map file: short ones, lines as steps, JSON text, and curves that stand in for a frame."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from ringrow.frame import Frame


COORDINATE_STEP_DEG = 1e-6
"""Step of a drawn outline's coordinates: 0.11 m of latitude [deg]."""

SIMPLIFY_DEG = 2e-6
"""How far a drawn outline may run beside the true one: 0.22 m of latitude [deg]."""


def json_text(value: Any) -> str:
    r"""Return JSON that is safe inside a script element of a page.

    Parameters
    ----------
    value : object
        What to write.

    Returns
    -------
    str
        JSON in which no text can end the script element or start a comment.

    Examples
    --------
    >>> print(json_text({"note": "</script><!--"}))
    {"note":"\u003c/script\u003e\u003c!--"}
    """
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    escapes = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}
    for character, escape in escapes.items():
        text = text.replace(character, escape)
    return text


def lonlat_terms(x_m: NDArray[np.float64], y_m: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the terms of the polynomial that stands for a field's frame on the page.

    Parameters
    ----------
    x_m, y_m : ndarray, shape (n,)
        Position in the frame. [m]

    Returns
    -------
    ndarray, shape (n, 10)
        1, x, y, x2, xy, y2, x3, x2y, xy2, y3 of the position in kilometres.
    """
    x, y = np.asarray(x_m) / 1000.0, np.asarray(y_m) / 1000.0
    one = np.ones_like(x)
    return np.stack([one, x, y, x * x, x * y, y * y, x**3, x * x * y, x * y * y, y**3], axis=-1)


def lonlat_polynomial(frame: Frame, reach_m: float) -> dict[str, list[float]]:
    """Return polynomials that turn a field's metres into longitude and latitude.

    The page has no geodesy library; within a field a cubic is right to a millimetre.

    Parameters
    ----------
    frame : Frame
        The field's frame.
    reach_m : float
        How far from the origin it must hold, at least 100. [m]

    Returns
    -------
    dict of str to list of float
        Coefficients of `lon` and `lat` for the terms of `lonlat_terms`. [deg]
    """
    steps = np.linspace(-reach_m, reach_m, 13)
    x, y = (axis.ravel() for axis in np.meshgrid(steps, steps))
    lon, lat = frame.to_lonlat(x, y)
    terms = lonlat_terms(x, y)
    # Fitted to the difference from the origin: the numbers stay small and the fit exact.
    east, _, _, _ = np.linalg.lstsq(terms, lon - frame.lon, rcond=None)
    north, _, _, _ = np.linalg.lstsq(terms, lat - frame.lat, rcond=None)
    east[0] += frame.lon
    north[0] += frame.lat
    return {"lon": short_numbers(east, 13), "lat": short_numbers(north, 13)}


def short_numbers(values: NDArray[np.floating[Any]], decimals: int) -> list[float]:
    """Return numbers rounded, for JSON.

    Parameters
    ----------
    values : ndarray
        Any numbers.
    decimals : int
        How many decimals stay.

    Returns
    -------
    list of float
        Zero is never negative.

    Examples
    --------
    >>> import numpy as np
    >>> short_numbers(np.array([1.26, -0.01]), 1)
    [1.3, 0.0]
    """
    return [float(value) for value in np.round(values, decimals) + 0.0]


def stepped_lines(
    shape: BaseGeometry,
    bounds: Sequence[float],
    *,
    smallest_deg: float = 0.0,
    tolerance_deg: float = SIMPLIFY_DEG,
) -> list[list[int]]:
    """Return lines or rings as steps from point to point, the first one from the map's south-west.

    Parameters
    ----------
    shape : shapely geometry
        Longitude and latitude. [deg]
    bounds : sequence of float
        West, south, east and north of the map. [deg]
    smallest_deg : float, default 0
        Rings no wider and no higher than this are left out. [deg]
    tolerance_deg : float, default 2e-6
        How far a line may be moved to need fewer points. [deg]

    Returns
    -------
    list of list of int
        For each line east and north by turns, in steps of `COORDINATE_STEP_DEG`.
    """
    parts = shapely.get_parts(shapely.simplify(shape, tolerance_deg))
    lines = shapely.get_rings(parts) if shape.geom_type.endswith("Polygon") else parts
    west, south, east, north = shapely.bounds(lines).T
    lines = lines[np.maximum(east - west, north - south) >= smallest_deg]
    lonlat, owner = shapely.get_coordinates(lines, return_index=True)
    steps = np.rint((lonlat - np.array(bounds[:2])) / COORDINATE_STEP_DEG).astype(int)
    ends = np.flatnonzero(np.diff(owner)) + 1
    return [np.diff(line, axis=0, prepend=0).ravel().tolist() for line in np.split(steps, ends) if len(line)]
