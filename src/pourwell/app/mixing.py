"""A quick answer at the scale: powder and water for a flask. It needs no tree and no burnout, and loads nothing of them."""

from pourwell.app.shop import open_shop
from pourwell.errors import BadRequestError
from pourwell.findings import Finding
from pourwell.steps.flask import checks as flask_checks
from pourwell.steps.flask import plan as flasks
from pourwell.steps.flask.model import Mix


def mix_for(flask: str, *, investment: str, section: str) -> tuple[Mix, tuple[Finding, ...]]:
    """Powder, water and the working clock for a flask. Raises BadRequestError, UnknownNameError."""
    shop = open_shop()
    studio, library = shop.studio, shop.library
    row = library.investment(investment)
    fitted = flasks.fit_out(flasks.parse_flask(flask, studio, library), studio, library)
    mix = flasks.mix(fitted, investment=row, section=section, studio=studio, library=library)
    material = next((p for p in library.patterns.values() if p.family in row.for_patterns), None)
    if material is None:
        raise BadRequestError(f'The investment "{investment}" is for no pattern material that the library knows.')
    facts = flask_checks.Facts(
        flask=fitted, mix=mix, investment=row, pattern_material=material, stones=row.stones, studio=studio, library=library
    )
    return mix, flask_checks.findings(facts)
