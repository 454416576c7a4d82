"""What to mind before a probe goes into a kiln, or a burnt flask on a scale. Common practice, no source."""

from typing import Final

CAUTIONS: Final = (
    "Mains off and the plug out before anything goes through a kiln's wall or door; no sheath may touch an element. Boring or "
    "wiring a kiln is for licensed practice, and local codes come first.",
    "Mineral-insulated type K in a metal sheath, 1.5 to 3 mm: other leads char inside the kiln.",
    "Set the probe into the fresh investment of a dummy flask, or bore a cold one with the respirator on. Never put one into a hot "
    "flask, and pour no metal into a flask with a probe.",
    "A dummy without a pattern still steams, one with a pattern still fumes: extraction as in every burnout.",
)

SCALE_CAUTIONS: Final = (
    "Weigh the burnt flask when it is cold: at 300 °C it looks like a cold one. A heat-proof board on the scale, tongs and gloves.",
    "Dry mould is silica dust: do not blow on it, respirator on when it is knocked out.",
)
