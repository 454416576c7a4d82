"""Least squares of a few parameters of a slow model, and what the answer is worth. Pure; units are those of the caller.

Levenberg's and Marquardt's damped steps with derivatives by differences, as a generator, so that the caller tells of each round
and may stop. An error that holds for a whole record (a scale that is off, a probe out of place) has a shape: it is let in with its
own standard deviation and taken out of the residuals as far as they bear it. Scatter that hangs together in time is told by the
residuals' autocovariance.

Source: Marquardt, J. SIAM 11 (1963) 431; Aitken, Proc. R. Soc. Edinburgh 55 (1935) 42, for errors that hang together; Newey & West,
Econometrica 55 (1987) 703; JCGM 100:2008, 5.2.
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
FIRST_TOGETHER: Final = 5.0
"""Values in a row over which scatter is taken to hang together before there are residuals."""


def no_shapes(_: Floats) -> Floats:
    """No error holds for all of the record."""
    return np.zeros((0, 0))


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
    shapes : from parameters to (n, q), what one standard deviation of each error that holds for the whole would add
    records : the stretches of the data that are even in time, one for each instrument; all of it if empty
    reach : the step of the differences, as a share of the scale
    enough : a step under this share of the scale ends the descent
    """

    seen: Floats
    model: Model
    weights: Model
    low: Floats
    high: Floats
    scale: Floats
    shapes: Model = no_shapes
    records: Sequence[slice] = ()
    reach: float = 0.1
    enough: float = ENOUGH


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Round:
    """Where the descent stands after a round."""

    parameters: Floats
    given: Floats
    """(n,) what the model gives there."""
    covariance: Floats
    """(p, p) of the parameters, if this is the last round."""
    together: float
    """Over how many values in a row the scatter hangs together."""
    number: int
    ended: bool
    """No better place was found, or the step was small: the last round."""


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


class _Sight:
    """How residuals are seen in a round: weighted, and with the shapes of whole errors taken out by generalised least squares."""

    def __init__(self, weights: Floats, shapes: Floats, long_run: float) -> None:
        self.weights = weights
        self.shapes = shapes * weights[:, None] if shapes.size else np.zeros((weights.size, 0))
        square = self.shapes.T @ self.shapes
        self.inner = np.linalg.inv(square + long_run * np.eye(square.shape[0]))

    def bare(self, weighted: Floats) -> Floats:
        """Weighted values (n,) or (n, p) less what the shapes explain of them."""
        return np.asarray(weighted - self.shapes @ (self.inner @ (self.shapes.T @ weighted)), dtype=np.float64)

    def cost(self, off: Floats) -> float:
        """Sum of squares of what a difference (n,) leaves, with the shapes' own share."""
        weighted = off * self.weights
        return float(weighted @ self.bare(weighted))


def descend(question: Question, start: Floats) -> Iterator[Round]:
    """Rounds from a start (p,), the last of which has `ended` set or is the ROUNDS-th."""
    at = np.clip(np.asarray(start, dtype=np.float64), question.low, question.high)
    given, damping, long_run = question.model(at), DAMPING, FIRST_TOGETHER
    records = question.records or [slice(0, given.size)]
    for number in range(1, ROUNDS + 1):
        sight = _Sight(question.weights(at), question.shapes(at), long_run)
        slope = slopes(question, at, given)
        moved, fresh, damping = _step(question, at, given, slope=slope, sight=sight, damping=damping)
        ended = bool(np.all(np.abs(moved - at) < question.enough * question.scale))
        spread, together, long_run = _worth(slope, (question.seen - given), sight=sight, records=records)
        yield Round(parameters=at, given=given, covariance=spread, together=together, number=number, ended=ended)
        if ended:
            return
        at, given = moved, fresh


def _step(
    question: Question, at: Floats, given: Floats, *, slope: Floats, sight: _Sight, damping: float
) -> tuple[Floats, Floats, float]:
    """The next place, what the model gives there, and the damping then; the same place if no better one is found."""
    off = question.seen - given
    tilt = slope * sight.weights[:, None] * question.scale
    seen = sight.bare(tilt)
    square, pull, cost = tilt.T @ seen, seen.T @ (off * sight.weights), sight.cost(off)
    while damping < MOST_DAMPING:
        free = ~(((at <= question.low) & (pull < 0)) | ((at >= question.high) & (pull > 0)))
        if not free.any():
            break
        inner = square[np.ix_(free, free)]
        step = np.zeros(at.size)
        step[free] = np.linalg.solve(inner + damping * np.diag(np.maximum(np.diag(inner), 1e-12)), pull[free])
        moved = np.clip(at + step * question.scale, question.low, question.high)
        if np.all(np.abs(moved - at) < question.enough * question.scale):
            break
        fresh = question.model(moved)
        if sight.cost(question.seen - fresh) < cost:
            return moved, fresh, damping * LOWERED
        damping *= RAISED
    return at, given, DAMPING


def _worth(slope: Floats, off: Floats, *, sight: _Sight, records: Sequence[slice]) -> tuple[Floats, float, float]:
    """Covariance (p, p) of the parameters, over how many values the scatter hangs together, and its variance over a long run.

    The scatter is that of the residuals of each record, with its autocovariance up to the lag where it first vanishes, under
    Bartlett's weights; the errors that hold for the whole come with their own standard deviations.
    """
    tilt = sight.bare(slope * sight.weights[:, None])
    inverse = np.linalg.pinv(tilt.T @ (slope * sight.weights[:, None]))
    left = sight.bare(off * sight.weights)
    spare = off.size / max(1, off.size - tilt.shape[1])
    meat, long_run, plain = np.zeros_like(inverse), 0.0, 0.0
    for record in records:
        part, lags = tilt[record], autocovariance(left[record]) * spare
        for lag, value in enumerate(lags):
            cross = part[: part.shape[0] - lag].T @ part[lag:]
            meat += value * (cross if lag == 0 else cross + cross.T)
        long_run += float(2 * lags.sum() - lags[0]) * part.shape[0] / off.size
        plain += float(lags[0]) * part.shape[0] / off.size
    pull = tilt.T @ sight.shapes
    spread = inverse @ (meat + pull @ pull.T) @ inverse
    return np.asarray(spread, dtype=np.float64), long_run / plain if plain else 1.0, max(long_run, 1e-9)


def autocovariance(error: Floats) -> Floats:
    """Autocovariance of a record about zero, from lag 0 to its first zero, tapered by Bartlett's weights."""
    n = error.size
    most = max(1, n // 4)
    raw = np.array([float(error[: n - k] @ error[k:]) / max(n, 1) for k in range(most)])
    gone = np.flatnonzero(raw <= 0)
    end = max(1, int(gone[0]) if gone.size else most)
    return raw[:end] * (1 - np.arange(end) / (end + 1))
