# ruff: noqa: RUF009 - _constant only describes a dataclass field, as field() does
"""The named constants of the match, each with its spread and where it comes from.

`Model` holds the values that the equations use; every field may be a float or an array of draws (..., 1, 1).
`constants()` lists them with spread (one standard deviation, as a fraction of the value) and source.
"""

from collections.abc import Mapping
from dataclasses import Field, dataclass, field, fields
from typing import Any

from advisor.matching.inputs import Number


@dataclass(frozen=True, slots=True)
class Constant:
    """A value with its relative standard deviation and its source."""

    value: float
    spread: float
    source: str


def _constant(value: float, spread: float, source: str) -> Any:
    return field(default=value, metadata={"constant": Constant(value, spread, source)})


_OPEN_ENGINE = "Sivertsson & Eriksson, SIMS 55, 2014 (open 6.7 L diesel)"
_PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class Model:
    """Constants of engine, gas exchange, turbine, rotor and bearing. SI units."""

    # --- fuel and cylinder
    fuel_heating_value: Number = _constant(
        42.7e6, 0.005, "Heywood 1988, Table D.4, light diesel 42.5 MJ/kg (memory)"
    )
    stoichiometric_ratio: Number = _constant(
        14.5, 0.005, "CH1.8 by element balance; Heywood 1988, Table D.4 (memory)"
    )
    fuel_density: Number = _constant(840.0, 0.01, "EN 590: 820 to 845 kg/m3 at 15 C (memory)")
    indicated_efficiency: Number = _constant(0.445, 0.02, _OPEN_ENGINE + ", lean")
    rich_loss: Number = _constant(0.13, 0.25, "own form: share of efficiency lost at lambda 1.0")
    rich_onset: Number = _constant(1.75, 0.05, "own form: lambda below which richness costs efficiency")
    breathing_pressure: Number = _constant(1.4393e-4, 0.0, _OPEN_ENGINE + ", sqrt(Pa) term")
    breathing_speed: Number = _constant(-0.0239, 0.0, _OPEN_ENGINE + ", sqrt(rad/s) term")
    breathing_level: Number = _constant(1.1339, 0.025, _OPEN_ENGINE + "; form: Wahlstrom & Eriksson 2011")
    friction_quadratic: Number = _constant(3.7591, 0.15, _OPEN_ENGINE + ", Pa per (rad/s)2")
    friction_linear: Number = _constant(-520.0, 0.0, _OPEN_ENGINE + ", Pa per rad/s")
    friction_level: Number = _constant(71_960.0, 0.15, _OPEN_ENGINE + ", Pa")
    heat_loss: Number = _constant(
        0.06,
        0.35,
        "share of fuel heat to the walls at lambda 2, growing with 1/lambda^2: level fitted to the "
        "open 6.7 L diesel, growth so that the coolant gets its share of Heywood 1988, Table 12.1 (memory)",
    )
    manifold_cooling: Number = _constant(
        38.8,
        0.25,
        "W/K at 6.7 L; form exp(-hA/(m cp)): Eriksson, SAE 2002-01-0374 (memory); level fitted as above",
    )
    compression_exponent: Number = _constant(
        1.35, 0.01, "polytropic compression, Heywood 1988, ch. 9 (memory)"
    )
    constant_volume_share: Number = _constant(
        0.20,
        0.3,
        "heat released at constant volume in the limited-pressure cycle, Heywood 1988, ch. 5 (memory)",
    )
    assumed_drive_ratio: Number = _constant(
        1.2, 0.1, "drive over boost pressure before a machine is chosen; " + _PRACTICE
    )
    air_specific_heat: Number = _constant(
        1010.0, 0.0, "dry air, mean of 300 to 450 K, NASA TM-4513 polynomials"
    )
    # --- turbine
    swallowing_level: Number = _constant(0.6859, 0.0, _OPEN_ENGINE + ", C_T")
    swallowing_exponent: Number = _constant(2.3633, 0.0, _OPEN_ENGINE + ", K_t; 2 is Stodola's ellipse")
    throat_radius: Number = _constant(1.75, 0.08, "volute centroid radius over wheel radius, own calibration")
    exit_angle_cosine: Number = _constant(0.55, 0.08, "cos of the rotor exit angle, own calibration")
    exit_hub_ratio: Number = _constant(0.30, 0.1, "rotor exit hub over tip, typical radial wheel (memory)")
    exit_blockage: Number = _constant(0.95, 0.02, "open share of the rotor exit, typical (memory)")
    turbine_peak: Number = _constant(0.7075, 0.03, _OPEN_ENGINE + ", with bearing loss")
    turbine_curvature: Number = _constant(2.0245, 0.1, _OPEN_ENGINE)
    turbine_best_ratio: Number = _constant(0.622, 0.03, _OPEN_ENGINE + ", blade speed ratio at the peak")
    turbine_floor: Number = _constant(0.10, 0.0, "own bound: efficiency far from the best blade speed ratio")
    ball_bearing_gain: Number = _constant(
        0.02, 0.5, "turbine efficiency gained by rolling bearings; " + _PRACTICE
    )
    divided_loss: Number = _constant(
        0.04, 0.4, "steady efficiency lost in a divided housing, 3 to 5 % (memory)"
    )
    pulse_gain: Number = _constant(
        0.12, 0.4, "turbine power gained from pulses at standstill: Watson & Janota 1982, ch. 7 to 9 (memory)"
    )
    gate_discharge_internal: Number = _constant(0.60, 0.15, "flap in the housing; " + _PRACTICE)
    gate_discharge_external: Number = _constant(0.75, 0.1, "poppet with own outlet; " + _PRACTICE)
    drive_ratio_limit: Number = _constant(
        1.5, 0.0, "drive over boost pressure a housing is sized for; " + _PRACTICE
    )
    # --- rotor and bearing
    turbine_inertia: Number = _constant(
        0.0065, 0.35, "J / (rho D^5); the open 6.7 L diesel has 1.87e-4 kg m2"
    )
    compressor_inertia: Number = _constant(0.006, 0.35, "J / (rho D^5); own estimate")
    turbine_density: Number = _constant(7_900.0, 0.0, "nickel alloy 713 (handbook, memory)")
    compressor_density: Number = _constant(2_770.0, 0.0, "cast aluminium C355 (handbook, memory)")
    spool_share: Number = _constant(0.9, 0.0, "share of the target boost that counts as standing")
    back_face_swirl: Number = _constant(
        0.5, 0.2, "core rotation behind a disc: Guelich, Centrifugal Pumps (memory)"
    )
    turbine_scallop: Number = _constant(0.6, 0.2, "share of the turbine back-face left by scallops (memory)")
    pad_pressure: Number = _constant(
        2.5e6, 0.3, "oil-film pressure a thrust pad holds; order of magnitude (memory)"
    )


MODEL = Model()


def constants() -> Mapping[str, Constant]:
    """Every constant of the model by name, with its spread and source."""
    return {f.name: _of(f) for f in fields(Model)}


def _of(f: "Field[Any]") -> Constant:
    constant = f.metadata["constant"]
    assert isinstance(constant, Constant)
    return constant
