"""Least squares of a few parameters of a slow model, and what the answer is worth. Pure; units are those of the caller.

Levenberg's and Marquardt's damped steps with derivatives by differences, as a generator, so that the caller tells of each round
and may stop. Scatter that hangs together in time is told by the residuals' own autocovariance, errors that hold for a whole record
by the shape they would give it. Source: Marquardt, J. SIAM 11 (1963) 431; Newey & West, Econometrica 55 (1987) 703;
JCGM 100:2008, 5.2.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Model = Callable[[Floats], Floats]

ROUNDS: Final = 30
"""Most rounds; a fit that needs more is taken as it is and says so."""
RAISED, LOWERED, DAMPING, MOST_DAMPING = 4.0, 0.3, 1e-3, 1e6
"""By how much the damping changes after a bad and a good step, its beginning, and where it gives up: customary."""
ENOUGH: Final = 1e-3
"""A step under this share of a parameter's scale ends the fit: far under any uncertainty that is told."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Question:
    """What is asked of the data.

    Attributes
    ----------
    seen : (n,) what was measured
    model : from parameters (p,) to what should have been measured (n,)
    weights : from parameters (p,) to one over the scatter expected of each value (n,)
    low, high : (p,) ends between which the parameters stay
    scale : (p,) what a parameter's change is small or large against
    reach : the step of the differences, as a share of the scale
    """

    seen: Floats
    model: Model
    weights: Callable[[Floats], Floats]
    low: Floats
    high: Floats
    scale: Floats
    reach: float = 0.1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Round:
    """Where the descent stands after a round; arrays as in `Question`, slopes (n, p)."""

    parameters: Floats
    given: Floats
    weights: Floats
    slopes: Floats
    number: int
    ended: bool
    """No better place was found, or the step was small: the last round."""

    def left(self, seen: Floats) -> Floats:
        """(n,) residuals, over the scatter expected."""
        return (seen - self.given) * self.weights


def slopes(question: Question, at: Floats, given: Floats) -> Floats:
    """Derivatives (n, p) of the model by differences, away from the nearer end."""
    out = np.empty((given.size, at.size))
    for i in range(at.size):
        step = question.reach * question.scale[i]
        if at[i] + step > question.high[i]:
            step = -step
        moved = at.copy()
        moved[i] += step
        out[:, i] = (question.model(moved) - given) / step
    return out


def descend(question: Question, start: Floats) -> Iterator[Round]:
    """Rounds from a start (p,), the last of which has `ended` set or is the ROUNDS-th."""
    at = np.clip(np.asarray(start, dtype=np.float64), question.low, question.high)
    given, damping = question.model(at), DAMPING
    for number in range(1, ROUNDS + 1):
        weights = question.weights(at)
        slope = slopes(question, at, given)
        moved, fresh, damping = _step(question, at, given, slope=slope, weights=weights, damping=damping)
        ended = bool(np.all(np.abs(moved - at) < ENOUGH * question.scale))
        yield Round(parameters=at, given=given, weights=weights, slopes=slope, number=number, ended=ended)
        if ended:
            return
        at, given = moved, fresh


def _step(
    question: Question, at: Floats, given: Floats, *, slope: Floats, weights: Floats, damping: float
) -> tuple[Floats, Floats, float]:
    """The next place, what the model gives there, and the damping then; the same place if no better one is found."""
    left = (question.seen - given) * weights
    tilt = slope * weights[:, None] * question.scale
    square, pull = tilt.T @ tilt, tilt.T @ left
    cost = float(left @ left)
    while damping < MOST_DAMPING:
        free = ~(((at <= question.low) & (pull < 0)) | ((at >= question.high) & (pull > 0)))
        if not free.any():
            return at, given, damping
        inner = square[np.ix_(free, free)]
        step = np.zeros(at.size)
        step[free] = np.linalg.solve(inner + damping * np.diag(np.maximum(np.diag(inner), 1e-12)), pull[free])
        moved = np.clip(at + step * question.scale, question.low, question.high)
        if np.all(np.abs(moved - at) < ENOUGH * question.scale):
            return at, given, damping
        fresh = question.model(moved)
        new = (question.seen - fresh) * weights
        if float(new @ new) < cost:
            return moved, fresh, damping * LOWERED
        damping *= RAISED
    return at, given, DAMPING


def covariance(last: Round, seen: Floats, *, records: Sequence[slice], shapes: Sequence[Floats]) -> tuple[Floats, float]:
    """Covariance (p, p) of the parameters of a round, and over how many values in a row the scatter hangs together.

    records: the stretches of the data that are even in time, one for each instrument. shapes: (n,) what one standard deviation of
    each error that holds for all of a record would add. The scatter is taken from the residuals of each record, with its
    autocovariance up to the lag where it first vanishes under Bartlett's weights; a single lag counts fully, so that what is
    independent stays so.
    """
    tilt = last.slopes * last.weights[:, None]
    inverse = np.linalg.pinv(tilt.T @ tilt)
    left = last.left(seen)
    spare = seen.size / max(1, seen.size - tilt.shape[1])
    meat = np.zeros_like(inverse)
    longest = 1.0
    for record in records:
        part, error = tilt[record], left[record]
        lags = _autocovariance(error) * spare
        if lags.size and lags[0] > 0:
            longest = max(longest, float(1 + 2 * lags[1:].sum() / lags[0]))
        for lag, value in enumerate(lags):
            cross = part[: part.shape[0] - lag].T @ part[lag:]
            meat += value * (cross if lag == 0 else cross + cross.T)
    for shape in shapes:
        pull = tilt.T @ (shape * last.weights)
        meat += np.outer(pull, pull)
    return np.asarray(inverse @ meat @ inverse, dtype=np.float64), longest


def _autocovariance(error: Floats) -> Floats:
    """Autocovariance of a record about zero, from lag 0 to where it first vanishes, tapered by Bartlett's weights."""
    n = error.size
    if not n:
        return np.zeros(0)
    most = max(1, n // 4)
    raw = np.array([float(error[: n - k] @ error[k:]) / n for k in range(most + 1)])
    gone = np.flatnonzero(raw <= 0)
    end = int(gone[0]) if gone.size else most + 1
    return raw[:end] * (1 - np.arange(end) / (end + 1))
