"""A group of features as columns: ids, shapes in longitude and latitude, properties.

A block of ten thousand laterals is a handful of arrays and not ten thousand dictionaries.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import numpy as np
import shapely

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from ringrow.frame import Frame


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FeatureGroup:
    """Features of one kind that share most of their properties.

    Parameters
    ----------
    kind : str
        What they are: ``boundary``, ``lateral``, ``flag``, ...
    ids : sequence of str
        One id a feature, unique in the farm.
    shapes : ndarray of shapely geometry, shape (n,)
        Longitude and latitude; None for a feature without a position. [deg]
    shared : dict of str to object
        Properties that all of them have in common.
    columns : dict of str to sequence
        Properties that differ: one sequence of n values each.
    """

    kind: str
    ids: Sequence[str]
    shapes: NDArray[np.object_]
    shared: Mapping[str, Any] = field(default_factory=dict)
    columns: Mapping[str, Sequence[Any]] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.ids)

    def properties(self, index: int) -> dict[str, Any]:
        """Return all properties of one feature of the group.

        Parameters
        ----------
        index : int
            Which feature, from 0.

        Returns
        -------
        dict of str to object
            Shared properties first, then its own.
        """
        own = {name: values[index] for name, values in self.columns.items()}
        return {"feature": self.kind, **self.shared, **own}

    def select(self, indices: Sequence[int]) -> FeatureGroup:
        """Return the group with only some of its features.

        Parameters
        ----------
        indices : sequence of int
            Which features, from 0, in the order wanted.

        Returns
        -------
        FeatureGroup
            A new group; this one stays as it is.
        """
        return FeatureGroup(
            kind=self.kind,
            ids=[self.ids[index] for index in indices],
            shapes=self.shapes[list(indices)],
            shared=self.shared,
            columns={name: [values[index] for index in indices] for name, values in self.columns.items()},
        )


def feature_id(kind: str, owner: str, name: str, *parts: object) -> str:
    """Return the id of a feature: ``<kind>:<owner>/<name>[/<number>][/<piece>]``.

    Parameters
    ----------
    kind : str
        Feature kind.
    owner : str
        Field, or the farm's name for what belongs to no field.
    name : str
        Name of the thing.
    *parts : object
        Number and piece, where there are any; None is left out.

    Returns
    -------
    str
        The id, each part percent-escaped.

    Examples
    --------
    >>> feature_id("lateral", "North 80", "A/B drip", 43, "b")
    'lateral:North%2080/A%2FB%20drip/43/b'
    """
    path = [quote(str(part), safe="") for part in (owner, name, *parts) if part is not None]
    return f"{kind}:{'/'.join(path)}"


def to_lonlat(frame: Frame, shapes: Any) -> NDArray[np.object_]:
    """Return shapes of a frame as shapes in longitude and latitude.

    Parameters
    ----------
    frame : Frame
        The frame the shapes are in.
    shapes : array_like of shapely geometry, shape (n,)
        Shapes in the frame. [m]

    Returns
    -------
    ndarray of shapely geometry, shape (n,)
        The same shapes. [deg]
    """
    array = np.atleast_1d(np.asarray(shapes, dtype=object))
    moved = shapely.transform(array, lambda xy: np.column_stack(frame.to_lonlat(xy[:, 0], xy[:, 1])))
    return np.asarray(moved, dtype=object)
