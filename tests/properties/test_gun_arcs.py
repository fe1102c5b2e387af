"""End-gun arcs against a brute-force scan of the turn.

The scan asks the plain definition, one bearing at a time, with geometry that shares nothing with the
exact method: is every point of the radial segment on the ground, and at least the setback from
everything that is not. Ends found by the scan are narrowed by bisection.
"""

import math

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from effort import effort
from ringrow.geometry.gun_arcs import clear_arcs

STEP_DEG = 0.01
RIGHT_DEG = 1e-6


def segments(x, y, inner, outer, bearings):
    angles = np.radians(bearings)
    direction = np.stack([np.sin(angles), np.cos(angles)], axis=-1)
    return shapely.linestrings([x, y] + np.array([inner, outer])[None, :, None] * direction[:, None, :])


class Scan:
    """The definition of where a gun may run, asked bearing by bearing."""

    def __init__(self, ground, x, y, inner, outer, setback):
        self.ground, self.setback, self.ring = ground, setback, (x, y, inner, outer)
        # All that is not ground, farther out than any field here reaches.
        self.other = shapely.box(-2000, -2000, 2000, 2000).difference(ground)
        shapely.prepare(self.other)
        self.clear = self.at(np.arange(0.0, 360.0, STEP_DEG))

    def at(self, bearings):
        """Return whether the gun may run at each bearing."""
        lines = segments(*self.ring, np.atleast_1d(np.asarray(bearings, float)))
        if self.setback == 0:
            return shapely.covers(self.ground, lines)
        return shapely.distance(self.other, lines) >= self.setback

    def ends(self):
        """Bearings at which the scan changes, narrowed to 1e-9 degrees, with what comes after."""
        found = []
        for i in np.flatnonzero(self.clear != np.roll(self.clear, -1)):
            low, high, before = i * STEP_DEG, (i + 1) * STEP_DEG, self.clear[i]
            while high - low > 1e-9:
                middle = (low + high) / 2
                low, high = (middle, high) if self.at(middle)[0] == before else (low, middle)
            found.append((low % 360, not before))
        return found


def apart(a, b):
    return abs((a - b + 180) % 360 - 180)


def random_field(seed):
    """A concave field, some of them with yards, ponds and bays, and a machine near its middle."""
    random = np.random.default_rng(seed)
    n = int(random.integers(3, 25))
    angles = 2 * math.pi * (np.arange(n) + random.uniform(0, 0.9, n)) / n
    reach = random.uniform(250, 650, n)
    ground = Polygon(np.column_stack([reach * np.sin(angles), reach * np.cos(angles)]))
    for _ in range(int(random.integers(0, 5))):
        at = random.uniform(-450, 450, 2)
        corners = np.sort(random.uniform(0, 2 * math.pi, int(random.integers(3, 8))))
        size = random.uniform(5, 60)
        ground = ground.difference(Polygon(at + size * np.column_stack([np.sin(corners), np.cos(corners)])))
    x, y = random.uniform(-150, 150, 2)
    inner = random.uniform(100, 420)
    return ground, x, y, inner, inner + random.uniform(5, 60), random


