"""A compressor map from the wheel's geometry, by published one-dimensional models.

Everything is dimensionless, so one wheel's map holds for every size, inlet state and speed:

    phi   flow coefficient     m / (rho01 U2 D2^2)
    M     tip Mach number      U2 / a01
    q     flow number          phi M = m / (rho01 a01 D2^2)
    work  work coefficient     dh0 / U2^2
    psi   head coefficient     work * efficiency

Arrays of wheels have shape (W,); the equations broadcast over further axes behind it. Every map made here is a
prediction: its spread belongs into every figure that rests on it.
"""

from collections.abc import Mapping
from dataclasses import Field, dataclass, field, fields
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from advisor.matching.model import Constant

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

GAMMA: Final = 1.4
"""Ratio of specific heats of the map's gas. Maps are measured on air near room temperature."""
FLOOR: Final = 0.25
"""Efficiency that a map is continued with far outside."""
_SLOW: Final = 0.6
"""Tip Mach number below which a map keeps its shape in phi."""
_EDGE: Final = 0.25
"""Share of the best efficiency that is lost where a map ends on the right."""
HEAD_EXPONENT: Final = (GAMMA - 1.0) / GAMMA


def _constant(value: float, spread: float, source: str) -> Any:
    return field(default=value, metadata={"constant": Constant(value, spread, source)})


_CASEY = "Casey & Robinson, J. Turbomach. 135 (2013) 021034"
_RIGS = "NASA HECC and Eckardt O rigs together"


@dataclass(frozen=True, slots=True)
class Calibration:
    """Constants of the prediction. Spreads are one standard deviation as a fraction of the value."""

    inducer_angle: float = _constant(
        60.0, 0.05, "tip blade angle [deg] of least relative Mach number, Dixon & Hall ch. 7"
    )
    inlet_blockage: float = _constant(
        0.045, 0.4, "blades and boundary layers in the inducer of a 90 mm wheel, ~ D^-0.4: own estimate"
    )
    splitter_share: float = _constant(
        0.65, 0.2, "length of a splitter over a full blade; counted so by Aungier 2000"
    )
    exit_width_share: float = _constant(
        0.54,
        0.12,
        "b2 pi D2 cos(beta2) over inlet annulus: published wheels of 400 to 431 mm give 0.50 to 0.60",
    )
    exit_blockage: float = _constant(
        0.17, 0.3, "blades and wakes at the exit; Aungier 2000 calls 1/(1-B) distortion"
    )
    parasitic_work: float = _constant(0.002, 0.4, "disc friction and recirculation k/phi, form: " + _CASEY)
    reaction: float = _constant(0.6, 0.1, "share of the temperature rise in the wheel: " + _CASEY)
    peak_efficiency: float = _constant(
        0.82, 0.03, "90 mm wheel, total to total, at the best flow coefficient"
    )
    scale_exponent: float = _constant(
        0.18, 0.4, "(1-eta) ~ D^-n: Wiesner, J. Eng. Power 101 (1979) 384, 0.1 to 0.2 (memory)"
    )
    low_peak_flow: float = _constant(0.45, 0.12, "best over choking flow at low speed; form: " + _CASEY)
    high_peak_flow: float = _constant(0.95, 0.06, "best over choking flow at high speed; form: " + _CASEY)
    low_surge_flow: float = _constant(0.28, 0.15, "surge over choking flow at low speed; form: " + _CASEY)
    high_surge_flow: float = _constant(0.74, 0.12, "surge over choking flow at high speed; form: " + _CASEY)
    ported_shroud_gain: float = _constant(
        0.06, 0.4, "surge over choking flow gained; common practice, no source"
    )
    choke_level: float = _constant(1.0, 0.07, "factor on the choking flow of the inducer throat")


CALIBRATION: Final = Calibration()


def constants() -> Mapping[str, Constant]:
    """Every constant of the prediction by name, with its spread and source."""
    listed: tuple[Field[Any], ...] = fields(Calibration)
    return {f.name: f.metadata["constant"] for f in listed}


@dataclass(frozen=True, slots=True)
class Wheels:
    """Geometry of W compressor wheels, each field of shape (W,); NaN where the catalogue doesn't say.

    inducer        tip diameter at the inlet [m]
    exducer        tip diameter at the exit [m]
    hub_ratio      hub over tip diameter at the inlet
    full_blades    blades that begin at the inlet
    splitters      shorter blades between them
    backsweep      blade angle at the exit, from radial [rad]
    ported         ported shroud
    vaned          vaned diffuser
    exit_width     blade height at the exit [m]; estimated where NaN
    inducer_angle  blade angle at the inlet tip, from axial [rad]; estimated where NaN
    """

    inducer: Array
    exducer: Array
    hub_ratio: Array
    full_blades: Array
    splitters: Array
    backsweep: Array
    ported: Bools
    vaned: Bools
    exit_width: Array
    inducer_angle: Array

    def __len__(self) -> int:
        return len(self.exducer)


