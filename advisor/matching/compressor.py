"""A compressor map from the wheel's geometry, by published one-dimensional models.

Everything is dimensionless, so one wheel's map holds for every size, inlet state and speed:

    phi   flow coefficient     m / (rho01 U2 D2^2)
    M     tip Mach number      U2 / a01
    q     flow number          phi M = m / (rho01 a01 D2^2)
    work  work coefficient     dh0 / U2^2
    psi   head coefficient     work * efficiency

Arrays of wheels have shape (W,); the equations broadcast over further axes behind it. Every map made here is
a prediction: its spread belongs into every figure that rests on it. Against the two open rigs that the
constants were set on together (90 points, 0 and 34 degrees of backsweep, M 0.6 to 1.44) it is within 3 % in
work, 8 % in pressure ratio (half of that away from choke), and 15 % in choking flow where M is above 1.2;
the rigs surge at up to 27 % more flow than predicted, turbochargers are known to have more range.

A speed line from geometry alone, here of a 66/91.6 mm wheel at a tip Mach number of 1.3:

    >>> wheel = Prediction(wheels({"inducer": 0.066, "exducer": 0.0916}))
    >>> mach = np.array([[1.3]])
    >>> flow = wheel.choke_flow(mach) * np.array([[0.6, 0.8]])
    >>> psi, efficiency = wheel.line(mach, flow)
    >>> [round(float(x), 2) for x in pressure_ratio(mach, psi)[0]]
    [2.71, 2.34]
    >>> [round(float(x), 2) for x in wheel.work(mach, flow)[0]]
    [0.62, 0.52]
"""

from collections.abc import Mapping
from dataclasses import Field, dataclass, field, fields, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from advisor.matching.model import Constant

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

GAMMA: Final = 1.4
"""Ratio of specific heats of the map's gas. Maps are measured on air near room temperature."""
HEAD_EXPONENT: Final = (GAMMA - 1.0) / GAMMA
FLOOR: Final = 0.25
"""Efficiency that a map is continued with far outside."""
_EDGE: Final = 0.28
"""Share of the best efficiency of a speed line that is lost where the line ends on the right."""
_JOIN: Final = 12.0
"""Exponent that joins the two limits on the right smoothly."""
_SOFT_JOIN: Final = 8.0
"""The same for the flow of best efficiency, which inlet and exit both have a say in."""


def _constant(value: float, spread: float, source: str) -> Any:
    return field(default=value, metadata={"constant": Constant(value, spread, source)})


_CASEY = "Casey & Robinson, J. Turbomach. 135 (2013) 021034"
_RIGS = "NASA HECC and Eckardt O rigs together"


