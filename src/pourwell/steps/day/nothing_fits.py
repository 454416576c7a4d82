"""When nothing fits: the sentences of it, why, and what each thing to give up buys."""

from collections.abc import Iterator, Sequence

from pourwell.errors import BadRequestError
from pourwell.steps.day.checks import span_words
from pourwell.steps.day.give_up import Offer
from pourwell.steps.day.open_hours import Terms
from pourwell.steps.day.week_model import Rota, Week


class NothingFitsError(BadRequestError):
    """No rota serves all of these runs; `offers` is what may be given up, the nearest pours first."""

    def __init__(self, what: str, *, why: str, offers: Sequence[Offer]) -> None:
        self.offers = tuple(offers)
        try_this = "Nothing that could be given up alone or together helps: plan fewer runs."
        if offers:
            try_this = "Give up one of these:\n" + "\n".join(f"  {offer.says}: {bought(offer)}" for offer in offers)
        super().__init__(what, why=why, try_this=try_this)


def nothing_fits(terms: Terms, week: Week, rota: Rota, *, found: Sequence[Offer]) -> NothingFitsError:
    """What to raise for a week in which nothing fits."""
    if rota.status == "unknown":
        return NothingFitsError("No rota was found in the time given to the search.", why="None is ruled out either.", offers=found)
    hours = f"{terms.work[0]:%H:%M} to {terms.work[1]:%H:%M}"
    longest = max(f.total_min for run in week.runs for f in run.firings if f is not None)
    usual = f"With hands-on work from {hours} and a burnout of up to {span_words(longest)} no rota serves all of these runs."
    return NothingFitsError("Nothing fits.", why=next(_outside(terms, week), usual), offers=found)


def _outside(terms: Terms, week: Week) -> Iterator[str]:
    """The pours asked for at hours when nobody works, a sentence each."""
    opens, closes = terms.work
    for name, minute in (*((run.name, run.pour_at_min) for run in week.runs), ("the first flask", week.first_pour_min)):
        if minute is not None and not any(a <= minute <= b for a, b in week.calendar.work):
            yield (
                f"The pour of {name} at {terms.moment(minute):%H:%M on %A} lies outside the hours, {opens:%H:%M} to "
                f"{closes:%H:%M}, or on a day off."
            )


def bought(offer: Offer) -> str:
    """What an offer buys, in words: the first and the last pour."""
    first, last = (f"{moment:%A %d %B, %H:%M}" for moment in (offer.first_pour_at, offer.last_pour_at))
    return f"pour {first}" if first == last else f"first pour {first}; last {last}"
