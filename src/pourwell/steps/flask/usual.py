"""The flask that is taken when only a weight is known and none is named."""

from typing import Final

from pourwell.materials.library import Library
from pourwell.materials.model import FlaskRow
from pourwell.materials.studio import Studio
from pourwell.steps.flask.plan import flasks

USUAL: Final = "76x100"
"""A common size for rings: common practice, no source."""


def usual_flask(studio: Studio, library: Library) -> FlaskRow:
    """The common flask if the studio has it, else the middle one of those it has, by volume."""
    rows = flasks(studio, library)
    return next((row for row in rows if row.id == USUAL), rows[len(rows) // 2])