@dataclass(frozen=True, slots=True)
class Calibration:
    """Constants of the prediction. Spreads are one standard deviation as a fraction of the value."""

    inducer_angle: float = _constant(
        60.0, 0.04, "inlet tip blade angle [deg], least Mach number: Dixon & Hall ch. 7"
    )
    inlet_blockage: float = _constant(
        0.08, 0.4, "blades and boundary layers, 90 mm wheel, ~ D^-0.6: own estimate"
    )
    choke_level: float = _constant(
        1.055, 0.06, "throat over inlet area times cos(beta), the throat lies inside; " + _RIGS
    )
    incidence_level: float = _constant(
        1.05,
        0.08,
        "largest flow at low speed over that which meets the inlet tip straight on: own form, " + _RIGS,
    )
    slip_level: float = _constant(1.0, 0.025, "factor on Wiesner's slip: his own scatter, and " + _RIGS)
    splitter_share: float = _constant(
        0.65, 0.2, "length of a splitter over a full blade: Aungier 2000 (memory)"
    )
    exit_width: float = _constant(
        0.128,
        0.15,
        "b2/D2 over (inlet annulus/D2^2)^(2/3): Eckardt O, A, NASA CC3, turbochargers (sizes from memory)",
    )
    exit_blockage: float = _constant(
        0.15, 0.3, "blades and wakes at the exit; 1/(1-B) is Aungier's distortion factor"
    )
    parasitic_work: float = _constant(0.002, 0.4, "disc friction and recirculation, k/phi: form " + _CASEY)
    reaction: float = _constant(0.6, 0.1, "share of the temperature rise in the wheel: " + _CASEY)
    peak_efficiency: float = _constant(
        0.825, 0.025, "90 mm wheel at its best flow, total to total; level: " + _RIGS
    )
    scale_exponent: float = _constant(
        0.18, 0.3, "(1-eta) ~ D^-n, n 0.1 to 0.2: Wiesner, J. Eng. Power 101 (1979) 384"
    )
    casting_loss: float = _constant(0.01, 0.5, "efficiency lost to cast surfaces; common practice, no source")
    volute_loss: float = _constant(0.015, 0.5, "efficiency lost in the volute, 1 to 2 points (memory)")
    vane_gain: float = _constant(
        0.02, 0.5, "efficiency gained by a vaned diffuser; common practice, no source"
    )
    low_peak_flow: float = _constant(0.62, 0.10, "best over choking flow at low speed: form " + _CASEY)
    high_peak_flow: float = _constant(0.96, 0.06, "best over choking flow at high speed: form " + _CASEY)
    low_surge_flow: float = _constant(0.52, 0.15, "surge over best flow at low speed: logistic as " + _CASEY)
    high_surge_flow: float = _constant(
        0.78,
        0.15,
        "the same at high speed: rigs 0.80 to 0.86 at M 1 to 1.44, turbochargers 0.6 to 0.75 (memory)",
    )
    exit_swirl: float = _constant(
        65.0, 0.03, "best flow angle into the diffuser [deg], 63 to 68 usual (memory)"
    )
    exit_density: float = _constant(
        1.8, 0.08, "density over inlet density that an exit is sized for: own estimate"
    )
    ported_shroud_gain: float = _constant(
        0.08, 0.4, "surge over best flow gained; common practice, no source"
    )


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
    cast           cast rather than milled or forged
    ported         ported shroud
    vaned          vaned diffuser
    volute         measured behind a volute, as every turbocharger is; rigs often end at the diffuser
    exit_width     blade height at the exit [m]; estimated where NaN
    inducer_angle  blade angle at the inlet tip, from axial [rad]; estimated where NaN
    """

    inducer: Array
    exducer: Array
    hub_ratio: Array
    full_blades: Array
    splitters: Array
    backsweep: Array
    cast: Bools
    ported: Bools
    vaned: Bools
    volute: Bools
    exit_width: Array
    inducer_angle: Array

    def __len__(self) -> int:
        return len(self.exducer)


_PLAIN: Final[Mapping[str, Any]] = {
    "hub_ratio": 0.30,
    "full_blades": 6.0,
    "splitters": 6.0,
    "backsweep": np.deg2rad(38.0),
    "cast": False,
    "ported": False,
    "vaned": False,
    "volute": True,
    "exit_width": np.nan,
    "inducer_angle": np.nan,
}


def wheels(columns: Mapping[str, Any]) -> Wheels:
    """Wheels from plain columns. `inducer` and `exducer` are needed; ValueError for sizes no wheel can have.

    The rest takes what is usual in turbochargers: hub 0.30 of the inducer, 6 blades and 6 splitters, 38
    degrees of backsweep, no vanes, no ported shroud, milled.
    """
    exducer = np.atleast_1d(np.asarray(columns["exducer"], dtype=np.float64))
    whole = {**_PLAIN, **columns}

    def column(name: str) -> Any:
        kind = np.bool_ if name in ("cast", "ported", "vaned", "volute") else np.float64
        return np.broadcast_to(np.asarray(whole[name], dtype=kind), exducer.shape)

    made = Wheels(**{f.name: column(f.name) for f in fields(Wheels)})
    _refuse_nonsense(made)
    return made


def _refuse_nonsense(made: Wheels) -> None:
    bounds = {
        "inducer over exducer": (made.inducer / made.exducer, 0.2, 0.95),
        "exducer [m]": (made.exducer, 0.01, 2.0),
        "hub ratio": (made.hub_ratio, 0.05, 0.85),
        "full blades": (made.full_blades, 3.0, 60.0),
        "splitters": (made.splitters, 0.0, 60.0),
        "backsweep [deg]": (np.rad2deg(made.backsweep), -5.0, 70.0),
        "exit width over exducer": (made.exit_width / made.exducer, 0.01, 0.2),
        "inducer angle [deg]": (np.rad2deg(made.inducer_angle), 30.0, 80.0),
    }
    for what, (values, low, high) in bounds.items():
        # NaN, which stands for "not said", passes only where an estimate steps in.
        guessed = (
            np.isnan(values) if what.startswith(("exit", "inducer angle")) else np.zeros(1, dtype=np.bool_)
        )
        wrong = np.flatnonzero(~((values >= low) & (values <= high) | guessed))
        if len(wrong):
            i = int(wrong[0])
            raise ValueError(f"wheel {i + 1}: {what} of {values[i]:.3g} is none; {low:g} to {high:g} can be")


def _blend(mach: Array, low: Array | float, high: Array | float, centre: float, width: float) -> Array:
    """Logistic passage from a low-speed to a high-speed value, the form of Casey & Robinson."""
    return low + (high - low) / (1.0 + np.exp(-(mach - centre) / width))


class Prediction:
    """The predicted map of W wheels. Methods take M and phi of shape (W, ...) and broadcast them."""

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
        blockage = c.inlet_blockage * (0.090 / g.exducer) ** 0.6
        self._throat = c.choke_level * (1.0 - blockage) * self._annulus / np.sqrt(1.0 + mean_tangent**2)
        self._aligned = c.incidence_level * self._annulus * ratio / np.tan(tip_angle)
        blades = g.full_blades + c.splitter_share * g.splitters
        self._slip = c.slip_level * slip_factor(blades, g.backsweep, self._mean_radius)
        usual_width = c.exit_width * self._annulus ** (2.0 / 3.0)
        self._exit_width = np.where(np.isnan(g.exit_width), usual_width, g.exit_width / g.exducer)
        slope = 1.0 / np.tan(np.deg2rad(c.exit_swirl))
        self._exit_best = (
            np.pi
            * self._exit_width
            * (1.0 - c.exit_blockage)
            * c.exit_density
            * slope
            * self._slip
            / (1.0 + slope * np.tan(g.backsweep))
        )
        large = 1.0 - (1.0 - c.peak_efficiency) * (0.090 / g.exducer) ** c.scale_exponent
        self._peak = large - c.casting_loss * g.cast + c.vane_gain * g.vaned - c.volute_loss * g.volute

    def _wide(self, value: Array, like: Array) -> Array:
        return value.reshape(value.shape + (1,) * (like.ndim - 1))

    def choke_flow(self, mach: Array) -> Array:
        """phi at which the map ends on the right.

        At high speed the inducer's throat chokes in the rotating frame (Dixon & Hall ch. 7); at low speed
        the flow meets the blades from so far behind that the machine delivers nothing worth having.
        """
        radius = self._wide(self._mean_radius, mach)
        rothalpy = (2.0 + (GAMMA - 1.0) * (mach * radius) ** 2) / (GAMMA + 1.0)
        throat = self._wide(self._throat, mach) * rothalpy ** ((GAMMA + 1.0) / (2.0 * (GAMMA - 1.0))) / mach
        return np.asarray((throat**-_JOIN + self._wide(self._aligned, mach) ** -_JOIN) ** (-1.0 / _JOIN))

    def peak_flow(self, mach: Array) -> Array:
        """phi of the best efficiency: a share of the choking flow, unless the exit is sized for less."""
        c = self.calibration
        inlet = self.choke_flow(mach) * _blend(mach, c.low_peak_flow, c.high_peak_flow, 1.25, 0.15)
        return np.asarray(
            (inlet**-_SOFT_JOIN + self._wide(self._exit_best, mach) ** -_SOFT_JOIN) ** (-1 / _SOFT_JOIN)
        )

    def surge_flow(self, mach: Array) -> Array:
        """phi at which the machine surges; the least certain number of all."""
        c = self.calibration
        gain = np.asarray(c.ported_shroud_gain * self.geometry.ported)
        share = _blend(mach, c.low_surge_flow, c.high_surge_flow, 1.0, 0.25)
        return self.peak_flow(mach) * (share - self._wide(gain, mach))

    def peak_efficiency(self, mach: Array, phi: Array) -> Array:
        """Best efficiency of a speed line, correlation of Casey & Robinson scaled to the wheel's size."""
        supersonic = phi * np.maximum(mach - 0.8, 0.0)
        low, high = np.maximum(0.08 - phi, 0.0) ** 2, np.maximum(phi - 0.08, 0.0) ** 2
        shape = np.where(phi < 0.08, 1.0 - 27.0 * low - 5000.0 * low**2, 1.0 - 10.0 * high)
        return np.maximum(self._wide(self._peak, mach) * shape - 0.05 * supersonic - 3.0 * supersonic**2, 0.3)

    def work(self, mach: Array, phi: Array) -> Array:
        """Work coefficient: Wiesner's slip, backsweep with exit blockage, disc friction."""
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
        """Head coefficient and efficiency at (M, phi), continued beyond the map for solvers.

        Left of surge the head stays what it was at surge and efficiency falls on. Right of choke the head
        falls to nothing within 15 % of the flow: softer than any one machine, as the choking flow itself is
        that uncertain.
        """
        choke, peak, surge = self.choke_flow(mach), self.peak_flow(mach), self.surge_flow(mach)
        swing = _blend(mach, 2.1, 1.7, 0.8, 0.1)
        # The nearer the best flow lies to choke, the more sudden the fall between them.
        sharpness = np.clip(0.7 * choke / (choke - peak), 1.8, 7.0)
        held = np.clip(phi, surge, choke)
        right = np.clip((held - peak) / (choke - peak), 0.0, 1.0)
        falling = 1.0 - _EDGE + _EDGE * (1.0 - right**sharpness) ** (1.0 / sharpness)

        def rising(flow: Array) -> Array:
            return np.asarray((1.0 - np.clip(1.0 - flow / peak, 0.0, 1.0) ** swing) ** (1.0 / swing))

        best = self.peak_efficiency(mach, peak)
        beyond = np.maximum(phi / choke - 1.0, 0.0)
        psi = self.work(mach, held) * best * np.where(held < peak, rising(held), falling)
        psi = psi * np.maximum(1.0 - beyond / 0.15, 0.05)
        efficiency = best * np.where(phi < peak, rising(phi), falling) - 3.0 * beyond
        return psi, np.maximum(efficiency, FLOOR)

    def spread(self) -> Mapping[str, Array]:
        """Relative standard deviations (W,) of efficiency, choking flow, surge flow and speed at a given
        head.

        Each constant is moved by its spread and what that does at M = 1.3 is added up in quadrature; a wheel
        whose catalogue says more (exit width, inducer angle) has less to guess and a smaller spread.
        """
        usual = self._figures()
        total = np.zeros_like(usual)
        for name, constant in constants().items():
            moved = replace(self.calibration, **{name: constant.value * (1.0 + constant.spread)})
            total += (Prediction(self.geometry, moved)._figures() / usual - 1.0) ** 2
        efficiency, flow, surge, speed = np.sqrt(total)
        return {"efficiency": efficiency, "flow": flow, "surge": surge, "speed": speed}

    def _figures(self) -> Array:
        """What `spread` looks at, (4, W): best efficiency, choke, surge, 1/sqrt(psi) at 2/3 of choke."""
        mach = np.full((len(self.geometry), 1), 1.3)
        choke = self.choke_flow(mach)
        psi, _ = self.line(mach, 2.0 / 3.0 * choke)
        best = self.peak_efficiency(mach, self.peak_flow(mach))
        return np.stack([best, choke, self.surge_flow(mach), psi**-0.5])[..., 0]


def slip_factor(blades: Array, backsweep: Array, radius_ratio: Array) -> Array:
    """Wiesner's slip factor, J. Eng. Power 89 (1967) 558 (constants from memory of the paper).

    1 - sqrt(cos beta2)/Z^0.7 with beta2 from radial; less past the radius ratio exp(-8.16 cos(beta2)/Z).
    """
    slip = 1.0 - np.sqrt(np.cos(backsweep)) / blades**0.7
    limit = np.exp(-8.16 * np.cos(backsweep) / blades)
    excess = np.maximum(radius_ratio - limit, 0.0) / (1.0 - limit)
    return np.asarray(slip * (1.0 - excess**3))


def pressure_ratio(mach: Array, psi: Array) -> Array:
    """Total pressure ratio of a stage with tip Mach number M and head coefficient psi."""
    return np.maximum(1.0 + (GAMMA - 1.0) * mach**2 * psi, 0.1) ** (1.0 / HEAD_EXPONENT)
