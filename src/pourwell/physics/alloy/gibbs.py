"""Molar Gibbs energies of liquid and fcc solutions. SI: K, J/mol, kg/mol; compositions are mole fractions.

    G = sum x_i G_i + R T sum x_i ln x_i + sum over pairs x_i x_j sum_k L_k (x_i - x_j)^k

Ternary properties are extrapolated from the pairs (Muggianu); there is no ternary term. Pressure is one atmosphere.
Source: the form, Redlich and Kister 1948, Muggianu 1975; the parameters are data of the caller.
"""

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int_]

GAS_CONSTANT: Final = 8.31451
"""[J/(mol K)], the value that the assessments were made with."""
Property = Literal["energy", "slope", "enthalpy", "capacity"]
TERMS: Final = 8
"""A pure element: coefficients of 1, T, T ln T, T^2, T^3, 1/T, T^7, T^-9. A pair: the first three of them."""


def _basis(temperature: float, what: Property) -> tuple[float, ...]:
    """The terms of a Gibbs energy at a temperature, or of its slope dG/dT, its enthalpy G - T dG/dT, its capacity -T d2G/dT2."""
    t, ln = temperature, math.log(temperature)
    if what == "energy":
        return (1.0, t, t * ln, t**2, t**3, 1.0 / t, t**7, t**-9)
    if what == "slope":
        return (0.0, 1.0, ln + 1.0, 2.0 * t, 3.0 * t**2, -(t**-2), 7.0 * t**6, -9.0 * t**-10)
    if what == "enthalpy":
        return (1.0, 0.0, -t, -(t**2), -2.0 * t**3, 2.0 / t, -6.0 * t**7, 10.0 * t**-9)
    return (0.0, 0.0, -1.0, -2.0 * t, -6.0 * t**2, -2.0 * t**-2, -42.0 * t**6, -90.0 * t**-10)


def joined(pieces: Floats) -> Floats:
    """The pieces of a pure element (p, 9) with neither a step nor a kink where they meet.

    The printed digits leave steps of some mJ/mol there, and Newton would go to and fro across them at a melting point: constant and
    slope of each later piece are moved by that much.
    """
    smooth = pieces.copy()
    for lower, upper in pairwise(smooth):
        meet = float(lower[0])
        slope = (lower[1:] - upper[1:]) @ np.array(_basis(meet, "slope"))
        upper[2] += slope
        upper[1] += (lower[1:] - upper[1:]) @ np.array(_basis(meet, "energy"))
    return smooth


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """One phase of n elements.

    Attributes
    ----------
    pure : n arrays (pieces, 9): the temperature up to which a piece holds [K], then its eight coefficients [J/mol]
    pairs : (m, 3) int array: elements i and j and the power k of (x_i - x_j)
    terms : (m, 3) array: coefficients of 1, T, T ln T in L_k [J/mol]
    """

    pure: tuple[Floats, ...]
    pairs: Ints
    terms: Floats

    def coefficients(self, temperature: float, what: Property = "energy") -> Floats:
        """(n + m,) array: the pure elements' values, then the L_k, at a temperature [K]."""
        basis = np.array(_basis(temperature, what))
        values = np.empty(len(self.pure) + len(self.pairs))
        for i, pieces in enumerate(self.pure):
            piece = min(int(np.searchsorted(pieces[:, 0], temperature)), len(pieces) - 1)
            values[i] = pieces[piece, 1:] @ basis
        values[len(self.pure) :] = self.terms @ basis[:3]
        return values

    def features(self, x: Floats) -> Floats:
        """(..., n + m) array: x_i, then x_i x_j (x_i - x_j)^k, for compositions (..., n)."""
        i, j, k = self.pairs.T
        return np.concatenate([x, x[..., i] * x[..., j] * (x[..., i] - x[..., j]) ** k], axis=-1)

    def partials(self, x: Floats) -> tuple[Floats, Floats]:
        """What each L_k adds to the chemical potentials, and the second derivatives of its feature.

        Parameters
        ----------
        x : (n,) array

        Returns
        -------
        (m, n) array, (m, n, n) array
        """
        i, j, k = self.pairs.T
        rows = np.arange(len(self.pairs))
        d, xi, xj = x[i] - x[j], x[i], x[j]
        d0, d1, d2 = d**k, k * d ** np.maximum(k - 1, 0), k * (k - 1) * d ** np.maximum(k - 2, 0)
        gradient, second = np.zeros((len(rows), len(x))), np.zeros((len(rows), len(x), len(x)))
        gradient[rows, i] = xj * d0 + xi * xj * d1
        gradient[rows, j] = xi * d0 - xi * xj * d1
        second[rows, i, i] = 2.0 * xj * d1 + xi * xj * d2
        second[rows, j, j] = -2.0 * xi * d1 + xi * xj * d2
        second[rows, i, j] = second[rows, j, i] = d0 + (xi - xj) * d1 - xi * xj * d2
        added = (xi * xj * d0 - gradient @ x)[:, None] + gradient
        return added, second

    def potentials(self, x: Floats, temperature: float) -> Floats:
        """(n,) array: chemical potentials [J/mol] at a composition (n,), none of it zero."""
        values, n = self.coefficients(temperature), len(x)
        return values[:n] + values[n:] @ self.partials(x)[0] + GAS_CONSTANT * temperature * np.log(x)

    def enthalpy(self, x: Floats, temperature: float) -> float:
        """[J/mol], against the elements as they are at 298.15 K."""
        return float(self.features(x) @ self.coefficients(temperature, "enthalpy"))

    def among(self, kept: Ints) -> "Solution":
        """The same phase of some of its elements only."""
        place = {int(old): new for new, old in enumerate(kept)}
        rows = [r for r, (i, j, _) in enumerate(self.pairs) if int(i) in place and int(j) in place]
        pairs = np.array([[place[int(i)], place[int(j)], int(k)] for i, j, k in self.pairs[rows]], dtype=int).reshape(-1, 3)
        return Solution(pure=tuple(self.pure[int(e)] for e in kept), pairs=pairs, terms=self.terms[rows])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assessment:
    """Liquid and fcc of the same elements in the same order, with their molar masses (n,) [kg/mol]."""

    liquid: Solution
    fcc: Solution
    molar_masses: Floats

    def among(self, kept: Ints) -> "Assessment":
        """The same for some of the elements only."""
        return Assessment(liquid=self.liquid.among(kept), fcc=self.fcc.among(kept), molar_masses=self.molar_masses[kept])
