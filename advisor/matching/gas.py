"""Quick gas properties for the match: polynomials fitted once to the tables of `air`.

The match evaluates enthalpy some forty times a point; a quartic per mixture is enough. Between 250 K and 1600
K it keeps cp within 0.8 % and enthalpy within 900 J/kg (0.8 K) of the NASA polynomials it is fitted to.
Temperatures in K, enthalpies in J/kg, `burnt` is the mass share of stoichiometric products (0: air).
"""

from functools import cache

import numpy as np

from advisor.matching import air
from advisor.matching.inputs import Array, Number

_LOW, _HIGH = 250.0, 1600.0


def _fitted(lam: float | None) -> tuple[float, ...]:
    t = np.linspace(_LOW, _HIGH, 271)
    cp = np.asarray(air.specific_heat(t, lam))
    return tuple(float(c) for c in np.polynomial.polynomial.polyfit(t / 1000.0, cp, 3))


@cache
def _fits() -> tuple[tuple[float, float], ...]:
    """By power of the temperature [kK]: what air has, and what burnt gas has more."""
    return tuple((one, other - one) for one, other in zip(_fitted(None), _fitted(1.0), strict=True))


def burnt_share(lam: Number) -> Array:
    """Mass share of stoichiometric products in the exhaust; lam below 1 counts as 1."""
    richness = 1.0 / np.maximum(lam, 1.0)
    fuel = richness / air.STOICHIOMETRIC_RATIO
    return np.asarray((richness + fuel) / (1.0 + fuel))


def gas_constant(burnt: Number) -> Array:
    """Gas constant [J/(kg K)]."""
    return np.asarray(air.AIR_GAS_CONSTANT + burnt * (_BURNT_CONSTANT - air.AIR_GAS_CONSTANT))


_BURNT_CONSTANT = float(air.gas_constant(1.0))


class Mixture:
    """Exhaust gas of a burnt share, its polynomials put together once for all that is asked of it."""

    __slots__ = ("_heat", "_rise", "burnt")

    def __init__(self, burnt: Number) -> None:
        self.burnt = burnt
        self._heat = tuple(a + burnt * b for a, b in _fits())
        self._rise = tuple(c / n for n, c in enumerate(self._heat, 1))

    def specific_heat(self, temperature: Number) -> Array:
        """cp [J/(kg K)]."""
        t, c = np.asarray(temperature) * 1e-3, self._heat
        return np.asarray(c[0] + t * (c[1] + t * (c[2] + t * c[3])))

    def enthalpy(self, temperature: Number) -> Array:
        """Sensible enthalpy [J/kg], zero at 0 K of the fitted polynomial (only differences mean anything)."""
        t, c = np.asarray(temperature) * 1e-3, self._rise
        return np.asarray(1e3 * (t * (c[0] + t * (c[1] + t * (c[2] + t * c[3])))))

    def temperature(self, enthalpy: Number) -> Array:
        """Temperature [K] of a sensible enthalpy; one Newton step from a cubic start leaves less than 2e-4 K
        between 250 K and 1600 K."""
        h, burnt = np.asarray(enthalpy) * 1e-6, self.burnt
        a, b = _start()
        found = a[0] + h * (a[1] + h * (a[2] + h * a[3])) + burnt * (b[0] + h * (b[1] + h * (b[2] + h * b[3])))
        found = found - (self.enthalpy(found) - enthalpy) / self.specific_heat(found)
        return np.asarray(np.minimum(np.maximum(found, 100.0), 4000.0))


def specific_heat(temperature: Number, burnt: Number) -> Array:
    """cp [J/(kg K)]."""
    return Mixture(burnt).specific_heat(temperature)


def enthalpy(temperature: Number, burnt: Number) -> Array:
    """Sensible enthalpy [J/kg] (see `Mixture`)."""
    return Mixture(burnt).enthalpy(temperature)


def temperature(enthalpy_asked: Number, burnt: Number) -> Array:
    """Temperature [K] of a sensible enthalpy."""
    return Mixture(burnt).temperature(enthalpy_asked)


FRESH = Mixture(0.0)
"""Air alone."""


@cache
def _start() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Cubics in enthalpy [MJ/kg] for the start of `temperature`: of air, and what the burnt share adds."""
    t, burnt = np.meshgrid(np.linspace(_LOW, _HIGH, 271), np.linspace(0.0, 1.0, 11))
    h = enthalpy(t, burnt) * 1e-6
    terms = [h**i * burnt**j for j in range(2) for i in range(4)]
    found = np.linalg.lstsq(np.stack([x.ravel() for x in terms], axis=1), t.ravel(), rcond=None)[0]
    return tuple(float(x) for x in found[:4]), tuple(float(x) for x in found[4:])

