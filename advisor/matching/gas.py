"""Quick gas properties for the match: polynomials fitted once to the tables of `air`.

The match evaluates enthalpy some forty times a point; a quartic per mixture is enough. Between 250 K and 1600 K it
keeps cp within 0.3 % and enthalpy within 200 J/kg of the NASA polynomials it is fitted to (tested).
Temperatures in K, enthalpies in J/kg, `burnt` is the mass share of stoichiometric products (0: air).
"""

import numpy as np

from advisor.matching import air
from advisor.matching.inputs import Array, Number

_LOW, _HIGH = 250.0, 1600.0


def _fitted(lam: float | None) -> tuple[float, ...]:
    t = np.linspace(_LOW, _HIGH, 271)
    cp = np.asarray(air.specific_heat(t, lam))
    return tuple(float(c) for c in np.polynomial.polynomial.polyfit(t / 1000.0, cp, 3))


_AIR = _fitted(None)
_EXTRA = tuple(b - a for a, b in zip(_AIR, _fitted(1.0), strict=True))


def burnt_share(lam: Number) -> Array:
    """Mass share of stoichiometric products in the exhaust; lam below 1 counts as 1."""
    richness = 1.0 / np.maximum(lam, 1.0)
    fuel = richness / air.STOICHIOMETRIC_RATIO
    return np.asarray((richness + fuel) / (1.0 + fuel))


def gas_constant(burnt: Number) -> Array:
    """Gas constant [J/(kg K)]."""
    return np.asarray(air.AIR_GAS_CONSTANT + burnt * (_BURNT_CONSTANT - air.AIR_GAS_CONSTANT))


_BURNT_CONSTANT = float(air.gas_constant(1.0))


def specific_heat(temperature: Number, burnt: Number) -> Array:
    """cp [J/(kg K)]."""
    t = np.asarray(temperature) * 1e-3
    plain = _AIR[0] + t * (_AIR[1] + t * (_AIR[2] + t * _AIR[3]))
    return np.asarray(plain + burnt * (_EXTRA[0] + t * (_EXTRA[1] + t * (_EXTRA[2] + t * _EXTRA[3]))))


def enthalpy(temperature: Number, burnt: Number) -> Array:
    """Sensible enthalpy [J/kg], zero at 0 K of the fitted polynomial (only differences mean anything)."""
    t = np.asarray(temperature) * 1e-3
    a, b = _AIR, _EXTRA
    plain = t * (a[0] + t * (a[1] / 2 + t * (a[2] / 3 + t * (a[3] / 4))))
    return np.asarray(1e3 * (plain + burnt * (t * (b[0] + t * (b[1] / 2 + t * (b[2] / 3 + t * (b[3] / 4)))))))


def temperature(enthalpy_asked: Number, burnt: Number) -> Array:
    """Temperature [K] of a sensible enthalpy; two Newton steps from a quadratic start (error below 1e-6 K
    between 250 K and 2000 K)."""
    wanted = np.asarray(enthalpy_asked)
    linear = _START[0] + burnt * _START[2]
    slope = _START[1] + burnt * _START[3]
    found = (np.sqrt(linear * linear + 2.0 * slope * np.maximum(wanted, 0.0)) - linear) / slope
    for _ in range(2):
        found = found - (enthalpy(found, burnt) - wanted) / specific_heat(found, burnt)
    return np.asarray(np.clip(found, 100.0, 4000.0))


def _start() -> tuple[float, float, float, float]:
    t = np.linspace(_LOW, _HIGH, 271)
    table = np.stack([t, 0.5 * t * t], axis=1)
    plain, full = (np.linalg.lstsq(table, enthalpy(t, b), rcond=None)[0] for b in (0.0, 1.0))
    return float(plain[0]), float(plain[1]), float(full[0] - plain[0]), float(full[1] - plain[1])


_START = _start()
