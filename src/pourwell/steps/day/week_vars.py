"""The variables of a week that is given to the solver, and where in open hours something may begin."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from pourwell.steps.day.week_model import STEP_MIN, Span, Week

if TYPE_CHECKING:
    from ortools.sat.python import cp_model


class RunVars:
    """The variables of a run: starts of its lines, pour, set-out, kiln on, is it bagged, is it the first of its load."""

    def __init__(self) -> None:
        self.starts: dict[str, Any] = {}
        self.pour: Any = 0
        self.set_out: Any = 0
        self.on: Any = 0
        self.bagged: Any = False
        self.first: Any = False


class WeekModel:
    """A week as constraints, with its variables by run, load and kiln.

    Attributes
    ----------
    loads : [ruling run, run]: is the run in the load whose programme is that of the ruling run: the longest in its kiln
    places : [ruling run, kiln]: is this load fired there
    ons : when the load of each ruling run begins
    odd : whether a line lies outside the comfortable hours, and its hands-on minutes
    nexts : [run, run]: is the second poured right after the first, from the same load
    """

    def __init__(self, model: "cp_model.CpModel", week: Week) -> None:
        self.model, self.week = model, week
        self.runs = [RunVars() for _ in week.runs]
        self.loads: dict[tuple[int, int], Any] = {}
        self.places: dict[tuple[int, int], Any] = {}
        self.ons: list[Any] = []
        self.last_pour: Any = 0
        self.odd: list[tuple[Any, int]] = []
        self.nexts: dict[tuple[int, int], Any] = {}


def fits(windows: Iterable[Span], minutes: int, *, after_min: int = 0) -> list[Span]:
    """In which full steps a line of so many minutes may begin: pairs of step numbers, both ends included."""
    out = []
    for opens, closes in windows:
        low, high = -(-max(opens, after_min) // STEP_MIN), (closes - minutes) // STEP_MIN
        if low <= high:
            out.append((low, high))
    return out


def inside(windows: Iterable[Span], moments: Iterable[int], horizon_min: int) -> list[Span]:
    """From which to which minute something may begin so that it and all its later moments fall into the windows."""
    windows, moments = list(windows), list(moments)
    good: list[Span] = [(0, horizon_min)]
    for later in moments:
        shifted = [(opens - later, closes - later) for opens, closes in windows]
        good = [(max(a, c), min(b, d)) for a, b in good for c, d in shifted if max(a, c) <= min(b, d)]
    return good


def domain(spans: Iterable[Span]) -> "cp_model.Domain":
    """Pairs of first and last as the solver takes them."""
    from ortools.sat.python import cp_model

    return cp_model.Domain.from_intervals([list(span) for span in spans])


def variable(made: WeekModel, spans: Iterable[Span], name: str) -> Any:
    """A number within spans; where there are none nothing fits, and the model says so."""
    pairs = list(spans)
    if not pairs:
        made.model.add_bool_or([])
    return made.model.new_int_var_from_domain(domain(pairs or [(0, 0)]), name)


def hold_within(made: WeekModel, expression: Any, spans: Iterable[Span], *, where: Any) -> None:
    """The expression lies within spans where the literal holds; where there are none it cannot hold."""
    pairs = list(spans)
    if pairs:
        made.model.add_linear_expression_in_domain(expression, domain(pairs)).only_enforce_if(where)
    else:
        made.model.add_bool_or([~where])
