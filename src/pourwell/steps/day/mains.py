"""The kiln is off at the mains before anybody reaches in: what it is set to when it is on again."""

from typing import Final

OFF: Final = "kiln off at the mains before the tongs go in"
LOST: Final = "Many controllers lose their programme when the mains goes, or begin it again at segment 1"
"""Common practice, no source."""


def by_hand(level_c: float) -> str:
    """How a kiln goes on after the mains was off."""
    return f"by hand to {{t:{level_c:g}}} and hold"


def on_again(flask_c: float | None) -> str:
    """What is done for the flasks that stay, the next of which is poured at this flask temperature [degC]; None: not known here."""
    level = "by hand to the flask temperature of the next pour and hold" if flask_c is None else by_hand(flask_c)
    return f"door shut, kiln on again, {level}"


def told(flask_c: float | None) -> str:
    """All of it in two sentences, for those who have no check list before them."""
    return f"{OFF[0].upper()}{OFF[1:]}. If flasks stay: {on_again(flask_c)}. {LOST}."
