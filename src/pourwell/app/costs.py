"""What a run costs in fresh metal and powder, where the studio has said what it pays."""

from typing import Any

from pourwell.materials.model import Alloy, Investment
from pourwell.steps.flask.model import Mix
from pourwell.steps.melt.model import Charge
from pourwell.units import kg_from_g


def costs(alloy: Alloy, investment: Investment, *, charge: Charge, mix: Mix, currency: str) -> list[dict[str, Any]]:
    """Lines of `what`, `money` and `currency`, each only where its price is known.

    Metal that the studio alloys itself has no price of the alloy; returns are its own metal already.
    """
    found = []
    if alloy.price_per_g is not None and not charge.fine_g:
        found.append(("Fresh metal", charge.fresh_g * alloy.price_per_g.value))
    if investment.price_per_kg is not None:
        found.append(("Investment", kg_from_g(mix.powder_g) * investment.price_per_kg.value))
    return [{"what": what, "money": round(money, 2), "currency": currency} for what, money in found]
