"""Air, exhaust gas and pipes: the standard atmosphere, gas properties, corrected quantities, duct losses.

SI throughout (Pa absolute, K, kg/s, m). Every function takes floats or arrays and broadcasts. Humidity is
ignored: at 35 C and 60 % relative humidity it makes the air 1.3 % lighter, which no figure here shows.

Air and combustion products are mixtures of ideal gases with the NASA polynomials of McBride, Gordon and Reno,
NASA TM-4513 (1993), valid from 200 K to 6000 K and without dissociation, which below 1500 K is negligible.
The fuel is CH1.8, the hydrogen to carbon ratio of diesel fuel.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

GRAVITY: Final = 9.80665
EARTH_RADIUS: Final = 6_356_766.0
"""Radius that turns geometric into geopotential height, U.S. Standard Atmosphere 1976 [m]."""
MOLAR_GAS_CONSTANT: Final = 8314.462618
"""CODATA 2018 [J/(kmol K)]."""

_STANDARD_PRESSURE: Final = 101_325.0
_STANDARD_TEMPERATURE: Final = 288.15
_LAPSE: Final = 0.0065
_ATMOSPHERE_GAS_CONSTANT: Final = 8314.32 / 28.9644
"""The standard atmosphere's own gas constant, older than CODATA's [J/(kg K)]."""


def geopotential(altitude: ArrayLike) -> Array:
    """Geopotential height [m] of a geometric altitude [m], as surveyed maps and road signs state it."""
    height = np.asarray(altitude, dtype=np.float64)
    return np.asarray(EARTH_RADIUS * height / (EARTH_RADIUS + height))


def standard_atmosphere(altitude: ArrayLike) -> tuple[Array, Array]:
    """Pressure [Pa] and temperature [K] at a geometric altitude of -500 m to 11,000 m.

    U.S. Standard Atmosphere 1976 (the same as ISO 2533 below 11 km). On a day that is hotter or colder the
    pressure is kept and the day's temperature taken instead, as density altitude is worked out in aviation;
    the weather moves the pressure by about 2 % either way.
    """
    temperature = _STANDARD_TEMPERATURE - _LAPSE * geopotential(altitude)
    exponent = GRAVITY / (_ATMOSPHERE_GAS_CONSTANT * _LAPSE)
    return _STANDARD_PRESSURE * (temperature / _STANDARD_TEMPERATURE) ** exponent, temperature


def density_of_day(altitude: ArrayLike, temperature: ArrayLike) -> Array:
    """Density [kg/m3] of the air at a geometric altitude [m] on a day of the given temperature [K]."""
    pressure, _ = standard_atmosphere(altitude)
    return np.asarray(pressure / (_ATMOSPHERE_GAS_CONSTANT * np.asarray(temperature, dtype=np.float64)))


# --- gas properties ------------------------------------------------------------------------------------

_MOLAR_MASS: Final = {"N2": 28.014, "O2": 31.998, "Ar": 39.95, "CO2": 44.009, "H2O": 18.015}
_SPLIT: Final = 1000.0
# cp/R = a0 + a1 T + ... + a4 T^4; enthalpy constant a5 and entropy constant a6; below and above 1000 K.
_NASA: Final[Mapping[str, tuple[tuple[float, ...], tuple[float, ...]]]] = {
    "N2": (
        (3.53100528, -1.23660987e-4, -5.02999437e-7, 2.43530612e-9, -1.40881235e-12, -1046.97628, 2.96747468),
        (2.95257626, 1.39690057e-3, -4.92631691e-7, 7.86010367e-11, -4.60755321e-15, -923.948645, 5.87189252),
    ),
    "O2": (
        (3.78245636, -2.99673415e-3, 9.847302e-6, -9.68129508e-9, 3.24372836e-12, -1063.94356, 3.65767573),
        (3.66096083, 6.56365523e-4, -1.41149485e-7, 2.05797658e-11, -1.29913248e-15, -1215.97725, 3.41536184),
    ),
    "Ar": ((2.5, 0.0, 0.0, 0.0, 0.0, -745.375, 4.37967491), (2.5, 0.0, 0.0, 0.0, 0.0, -745.375, 4.37967491)),
    "CO2": (
        (2.35677352, 8.98459677e-3, -7.12356269e-6, 2.45919022e-9, -1.43699548e-13, -48371.9697, 9.90105222),
        (
            4.63659493,
            2.74131991e-3,
            -9.95828531e-7,
            1.60373011e-10,
            -9.16103468e-15,
            -49024.9341,
            -1.93534855,
        ),
    ),
    "H2O": (
        (4.19864056, -2.0364341e-3, 6.52040211e-6, -5.48797062e-9, 1.77197817e-12, -30293.7267, -0.849032208),
        (2.67703787, 2.97318329e-3, -7.7376969e-7, 9.44336689e-11, -4.26900959e-15, -29885.8938, 6.88255571),
    ),
}
AIR_COMPOSITION: Final = {"N2": 0.7808, "O2": 0.2095, "Ar": 0.0093, "CO2": 0.0004}
"""Dry air by volume, U.S. Standard Atmosphere 1976, rounded to four places."""
HYDROGEN_TO_CARBON: Final = 1.8
"""Atoms of hydrogen per atom of carbon in diesel fuel (Heywood 1988, table D.4, from memory)."""


@dataclass(frozen=True, slots=True)
class _Mixture:
    gas_constant: float
    cold: tuple[float, ...]
    hot: tuple[float, ...]


def _mixture(moles: Mapping[str, float]) -> _Mixture:
    mass = sum(n * _MOLAR_MASS[name] for name, n in moles.items())
    scale = MOLAR_GAS_CONSTANT / mass
    cold, hot = (
        tuple(scale * sum(n * _NASA[name][half][i] for name, n in moles.items()) for i in range(7))
        for half in (0, 1)
    )
    return _Mixture(scale * sum(moles.values()), cold, hot)


def _stoichiometric_products() -> tuple[_Mixture, float]:
    oxygen = 1.0 + HYDROGEN_TO_CARBON / 4.0
    air = {name: share * oxygen / AIR_COMPOSITION["O2"] for name, share in AIR_COMPOSITION.items()}
    products = {**air, "O2": 0.0, "CO2": air["CO2"] + 1.0, "H2O": HYDROGEN_TO_CARBON / 2.0}
    air_mass = sum(n * _MOLAR_MASS[name] for name, n in air.items())
    return _mixture(products), air_mass / (12.011 + 1.008 * HYDROGEN_TO_CARBON)


_AIR: Final = _mixture(AIR_COMPOSITION)
_BURNT, STOICHIOMETRIC_RATIO = _stoichiometric_products()
"""Air to fuel mass ratio of complete combustion of CH1.8: 14.5."""
AIR_GAS_CONSTANT: Final = _AIR.gas_constant
"""Dry air [J/(kg K)]."""


def _burnt_share(lam: ArrayLike) -> Array:
    """Mass share of stoichiometric products in exhaust at an air-fuel equivalence ratio lam (inf: air)."""
    richness = 1.0 / np.maximum(np.asarray(lam, dtype=np.float64), 1.0)
    fuel = richness / STOICHIOMETRIC_RATIO
    return np.asarray((richness + fuel) / (1.0 + fuel))


def _horner(coefficients: tuple[float, ...], temperature: Array) -> Array:
    total: Array = np.full_like(temperature, coefficients[-1])
    for coefficient in coefficients[-2::-1]:
        total = total * temperature + coefficient
    return total


def _halves(mixture: _Mixture, temperature: ArrayLike, kind: str) -> Array:
    """cp, enthalpy or standard entropy of one mixture by its two polynomials [J/(kg K), J/kg, J/(kg K)]."""
    t = np.asarray(temperature, dtype=np.float64)

    def value(a: tuple[float, ...]) -> Array:
        if kind == "cp":
            return _horner(a[:5], t)
        if kind == "enthalpy":
            return _horner((a[5], a[0], a[1] / 2, a[2] / 3, a[3] / 4, a[4] / 5), t)
        return a[0] * np.log(t) + _horner((a[6], a[1], a[2] / 2, a[3] / 3, a[4] / 4), t)

    cold = value(mixture.cold)
    if not np.any(t > _SPLIT):
        return cold
    return np.where(t > _SPLIT, value(mixture.hot), cold)


def _blend(temperature: ArrayLike, lam: ArrayLike | None, kind: str) -> Array:
    air = _halves(_AIR, temperature, kind)
    if lam is None:
        return air
    share = _burnt_share(lam)
    return air + share * (_halves(_BURNT, temperature, kind) - air)


def gas_constant(lam: ArrayLike | None = None) -> Array:
    """Gas constant [J/(kg K)] of dry air (lam None) or of exhaust at an air-fuel equivalence ratio lam."""
    if lam is None:
        return np.asarray(AIR_GAS_CONSTANT)
    return AIR_GAS_CONSTANT + _burnt_share(lam) * (_BURNT.gas_constant - AIR_GAS_CONSTANT)


def specific_heat(temperature: ArrayLike, lam: ArrayLike | None = None) -> Array:
    """cp [J/(kg K)] of dry air (lam None) or of exhaust gas.

    Richer than lam = 1 counts as 1: at 0.85 carbon monoxide and hydrogen make cp 2 % more than this.
    """
    return _blend(temperature, lam, "cp")


def cp_air(temperature: ArrayLike) -> Array:
    """cp of dry air [J/(kg K)] at a temperature [K]."""
    return specific_heat(temperature)


def gamma_air(temperature: ArrayLike) -> Array:
    """Ratio of specific heats of dry air at a temperature [K]."""
    cp = specific_heat(temperature)
    return np.asarray(cp / (cp - AIR_GAS_CONSTANT))


def cp_exhaust(temperature: ArrayLike, lam: ArrayLike) -> Array:
    """cp of exhaust gas [J/(kg K)] at a temperature [K] and air-fuel equivalence ratio."""
    return specific_heat(temperature, lam)


def gamma_exhaust(temperature: ArrayLike, lam: ArrayLike) -> Array:
    """Ratio of specific heats of exhaust gas at a temperature [K] and air-fuel equivalence ratio."""
    cp = specific_heat(temperature, lam)
    return np.asarray(cp / (cp - gas_constant(lam)))


def enthalpy(temperature: ArrayLike, lam: ArrayLike | None = None) -> Array:
    """Sensible enthalpy [J/kg] over 298.15 K of dry air or exhaust gas."""
    reference = np.asarray(298.15)
    return _blend(temperature, lam, "enthalpy") - _blend(reference, lam, "enthalpy")


def temperature_of(enthalpy_asked: ArrayLike, lam: ArrayLike | None = None) -> Array:
    """Temperature [K] at which the gas has the given sensible enthalpy [J/kg]: five steps of Newton."""
    wanted = np.asarray(enthalpy_asked, dtype=np.float64)
    temperature = 298.15 + wanted / np.where(wanted > 3e5, 1150.0, 1010.0)
    for _ in range(5):
        temperature = temperature - (enthalpy(temperature, lam) - wanted) / specific_heat(temperature, lam)
        temperature = np.clip(temperature, 150.0, 3500.0)
    return np.asarray(temperature)


def isentropic_temperature(
    temperature: ArrayLike, pressure_ratio: ArrayLike, lam: ArrayLike | None = None
) -> Array:
    """Temperature [K] after an isentropic change of pressure by the given ratio (above 1: compression)."""
    start = np.asarray(temperature, dtype=np.float64)
    rise = gas_constant(lam) * np.log(np.asarray(pressure_ratio, dtype=np.float64))
    wanted = _blend(start, lam, "entropy") + rise
    end = start * np.exp(rise / specific_heat(start, lam))
    for _ in range(5):
        end = end * np.exp((wanted - _blend(end, lam, "entropy")) / specific_heat(end, lam))
    return np.asarray(end)


def compression(
    temperature: ArrayLike, pressure_ratio: ArrayLike, efficiency: ArrayLike
) -> tuple[Array, Array]:
    """Outlet temperature [K] and work [J/kg] of an adiabatic compressor; cp varies along the way.

    efficiency: isentropic, total to total.
    """
    start = enthalpy(temperature)
    ideal = enthalpy(isentropic_temperature(temperature, pressure_ratio)) - start
    work = ideal / np.asarray(efficiency, dtype=np.float64)
    return temperature_of(start + work), work


def expansion(
    temperature: ArrayLike, expansion_ratio: ArrayLike, efficiency: ArrayLike, lam: ArrayLike
) -> tuple[Array, Array]:
    """Outlet temperature [K] and work [J/kg] of an adiabatic turbine; the ratio is inlet over outlet."""
    start = enthalpy(temperature, lam)
    end = isentropic_temperature(temperature, 1.0 / np.asarray(expansion_ratio, dtype=np.float64), lam)
    work = (start - enthalpy(end, lam)) * np.asarray(efficiency, dtype=np.float64)
    return temperature_of(start - work, lam), work


# --- corrected quantities ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Reference:
    """Inlet total state that corrected flow and speed refer to: temperature [K], pressure [Pa]."""

    temperature: float
    pressure: float


SAE_REFERENCE: Final = Reference(298.15, 100_000.0)
"""SAE J1826 turbocharger gas stand test code: 298 K and 100 kPa (from memory of the standard)."""
TRADE_REFERENCE: Final = Reference(545.0 / 1.8, 13.949 * 6894.757293168)
"""545 degrees Rankine and 13.949 psi, widespread in the trade (common practice, no source)."""
STANDARD_DAY: Final = Reference(_STANDARD_TEMPERATURE, _STANDARD_PRESSURE)


def corrected_flow(
    flow: ArrayLike, temperature: ArrayLike, pressure: ArrayLike, reference: Reference = SAE_REFERENCE
) -> Array:
    """Flow [kg/s] that the machine would pass at the reference inlet: m sqrt(T/Tref) / (p/pref)."""
    ratio = np.asarray(temperature, dtype=np.float64) / reference.temperature
    return np.asarray(
        np.asarray(flow) * np.sqrt(ratio) * reference.pressure / np.asarray(pressure, dtype=np.float64)
    )


def corrected_speed(speed: ArrayLike, temperature: ArrayLike, reference: Reference = SAE_REFERENCE) -> Array:
    """Shaft speed [any unit] that gives the same Mach numbers at the reference inlet: N / sqrt(T/Tref)."""
    ratio = np.asarray(temperature, dtype=np.float64) / reference.temperature
    return np.asarray(np.asarray(speed) / np.sqrt(ratio))


def reference_factor(was: Reference, wanted: Reference) -> float:
    """Factor that turns flow corrected to one reference into flow corrected to another."""
    return float(np.sqrt(was.temperature / wanted.temperature) * wanted.pressure / was.pressure)


# --- pipes ---------------------------------------------------------------------------------------------

WALL_ROUGHNESS: Final = 45e-6
"""Drawn or welded steel pipe after some use [m] (Moody's commercial steel, 0.045 mm)."""


@dataclass(frozen=True, slots=True)
class PipeFlow:
    """Mean velocity [m/s], Mach number, Reynolds number and friction loss [Pa/m] of a straight pipe."""

    velocity: Array
    mach: Array
    reynolds: Array
    loss: Array


def viscosity(temperature: ArrayLike) -> Array:
    """Dynamic viscosity of air [Pa s], Sutherland's formula as in the U.S. Standard Atmosphere 1976.

    Exhaust gas differs by a few percent, which friction hardly feels.
    """
    t = np.asarray(temperature, dtype=np.float64)
    return np.asarray(1.458e-6 * t**1.5 / (t + 110.4))


def pipe_flow(
    flow: ArrayLike,
    pressure: ArrayLike,
    temperature: ArrayLike,
    bore: ArrayLike,
    lam: ArrayLike | None = None,
    roughness: float = WALL_ROUGHNESS,
) -> PipeFlow:
    """Flow [kg/s] of air (lam None) or exhaust gas through a pipe of the given bore [m].

    Friction after Haaland, J. Fluids Eng. 105 (1983) 89, within 2 % of Colebrook's formula; bends, steps and
    screens come on top. The loss is right as long as it is small against the pressure.
    """
    m, p, t, d = (np.asarray(x, dtype=np.float64) for x in (flow, pressure, temperature, bore))
    gas = gas_constant(lam)
    cp = specific_heat(t, lam)
    density = p / (gas * t)
    velocity = m / (density * np.pi / 4.0 * d**2)
    reynolds = np.maximum(density * velocity * d / viscosity(t), 1.0)
    turbulent = (1.8 * np.log10(6.9 / reynolds + (roughness / d / 3.7) ** 1.11)) ** -2
    friction = np.where(reynolds < 2300.0, 64.0 / reynolds, turbulent)
    loss = friction / d * density * velocity**2 / 2.0
    return PipeFlow(velocity, velocity / np.sqrt(cp / (cp - gas) * gas * t), reynolds, loss)
