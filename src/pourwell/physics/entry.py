"""What drives metal into a thin section, and what holds it back. SI: Pa, N/m, m, kg/m3."""

import math
from typing import Final

from pourwell.units import STANDARD_GRAVITY

NON_WETTING: Final = math.pi


def entry_pressure(surface_tension: float, diameter: float, *, contact_angle: float = NON_WETTING) -> float:
    """Pressure [Pa] to push metal into a round hole of a diameter [m]; the contact angle [rad] is that of no wetting by default.

    Source: Washburn 1921: 4 gamma |cos theta| / d.
    """
    return 4.0 * surface_tension * -math.cos(contact_angle) / diameter


def head_pressure(density: float, height: float) -> float:
    """Pressure [Pa] under a column of metal [kg/m3] of a height [m]. Source: hydrostatics."""
    return density * STANDARD_GRAVITY * height
