"""Units of the farm against the plain SI numbers inside.

Everything inside the program is metres, square metres, litres per second and
kilopascals. Farm files and output speak US or metric farm units; this module is the
only place where the two meet.
"""

from __future__ import annotations

from dataclasses import dataclass

from ringrow.errors import DomainError

FOOT_M = 0.3048
"""International foot [m], exact (NIST SP 811)."""
INCH_M = 0.0254
"""Inch [m], exact."""
ACRE_M2 = 4046.8564224
"""International acre [m2], exact: 43,560 international square feet."""
GALLON_L = 3.785411784
"""US gallon [L], exact: 231 cubic inches."""
PSI_KPA = 6.894757293168361
"""Pound-force per square inch [kPa]."""

_METRIC_SUFFIX = {
    "acres": "ha",
    "ft": "m",
    "in": "mm",
    "gpm": "lps",
    "psi": "kpa",
    "gal": "l",
    "gph": "l_per_h",
    "in_per_h": "mm_per_h",
    "in_per_day": "mm_per_day",
    "gpm_per_acre": "lps_per_ha",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitSystem:
    """One set of farm units: factors to SI, and the words printed behind numbers.

    Parameters
    ----------
    name : str
        ``us`` or ``metric``, as written in farm.toml.
    length_m, small_m, area_m2, flow_lps, emitter_lps, pressure_kpa : float
        One farm unit of each quantity in SI: spans and radii; row spacing and depth;
        field area; flow at a pivot point; flow of one emitter; pressure. [m, m, m2, L/s, L/s, kPa]
    length, small, area, flow, emitter, pressure : str
        The unit's printed word, such as ``ft`` or ``acres``.
    """

    name: str
    length_m: float
    small_m: float
    area_m2: float
    flow_lps: float
    emitter_lps: float
    pressure_kpa: float
    length: str
    small: str
    area: str
    flow: str
    emitter: str
    pressure: str

    def key(self, us_key: str) -> str:
        """Return the JSON key for this unit system from the one in US units.

        Parameters
        ----------
        us_key : str
            Key ending in a US unit, such as ``distance_ft``, ``acres`` or ``dry_acres``.

        Returns
        -------
        str
            The same key, or its metric twin; a key that ends in no unit is returned as it is.

        Examples
        --------
        >>> METRIC.key("dry_acres"), METRIC.key("acres"), METRIC.key("azimuth_deg")
        ('dry_ha', 'ha', 'azimuth_deg')
        """
        if self.name == "us":
            return us_key
        for us, metric in sorted(_METRIC_SUFFIX.items(), key=lambda pair: -len(pair[0])):
            if us_key == us:
                return metric
            if us_key.endswith("_" + us):
                return us_key[: -len(us)] + metric
        return us_key

    def from_m(self, metres: float) -> float:
        """Return a length in farm units (ft or m) from metres.

        Parameters
        ----------
        metres : float
            Length in SI. [m]

        Returns
        -------
        float
            The same length in farm units. [ft or m]
        """
        return metres / self.length_m

    def from_m_small(self, metres: float) -> float:
        """Return a small length in farm units (in or mm) from metres.

        Parameters
        ----------
        metres : float
            Length in SI. [m]

        Returns
        -------
        float
            The same length in farm units. [in or mm]
        """
        return metres / self.small_m

    def from_m2(self, square_metres: float) -> float:
        """Return an area in farm units (acres or ha) from square metres.

        Parameters
        ----------
        square_metres : float
            Area in SI. [m2]

        Returns
        -------
        float
            The same area in farm units. [acres or ha]
        """
        return square_metres / self.area_m2


US = UnitSystem(
    name="us",
    length_m=FOOT_M,
    small_m=INCH_M,
    area_m2=ACRE_M2,
    flow_lps=GALLON_L / 60,
    emitter_lps=GALLON_L / 3600,
    pressure_kpa=PSI_KPA,
    length="ft",
    small="in",
    area="acres",
    flow="gpm",
    emitter="gph",
    pressure="psi",
)
METRIC = UnitSystem(
    name="metric",
    length_m=1.0,
    small_m=0.001,
    area_m2=10_000.0,
    flow_lps=1.0,
    emitter_lps=1 / 3600,
    pressure_kpa=1.0,
    length="m",
    small="mm",
    area="ha",
    flow="L/s",
    emitter="L/h",
    pressure="kPa",
)


def get_units(name: str) -> UnitSystem:
    """Return the unit system called `name`.

    Parameters
    ----------
    name : str
        ``us`` or ``metric``.

    Returns
    -------
    UnitSystem
        The units of that name.

    Raises
    ------
    DomainError
        If `name` is neither.

    Examples
    --------
    >>> get_units("us").from_m(304.8)
    1000.0
    """
    if name == "us":
        return US
    if name == "metric":
        return METRIC
    message = f'units: found "{name}"; allowed: "us" or "metric"'
    raise DomainError(message)
