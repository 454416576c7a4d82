"""Published Gibbs energies as rows of the library, and as the plain arrays that are computed with."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Self

import numpy as np
from numpy.typing import NDArray
from pydantic import model_validator

from pourwell.errors import UnknownNameError
from pourwell.materials.model import Figure, Grade, Row
from pourwell.units import kg_per_mol_from_g_per_mol

Floats = NDArray[np.float64]
Ints = NDArray[np.int_]

PIECE = 9
"""Numbers of a piece: where it ends, and eight coefficients."""
TERM = 3


class GibbsPieces(Row):
    """A Gibbs energy over temperature, in pieces that follow each other."""

    pieces: tuple[tuple[float, ...], ...]
    """Up to which temperature [K]; then coefficients of 1, T, T ln T, T^2, T^3, 1/T, T^7, T^-9 [J/mol]."""
    source: str
    grade: Grade
    note: str = ""

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if not self.pieces or any(len(piece) != PIECE for piece in self.pieces):
            raise ValueError(f"pieces: each holds {PIECE} numbers, the end and eight coefficients")
        if any(b[0] <= a[0] for a, b in pairwise(self.pieces)):
            raise ValueError("pieces: their ends do not ascend")
        return self


class GibbsTerms(Row):
    """What a pair of metals adds to the Gibbs energy of a solution."""

    terms: tuple[tuple[float, float, float], ...]
    """Row k: coefficients of 1, T, T ln T in L_k [J/mol]."""
    source: str
    grade: Grade
    note: str = ""


class GibbsElement(Row):
    """A pure metal."""

    molar_mass_g_per_mol: Figure
    fcc: GibbsPieces
    liquid_over_fcc: GibbsPieces


class GibbsPair(Row):
    """Two metals, named in the order of the row's id."""

    liquid: GibbsTerms
    fcc: GibbsTerms


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GibbsTable:
    """The rows of some metals as arrays, SI.

    Attributes
    ----------
    symbols : the n metals, in the order of all that follows
    molar_masses : (n,) [kg/mol]
    liquid, fcc : n arrays (pieces, 9): the end [K] and the coefficients [J/mol]
    pairs : (m, 3) int array: metals i and j and the power k
    liquid_terms, fcc_terms : (m, 3) arrays [J/mol]
    sources : keys of the papers, each once
    """

    symbols: tuple[str, ...]
    molar_masses: Floats
    liquid: tuple[Floats, ...]
    fcc: tuple[Floats, ...]
    pairs: Ints
    liquid_terms: Floats
    fcc_terms: Floats
    sources: tuple[str, ...]


def gibbs_table(elements: Mapping[str, GibbsElement], pairs: Mapping[str, GibbsPair], symbols: Sequence[str]) -> GibbsTable:
    """The arrays for these metals. Raises UnknownNameError for a metal or a pair that has no row."""
    index: list[tuple[int, int, int]] = []
    liquid_terms: list[tuple[float, ...]] = []
    fcc_terms: list[tuple[float, ...]] = []
    used: list[str] = []
    for symbol in symbols:
        if symbol not in elements:
            raise UnknownNameError("assessed metal", symbol, elements)
        used += [elements[symbol].fcc.source]
    for i, j in combinations(range(len(symbols)), 2):
        name = f"{symbols[i]}-{symbols[j]}"
        if name not in pairs:
            raise UnknownNameError("assessed pair of metals", name, pairs)
        pair = pairs[name]
        used += [pair.liquid.source, pair.fcc.source]
        for power in range(max(len(pair.liquid.terms), len(pair.fcc.terms))):
            index.append((i, j, power))
            liquid_terms.append(pair.liquid.terms[power] if power < len(pair.liquid.terms) else (0.0,) * TERM)
            fcc_terms.append(pair.fcc.terms[power] if power < len(pair.fcc.terms) else (0.0,) * TERM)
    return GibbsTable(
        symbols=tuple(symbols),
        molar_masses=np.array([kg_per_mol_from_g_per_mol(elements[s].molar_mass_g_per_mol.value) for s in symbols]),
        liquid=tuple(_sum(elements[s].fcc, elements[s].liquid_over_fcc) for s in symbols),
        fcc=tuple(np.array(elements[s].fcc.pieces) for s in symbols),
        pairs=np.array(index, dtype=int).reshape(-1, 3),
        liquid_terms=np.array(liquid_terms, dtype=float).reshape(-1, TERM),
        fcc_terms=np.array(fcc_terms, dtype=float).reshape(-1, TERM),
        sources=tuple(dict.fromkeys(source.partition(":")[0] for source in used)),
    )


def _sum(one: GibbsPieces, other: GibbsPieces) -> Floats:
    """Two functions added, piece by piece, up to where the shorter one ends."""
    last = min(one.pieces[-1][0], other.pieces[-1][0])
    ends = sorted({piece[0] for piece in (*one.pieces, *other.pieces) if piece[0] <= last})
    return np.array([[end, *(np.array(_at(one, end)) + np.array(_at(other, end)))] for end in ends])


def _at(function: GibbsPieces, end: float) -> tuple[float, ...]:
    """The coefficients that hold just below a temperature."""
    return next(piece[1:] for piece in function.pieces if end <= piece[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class MeltingRange:
    """Where a recipe melts, as computed from published Gibbs energies."""

    solidus_c: float
    """By the lever rule: of metal at rest with itself, as tables give it."""
    liquidus_c: float
    last_liquid_c: float
    """Where a casting, whose solid has no time to even out, is 99 percent solid."""
    band_k: float
    """Solidus and liquidus lie within this of what is measured."""
    sources: tuple[str, ...]


Melts = Callable[[Mapping[str, float]], MeltingRange | None]
"""From a recipe in percent by mass to its melting range; None where it cannot be computed."""
