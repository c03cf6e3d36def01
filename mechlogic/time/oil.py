"""Oil: how thick it is at a temperature, and how much that drags on a part.

The law is Walther's, as the standard for viscosity-temperature charts has it (ASTM D341; from
memory):

    log10 log10 (ν + 0.7) = A − B·log10 T

with the kinematic viscosity ν in mm²/s and the absolute temperature T in K.  Two measured points
fix A and B; data sheets give those at 40 and 100 degrees C.  It holds for mineral oil that is
still an oil: not below its pour point, and not for grease.

Old oil takes up oxygen and dust, loses its light parts and goes thick.  No law says how much, so
it is a number to be chosen here: how many times as thick as fresh oil, at every temperature alike.
That is a simplification of our own.
"""

from dataclasses import dataclass, replace
from math import log10

COLDEST_DEGC = -30.0
HOTTEST_DEGC = 120.0
"""Between these temperatures the law is used, in degrees C."""

ZERO_DEGC_IN_K = 273.15
REFERENCE_DEGC = 20.0
"""The temperature at which a description gives the drag of a part, in degrees C."""


@dataclass(frozen=True)
class Oil:
    """An oil.

    Attributes:
        name: What it is called.
        at_40_mm2_per_s: Kinematic viscosity at 40 degrees C, in mm²/s (the old centistokes).
        at_100_mm2_per_s: The same at 100 degrees C, in mm²/s.
        thickened: How many times as thick as fresh it has become with age.
    """

    name: str
    at_40_mm2_per_s: float
    at_100_mm2_per_s: float
    thickened: float = 1.0

    def __post_init__(self) -> None:
        if not self.at_40_mm2_per_s > self.at_100_mm2_per_s > 1:
            raise ValueError("an oil is thicker at 40 than at 100 degrees C, and than 1 mm²/s")
        if not self.thickened > 0:
            raise ValueError("thickened must be greater than 0")

    def viscosity_mm2_per_s(self, temperature_degc: float) -> float:
        """Kinematic viscosity in mm²/s at a temperature in degrees C.

        Raises:
            ValueError: Outside of :data:`COLDEST_DEGC` to :data:`HOTTEST_DEGC`.
        """
        if not COLDEST_DEGC <= temperature_degc <= HOTTEST_DEGC:
            bounds = f"{COLDEST_DEGC:g} to {HOTTEST_DEGC:g} degrees C"
            raise ValueError(f"the law of the oil holds from {bounds}, not at {temperature_degc:g}")
        warm, hot = _double_log(self.at_40_mm2_per_s), _double_log(self.at_100_mm2_per_s)
        share = _log_k(temperature_degc) - _log_k(40.0)
        doubled = warm + (hot - warm) * share / (_log_k(100.0) - _log_k(40.0))
        return self.thickened * (10**10**doubled - 0.7)

    def aged(self, thickened: float) -> "Oil":
        """The same oil, so many times as thick as it was fresh."""
        return replace(self, thickened=thickened)


def _double_log(viscosity_mm2_per_s: float) -> float:
    return log10(log10(viscosity_mm2_per_s + 0.7))


def _log_k(temperature_degc: float) -> float:
    return log10(temperature_degc + ZERO_DEGC_IN_K)


FRESH = Oil("light machine oil", 22.0, 4.3)
"""A light machine oil of viscosity grade 22 (ISO 3448); its 100 degrees C value is from memory."""


def thickness(oil: Oil, temperature_degc: float) -> float:
    """How many times as thick an oil is as fresh light machine oil at 20 degrees C.

    The drag that a description gives is multiplied by it.  That density falls by a few per cent
    as oil warms is left out.
    """
    return oil.viscosity_mm2_per_s(temperature_degc) / FRESH.viscosity_mm2_per_s(REFERENCE_DEGC)


def shear_drag_ns_per_m(
    viscosity_mm2_per_s: float, area_mm2: float, gap_mm: float, density_g_per_cm3: float = 0.87
) -> float:
    """Drag in N·s/m of a film of oil between two sliding faces: Newton's law of viscosity.

    It serves to guess the drag of a part whose drag nobody has measured.

    Args:
        viscosity_mm2_per_s: Kinematic viscosity in mm²/s.
        area_mm2: Area of the faces in mm².
        gap_mm: Clearance between them in mm.
        density_g_per_cm3: Density of the oil in g/cm³; 0.87 is usual for mineral oil.

    Raises:
        ValueError: If one of them is not greater than 0.
    """
    if not min(viscosity_mm2_per_s, area_mm2, gap_mm, density_g_per_cm3) > 0:
        raise ValueError("viscosity, area, gap and density must be greater than 0")
    return 1e-6 * viscosity_mm2_per_s * density_g_per_cm3 * area_mm2 / gap_mm