_PLAIN: Final[Mapping[str, Any]] = {
    "hub_ratio": 0.30,
    "full_blades": 6.0,
    "splitters": 6.0,
    "backsweep": np.deg2rad(38.0),
    "ported": False,
    "vaned": False,
    "exit_width": np.nan,
    "inducer_angle": np.nan,
}


def wheels(columns: Mapping[str, Any]) -> Wheels:
    """Wheels from plain columns. `inducer` and `exducer` are needed, the rest takes what is usual in turbochargers:
    hub 0.30 of the inducer, 6 blades and 6 splitters, 38 degrees of backsweep, no vanes, no ported shroud."""
    exducer = np.atleast_1d(np.asarray(columns["exducer"], dtype=np.float64))
    whole = {**_PLAIN, **columns}

    def column(name: str) -> Any:
        kind = np.bool_ if name in ("ported", "vaned") else np.float64
        return np.broadcast_to(np.asarray(whole[name], dtype=kind), exducer.shape)

    return Wheels(**{f.name: column(f.name) for f in fields(Wheels)})


def _blend(mach: Array, low: Array | float, high: Array | float, centre: float, width: float) -> Array:
    """Logistic passage from a value at low to a value at high tip Mach number, the form of Casey & Robinson."""
    return low + (high - low) / (1.0 + np.exp(-(mach - centre) / width))