@settings(max_examples=effort(30))
@given(st.integers(0, 2**32 - 1), st.booleans())
def test_exact_ends_are_where_the_scan_changes(seed, with_setback):
    ground, x, y, inner, outer, random = random_field(seed)
    setback = random.uniform(0.5, 40.0) if with_setback else 0.0
    scan = Scan(ground, x, y, inner, outer, setback)
    arcs = clear_arcs(ground, x, y, inner, outer, setback_m=setback, min_arc_deg=0.0)
    if arcs == "full":
        assert scan.clear.all()
        return
    exact = [(start, True) for start, _ in arcs] + [(stop, False) for _, stop in arcs]
    for bearing, clear_after in scan.ends():
        assert min(apart(bearing, end) for end, kind in exact if kind == clear_after) < RIGHT_DEG
    for start, stop in arcs:
        # Each end is one by the definition itself: clear a millionth of a degree within, blocked without.
        width = (stop - start) % 360
        within = min(RIGHT_DEG, width / 2)
        assert scan.at([start + within, stop - within]).all()
        assert not scan.at([start - RIGHT_DEG, stop + RIGHT_DEG]).any()
    bearings = np.arange(0.0, 360.0, STEP_DEG)
    held = np.zeros(len(bearings), bool)
    for start, stop in arcs:
        held |= (bearings - start) % 360 <= (stop - start) % 360
    edge = np.array(
        [min(apart(b, end) for end, _ in exact) < RIGHT_DEG for b in bearings[held != scan.clear]]
    )
    assert edge.all()


@settings(max_examples=effort(60))
@given(st.integers(0, 2**32 - 1), st.floats(0, 359.9), st.floats(1.0, 359.0), st.floats(0.0, 20.0))
def test_a_sector_cuts_the_arcs_of_the_full_turn(seed, start, sweep, min_arc):
    """With limits: the same arcs, each cut to the sector, the short ones left out."""
    ground, x, y, inner, outer, random = random_field(seed)
    setback = random.uniform(0.0, 30.0)
    stop = (start + sweep) % 360.0
    whole = clear_arcs(ground, x, y, inner, outer, setback_m=setback, min_arc_deg=0.0)
    cut = clear_arcs(
        ground, x, y, inner, outer, setback_m=setback, limits_deg=(start, stop), min_arc_deg=min_arc
    )
    turned = [(0.0, 360.0)] if whole == "full" else [((a - start) % 360, (b - a) % 360) for a, b in whole]
    expected = []
    for first, width in turned:
        for begin in (first - 360, first):
            low, high = max(begin, 0.0), min(begin + width, sweep)
            if high - low >= max(min_arc, 1e-6):
                expected.append((low, high))
    found = [
        ((a - start) % 360 if a != start else 0.0, (b - start) % 360) for a, b in cut if apart(a, b) > 1e-6
    ]
    assert len(found) == len(expected)
    assert np.allclose(sorted(found), sorted(expected), rtol=0, atol=1e-8)


@given(st.integers(0, 2**32 - 1), st.floats(0, 360), st.floats(-5000, 5000))
def test_turned_and_moved_ground_turns_the_arcs(seed, turn, shift):
    ground, x, y, inner, outer, random = random_field(seed)
    setback = random.uniform(0.0, 30.0)
    here = clear_arcs(ground, x, y, inner, outer, setback_m=setback, min_arc_deg=0.1)
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def moved(xy):
        from_pivot = xy - [x, y]
        return np.column_stack(
            [
                shift + cos * from_pivot[:, 0] + sin * from_pivot[:, 1],
                -shift - sin * from_pivot[:, 0] + cos * from_pivot[:, 1],
            ]
        )

    there = clear_arcs(
        shapely.transform(ground, moved), shift, -shift, inner, outer, setback_m=setback, min_arc_deg=0.1
    )
    if here == "full":
        assert there == "full"
        return
    assert len(there) == len(here)
    for start, stop in here:
        assert min(max(apart(start + turn, a), apart(stop + turn, b)) for a, b in there) < RIGHT_DEG


@settings(max_examples=effort(30))
@given(st.integers(0, 2**32 - 1), st.floats(0.0, 25.0))
def test_more_setback_never_gives_more_arc(seed, extra):
    ground, x, y, inner, outer, random = random_field(seed)
    near = random.uniform(0.0, 20.0)

    def total(setback):
        arcs = clear_arcs(ground, x, y, inner, outer, setback_m=setback, min_arc_deg=0.0)
        return 360.0 if arcs == "full" else sum((stop - start) % 360 for start, stop in arcs)

    assert total(near + extra) <= total(near) + 1e-6
