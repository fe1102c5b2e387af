"""The features of a drip block besides its wetted ground: laterals, header and flush lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ringrow.coverage.drip_totals import end_lines
from ringrow.geometry.lateral_grid import lateral_lines, piece_name
from ringrow.handoff.feature_group import FeatureGroup, feature_id, to_lonlat

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from ringrow.coverage.drip_totals import EndLine
    from ringrow.coverage.field import DripLayout, Field
    from ringrow.units import UnitSystem

END_KINDS = {"header": "header", "flush line": "flush-line"}
"""Kinds of feature that header and flush lines are."""


def lateral_features(field: Field, drip: DripLayout, units: UnitSystem) -> Iterator[FeatureGroup]:
    """Yield one group with every piece of tape of a block; nothing for a block without tape.

    Parameters
    ----------
    field : Field
        The field.
    drip : DripLayout
        The block, laid out.
    units : UnitSystem
        Units of lengths among the properties.

    Yields
    ------
    FeatureGroup
        Lines from the header end, one a piece.
    """
    grid = drip.grid
    if not len(grid.piece_lateral):
        return
    lateral = grid.piece_lateral
    several = grid.pieces_per_lateral[lateral - 1] > 1
    letters = [piece_name(int(letter)) for letter in range(int(grid.piece_letter.max()) + 1)]
    pieces = [
        letters[letter] if cut else None
        for letter, cut in zip(grid.piece_letter.tolist(), several.tolist(), strict=True)
    ]
    stem = feature_id("lateral", field.name, drip.block.name)
    numbers = lateral.tolist()
    zero_m = grid.station_zero_m[lateral - 1]
    feet = units.from_m(1.0)
    yield FeatureGroup(
        kind="lateral",
        ids=[
            f"{stem}/{number}" if piece is None else f"{stem}/{number}/{piece}"
            for number, piece in zip(numbers, pieces, strict=True)
        ],
        shapes=to_lonlat(field.frame, lateral_lines(grid)),
        shared={"field": field.name, "name": drip.block.name},
        columns={
            "lateral": numbers,
            "piece": pieces,
            "zone": _zone_column(drip, lateral),
            units.key("start_station_ft"): ((grid.piece_start_m - zero_m) * feet).tolist(),
            units.key("stop_station_ft"): ((grid.piece_stop_m - zero_m) * feet).tolist(),
            units.key("length_ft"): ((grid.piece_stop_m - grid.piece_start_m) * feet).tolist(),
        },
    )


def end_line_features(field: Field, drip: DripLayout, units: UnitSystem) -> Iterator[FeatureGroup]:
    """Yield the header lines and the flush lines of a block, one of each a zone.

    Parameters
    ----------
    field : Field
        The field.
    drip : DripLayout
        The block, laid out.
    units : UnitSystem
        Units of lengths among the properties.

    Yields
    ------
    FeatureGroup
        A group of headers and a group of flush lines, where there are any.
    """
    lines = end_lines(drip)
    for kind, feature in END_KINDS.items():
        own = [line for line in lines if line.kind == kind]
        if own:
            yield _ends(field, drip, units, feature, own)


def _ends(field: Field, drip: DripLayout, units: UnitSystem, kind: str, lines: list[EndLine]) -> FeatureGroup:
    return FeatureGroup(
        kind=kind,
        ids=[feature_id(kind, field.name, drip.block.name, line.zone) for line in lines],
        shapes=to_lonlat(field.frame, [line.line for line in lines]),
        shared={"field": field.name, "name": drip.block.name},
        columns={
            "zone": [line.zone for line in lines],
            "valve": [line.valve for line in lines],
            "first_lateral": [line.first for line in lines],
            "last_lateral": [line.last for line in lines],
            units.key("length_ft"): [units.from_m(line.line.length) for line in lines],
        },
    )


def _zone_column(drip: DripLayout, lateral: NDArray[np.int64]) -> list[str | None]:
    names: NDArray[np.object_] = np.full(drip.grid.count + 1, None, dtype=object)
    for zone in drip.block.zones:
        names[zone.first : zone.last + 1] = zone.name
    column: list[str | None] = names[lateral].tolist()
    return column