class Prediction:
    """The predicted map of W wheels. Methods take M and phi of shape (W, ...) and return the broadcast shape."""

    def __init__(self, geometry: Wheels, calibration: Calibration = CALIBRATION) -> None:
        self.geometry = geometry
        self.calibration = c = calibration
        g = geometry
        ratio = g.inducer / g.exducer
        tip_angle = np.where(np.isnan(g.inducer_angle), np.deg2rad(c.inducer_angle), g.inducer_angle)
        self._annulus = np.pi / 4.0 * ratio**2 * (1.0 - g.hub_ratio**2)
        self._mean_radius = ratio * np.sqrt((1.0 + g.hub_ratio**2) / 2.0)
        # Blade angle at mean radius of a blade made of radial fibres: tan(beta) grows with radius.
        mean_tangent = np.tan(tip_angle) * self._mean_radius / ratio
        blockage = c.inlet_blockage * (0.090 / g.exducer) ** 0.4
        self._throat = c.choke_level * (1.0 - blockage) * self._annulus / np.sqrt(1.0 + mean_tangent**2)
        blades = g.full_blades + c.splitter_share * g.splitters
        self._slip = slip_factor(blades, g.backsweep, self._mean_radius)
        usual_width = c.exit_width_share * self._annulus / (np.pi * np.cos(g.backsweep))
        self._exit_width = np.where(np.isnan(g.exit_width), usual_width, g.exit_width / g.exducer)
        self._peak = (
            1.0 - (1.0 - c.peak_efficiency) * (0.090 / g.exducer) ** c.scale_exponent + 0.02 * g.vaned
        )

    def _wide(self, value: Array, like: Array) -> Array:
        return value.reshape(value.shape + (1,) * (like.ndim - 1))

    def throat_flow(self, mach: Array) -> Array:
        """phi at which the inducer's throat chokes in the rotating frame (Dixon & Hall ch. 7). Below M = 0.6 it is
        held: there incidence ends the map long before the throat does."""
        mach = np.maximum(mach, _SLOW)
        radius = self._wide(self._mean_radius, mach)
        rothalpy = (2.0 + (GAMMA - 1.0) * (mach * radius) ** 2) / (GAMMA + 1.0)
        return self._wide(self._throat, mach) * rothalpy ** ((GAMMA + 1.0) / (2.0 * (GAMMA - 1.0))) / mach

    def peak_flow(self, mach: Array) -> Array:
        """phi of the best efficiency at a tip Mach number."""
        c = self.calibration
        share = _blend(np.maximum(mach, _SLOW), c.low_peak_flow, c.high_peak_flow, 1.05, 0.2)
        return self.throat_flow(mach) * share

    def surge_flow(self, mach: Array) -> Array:
        """phi at which the machine surges; the least certain number of all."""
        c = self.calibration
        share = _blend(np.maximum(mach, _SLOW), c.low_surge_flow, c.high_surge_flow, 0.98, 0.2)
        gain = np.asarray(c.ported_shroud_gain * self.geometry.ported)
        return self.throat_flow(mach) * (share - self._wide(gain, mach))

    def choke_flow(self, mach: Array) -> Array:
        """phi at which the map ends on the right: the throat chokes, or efficiency is down to three quarters of the
        best of its speed line."""
        depth, sharpness = self._right_shape(mach)
        fall = (1.0 - np.clip(1.0 - _EDGE / depth, 0.0, 1.0) ** sharpness) ** (1.0 / sharpness)
        peak = self.peak_flow(mach)
        return peak + fall * (self.throat_flow(mach) - peak)

    def _right_shape(self, mach: Array) -> tuple[Array, Array]:
        return _blend(mach, 1.2, 0.3, 0.8, 0.1), _blend(mach, 2.0, 3.5, 0.8, 0.1)

    def peak_efficiency(self, mach: Array, phi: Array) -> Array:
        """Best efficiency of a speed line, correlation of Casey & Robinson scaled to the wheel's size."""
        supersonic = phi * np.maximum(mach - 0.8, 0.0)
        low, high = np.maximum(0.08 - phi, 0.0) ** 2, np.maximum(phi - 0.08, 0.0) ** 2
        shape = np.where(phi < 0.08, 1.0 - 27.0 * low - 5000.0 * low**2, 1.0 - 10.0 * high)
        return np.maximum(self._wide(self._peak, mach) * shape - 0.05 * supersonic - 3.0 * supersonic**2, 0.3)

    def work(self, mach: Array, phi: Array) -> Array:
        """Work coefficient: Wiesner's slip, backsweep with exit blockage, disc friction (Casey & Robinson)."""
        c = self.calibration
        slip = self._wide(self._slip, mach)
        sweep = self._wide(np.tan(self.geometry.backsweep), mach)
        area = self._wide(np.pi * self._exit_width * (1.0 - c.exit_blockage), mach)
        parasitic = 1.0 + c.parasitic_work / np.maximum(phi, 0.01)
        heating = (GAMMA - 1.0) * c.reaction * mach**2
        work: Array = 0.75 * slip * np.ones_like(phi * mach)
        for _ in range(4):
            density = (1.0 + heating * work) ** 1.975
            work = np.maximum(slip - phi / (area * density) * sweep, 0.05) * parasitic
        return work

    def line(self, mach: Array, phi: Array) -> tuple[Array, Array]:
        """Head coefficient and efficiency at (M, phi), continued beyond the map so that a solver finds its way back.

        Left of surge the head stays what it was at surge and efficiency falls on. Right of choke the head falls to
        nothing within 15 % of the flow: softer than any one machine, as the choking flow itself is that uncertain.
        """
        throat, peak, surge, choke = (
            f(mach) for f in (self.throat_flow, self.peak_flow, self.surge_flow, self.choke_flow)
        )
        depth, sharpness = self._right_shape(mach)
        swing = _blend(mach, 2.1, 1.7, 0.8, 0.1)
        held = np.clip(phi, surge, choke)
        right = np.clip((held - peak) / (throat - peak), 0.0, 1.0)
        falling = 1.0 - depth + depth * (1.0 - right**sharpness) ** (1.0 / sharpness)

        def rising(flow: Array) -> Array:
            return np.asarray((1.0 - np.clip(1.0 - flow / peak, 0.0, 1.0) ** swing) ** (1.0 / swing))

        best = self.peak_efficiency(mach, peak)
        beyond = np.maximum(phi / choke - 1.0, 0.0)
        psi = self.work(mach, held) * best * np.where(held < peak, rising(held), falling)
        psi = psi * np.maximum(1.0 - beyond / 0.15, 0.05)
        efficiency = best * np.where(phi < peak, rising(phi), falling) - 3.0 * beyond
        return psi, np.maximum(efficiency, FLOOR)

    def spread(self) -> Mapping[str, Array]:
        """One standard deviation, relative, of efficiency, choking flow, surge flow and speed of each wheel (W,)."""
        listed = constants()
        g = self.geometry
        loss = 1.0 - self._peak
        efficiency = np.hypot(
            listed["peak_efficiency"].spread, 0.4 * loss * np.abs(np.log(0.25 / g.exducer)) * 0.3
        )
        angle = np.where(np.isnan(g.inducer_angle), 0.06, 0.03)
        width = np.where(np.isnan(g.exit_width), listed["exit_width_share"].spread, 0.03)
        # Head goes with psi and speed with its root; a tenth of exit width moves work by about 3 % at 38 degrees.
        work = np.hypot(0.02, 0.4 * np.tan(g.backsweep) * width)
        return {
            "efficiency": efficiency,
            "flow": np.hypot(listed["choke_level"].spread, angle),
            "surge": np.full(len(g), float(np.hypot(listed["high_surge_flow"].spread, 0.06))),
            "speed": 0.5 * np.hypot(work, efficiency),
        }


def slip_factor(blades: Array, backsweep: Array, radius_ratio: Array) -> Array:
    """Wiesner, J. Eng. Power 89 (1967) 558: 1 - sqrt(cos beta2)/Z^0.7, with his correction past the limiting radius
    ratio exp(-8.16 cos(beta2)/Z); beta2 from radial. (Constants from memory of the paper.)"""
    slip = 1.0 - np.sqrt(np.cos(backsweep)) / blades**0.7
    limit = np.exp(-8.16 * np.cos(backsweep) / blades)
    excess = np.maximum(radius_ratio - limit, 0.0) / (1.0 - limit)
    return np.asarray(slip * (1.0 - excess**3))


def pressure_ratio(mach: Array, psi: Array) -> Array:
    """Total pressure ratio of a stage with tip Mach number M and head coefficient psi."""
    return np.maximum(1.0 + (GAMMA - 1.0) * mach**2 * psi, 0.1) ** (1.0 / HEAD_EXPONENT)
