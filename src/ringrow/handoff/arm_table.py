"""A corner arm's hinge angle by azimuth as JSON, as a table, and its wheel path as GPX."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import gpxpy.gpx
import numpy as np
import shapely

from ringrow.coverage.arm_table import arm_rows, arm_stray
from ringrow.handoff.files import open_whole
from ringrow.handoff.gun_table import panel_deg
from ringrow.handoff.machine_features import thinned_path
from ringrow.handoff.number_words import azimuth_words, length_words, one_line
from ringrow.handoff.plain_table import TableBlock, block_text, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ringrow.coverage.arm_table import ArmStray
    from ringrow.coverage.field import ArmLayout, FieldLayout, PivotLayout
    from ringrow.coverage.gun_rules import GunArcs
    from ringrow.units import UnitSystem

_DECIMALS = 7


def arm_record(
    farm: str, arms: Sequence[tuple[FieldLayout, PivotLayout]], units: UnitSystem
) -> dict[str, Any]:
    """Return corner arms as plain values under the keys of the JSON output.

    Parameters
    ----------
    farm : str
        The farm's name.
    arms : sequence of tuple
        Field and machine, laid out.
    units : UnitSystem
        The farm's units; keys end in them.

    Returns
    -------
    dict
        ``farm`` and ``arms``. Numbers are not rounded.
    """
    return {
        "farm": farm,
        "arms": [
            _record(layout, machine, machine.corner_arm, units)
            for layout, machine in arms
            if machine.corner_arm is not None
        ],
    }


def _record(layout: FieldLayout, machine: PivotLayout, arm: ArmLayout, units: UnitSystem) -> dict[str, Any]:
    measures, added = arm.arm, _added_m2(layout, machine, arm)
    stray = arm_stray(machine, layout.field, layout.farmable)
    lengths = {"hinge_ft": measures.hinge_m, "wheel_ft": measures.wheel_m, "reach_ft": measures.reach_m}
    return {
        "pivot": machine.name,
        "field": layout.field.name,
        **{units.key(key): units.from_m(length) for key, length in lengths.items()},
        "side": measures.side,
        "fold_deg": measures.fold_deg,
        "open_deg": measures.open_deg,
        "open_rate": measures.open_rate,
        units.key("corner_arm_acres"): units.from_m2(added),
        units.key("end_gun_acres"): units.from_m2(shapely.intersection(arm.gun, layout.farmable).area),
        units.key("wheel_path_ft"): units.from_m(arm.wheel_path.length),
        "rows": _row_records(layout, machine, units),
        "folded_out": _arc_records(stray.arcs),
        units.key("folded_out_acres"): units.from_m2(stray.area_m2),
        "assumed": list(machine.assumed),
    }


def _row_records(layout: FieldLayout, machine: PivotLayout, units: UnitSystem) -> list[dict[str, Any]]:
    rows = arm_rows(machine)
    lon, lat = layout.field.frame.to_lonlat([row.x_m for row in rows], [row.y_m for row in rows])
    return [
        {
            "azimuth_deg": row.azimuth_deg,
            "panel_deg": panel_deg(machine.pivot, row.azimuth_deg),
            "hinge_deg": row.angle_deg,
            units.key("station_ft"): units.from_m(row.station_m),
            "mark": row.mark or None,
            "lat": float(lat[at]),
            "lon": float(lon[at]),
        }
        for at, row in enumerate(rows)
    ]


def _arc_records(arcs: GunArcs) -> list[dict[str, float | None]]:
    if isinstance(arcs, str):
        return [{"start_deg": None, "stop_deg": None}]
    return [{"start_deg": arc.start_deg, "stop_deg": arc.stop_deg} for arc in arcs]


def _added_m2(layout: FieldLayout, machine: PivotLayout, arm: ArmLayout) -> float:
    return float((shapely.intersection(arm.swept, layout.farmable) - machine.base).area)


def arm_text(arms: Sequence[tuple[FieldLayout, PivotLayout]], units: UnitSystem, *, width: int | None) -> str:
    """Return corner arms as tables of text: hinge angle by azimuth.

    Parameters
    ----------
    arms : sequence of tuple
        Field and machine, laid out.
    units : UnitSystem
        The farm's units.
    width : int or None
        Columns of the terminal; None for plain lines with nothing wrapped. [-]

    Returns
    -------
    str
        One table a machine; no line break at the end.
    """
    if not arms:
        return "No corner arms."
    texts = [
        _text(layout, machine, machine.corner_arm, units, width)
        for layout, machine in arms
        if machine.corner_arm is not None
    ]
    reading = (
        "Azimuths are degrees of the main pipe clockwise from true north at the pivot point; the hinge angle "
        "lies between main pipe and arm, 180 is straight; the words hold for walking clockwise. Worked out "
        "from the boundary, for a machine that steers exactly: the arm's own guidance decides where it walks."
    )
    return "\n\n".join([*texts, wrapped(reading, width)])


def _text(
    layout: FieldLayout, machine: PivotLayout, arm: ArmLayout, units: UnitSystem, width: int | None
) -> str:
    rows = [
        (
            azimuth_words(row.azimuth_deg),
            "-" if panel is None else azimuth_words(panel),
            f"{row.angle_deg:.1f}",
            f"{round(units.from_m(row.station_m), 0) + 0.0:,.0f}",
            row.mark,
        )
        for row in arm_rows(machine)
        for panel in [panel_deg(machine.pivot, row.azimuth_deg)]
    ]
    name = f"{one_line(machine.name)} ({one_line(layout.field.name)})"
    block = TableBlock(
        title=f"{name}: corner arm, {arm.arm.side}",
        head=("Azimuth", "Panel", "Hinge angle", f"Wheel station, {units.length}", "Arm"),
        rows=rows,
    )
    notes = [wrapped(note, width, indent=2) for note in _notes(layout, machine, arm, units)]
    return "\n\n".join([block_text(block, width), "\n".join(notes)])


def _notes(layout: FieldLayout, machine: PivotLayout, arm: ArmLayout, units: UnitSystem) -> list[str]:
    measures = arm.arm
    added = units.from_m2(_added_m2(layout, machine, arm))
    gun = units.from_m2(shapely.intersection(arm.gun, layout.farmable).area)
    notes = [
        f"Hinge {length_words(measures.hinge_m, units)} from the pivot point; steered wheels "
        f"{length_words(measures.wheel_m, units)}, wetted end {length_words(measures.reach_m, units)} "
        f"from the hinge; folds to {measures.fold_deg:g} deg, opens to {measures.open_deg:g} deg, at most "
        f"{measures.open_rate:g} deg per degree of the main pipe.",
        f"The arm adds {added:,.2f} {units.area}" + (f", its gun {gun:,.2f} more." if gun else "."),
        f"Path of the steered wheels: {length_words(arm.wheel_path.length, units)}.",
    ]
    stray = stray_words(arm_stray(machine, layout.field, layout.farmable), units)
    return notes if stray is None else [*notes, stray]


def stray_words(stray: ArmStray, units: UnitSystem) -> str | None:
    """Return where even the folded arm wets ground it may not, in one line.

    Parameters
    ----------
    stray : ArmStray
        Azimuths and area.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str or None
        A warning; None when there is nothing to warn of.

    Examples
    --------
    >>> from ringrow.coverage.arm_table import ArmStray
    >>> from ringrow.equipment.pivot import Sector
    >>> from ringrow.units import US
    >>> words = stray_words(ArmStray(arcs=(Sector(start_deg=80, stop_deg=100),), area_m2=4046.9), US)
    >>> words.split(";")[0]
    'WARNING: at azimuths 80.0 to 100.0 even the folded arm wets 1.00 acres that it may not'
    """
    if not stray.arcs:
        return None
    if isinstance(stray.arcs, str):
        where = "all the way round"
    else:
        listed = [f"{azimuth_words(arc.start_deg)} to {azimuth_words(arc.stop_deg)}" for arc in stray.arcs]
        where = "at azimuths " + ", ".join(listed)
    return (
        f"WARNING: {where} even the folded arm wets {units.from_m2(stray.area_m2):,.2f} {units.area} that it "
        "may not; look at fold angle, lengths, setback and boundary."
    )


def write_arm_gpx(
    arms: Sequence[tuple[FieldLayout, PivotLayout]], path: Path, units: UnitSystem
) -> dict[str, int]:
    """Write the paths of steered wheels as GPX 1.1: a track each, a waypoint for each row of the table.

    Parameters
    ----------
    arms : sequence of tuple
        Field and machine, laid out.
    path : Path
        File to write; one that is there is replaced.
    units : UnitSystem
        Units of the stations in the waypoints' names.

    Returns
    -------
    dict of str to int
        How many tracks, track points and waypoints.

    Raises
    ------
    FileError
        If the file cannot be written.
    """
    book = gpxpy.gpx.GPX()
    book.creator = "ringrow"
    for layout, machine in arms:
        if machine.corner_arm is not None:
            book.tracks.append(_track(layout, machine, machine.corner_arm))
            book.waypoints.extend(_waypoints(layout, machine, units))
    with open_whole(path) as stream:
        stream.write(book.to_xml(version="1.1"))
    return {
        "tracks": len(book.tracks),
        "points": int(book.get_track_points_no()),
        "waypoints": len(book.waypoints),
    }


def _track(layout: FieldLayout, machine: PivotLayout, arm: ArmLayout) -> gpxpy.gpx.GPXTrack:
    track = gpxpy.gpx.GPXTrack(name=one_line(f"{machine.name}: wheels of the corner arm"))
    xy = shapely.get_coordinates(thinned_path(arm.wheel_path)[0])
    lon, lat = layout.field.frame.to_lonlat(xy[:, 0], xy[:, 1])
    points = zip(np.round(lat, _DECIMALS).tolist(), np.round(lon, _DECIMALS).tolist(), strict=True)
    track.segments.append(gpxpy.gpx.GPXTrackSegment([gpxpy.gpx.GPXTrackPoint(*point) for point in points]))
    return track


def _waypoints(layout: FieldLayout, machine: PivotLayout, units: UnitSystem) -> list[gpxpy.gpx.GPXWaypoint]:
    return [
        gpxpy.gpx.GPXWaypoint(
            round(row["lat"], _DECIMALS),
            round(row["lon"], _DECIMALS),
            name=f"{row[units.key('station_ft')]:,.0f} {units.length}",
            description=one_line(
                f"{machine.name}: azimuth {azimuth_words(row['azimuth_deg'])}, "
                f"hinge {row['hinge_deg']:.1f} deg" + (f", {row['mark']}" if row["mark"] else "")
            ),
        )
        for row in _row_records(layout, machine, units)
    ]
