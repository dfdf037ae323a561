"""Figures from outside: a YAML file with an engine, a place and turbos, and the operating line that follows
from it.

    engine:
      displacement: 6.7 L
      cylinders: 6
      compression ratio: 17.3
      rpm limit: 3200 rpm
    place:
      altitude: 1500 ft
      temperature: 85 F
    duty:
      power: 450 hp
      at: 2800 rpm
      from: 1400 rpm
      to: 3200 rpm
    turbos:
      - turbo: the 64
        compressor inducer: 64 mm
        compressor exducer: 88 mm
        turbine inducer: 74 mm
        turbine exducer: 65 mm
        housing ratio: 0.90

What is left out takes the usual value (see the fields below). `constants:` may set any constant of the model
by its name ("heat loss: 0.06", SI), to follow a published engine with its own. A turbo may name a measured
map (`measured map: my_map.csv`, beside the YAML file) instead of its compressor wheel's inducer and exducer; of a
wheel, `tip height` and `inducer blade angle` make the predicted map surer. A turbo that is `fed by:` another one of
the file makes a pair in series with it: `cooler between: 70 %` if there is one, and if the feeding turbo has a gate,
`low stage share: 55 %` says at which part of the whole (of the logarithms of the pressure ratios) it holds.

In Python: `read(Path("ask.yaml")).line()` is the same as plain data.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any

import numpy as np
from pydantic import Field

from advisor.knowledge.fields import Entry, Text, YesNo, one_of, sorted_faults, validate
from advisor.knowledge.places import Fault, KnowledgeError, did_you_mean
from advisor.knowledge.places import Place as Spot
from advisor.knowledge.source import Document, read_yaml
from advisor.knowledge.wares import THRUST_ANGLE, TIP_SPEED_LIMIT, measured
from advisor.matching.air import standard_atmosphere
from advisor.matching.compressor import Prediction, wheels
from advisor.matching.inputs import Array, Duty, Engine, Machines, Place, Plumbing, machines
from advisor.matching.measured import MapError, read_map
from advisor.matching.model import MODEL, Model, constants
from advisor.matching.pair import Between
from advisor.matching.pair_statement import Stages, pair_lines
from advisor.matching.speedlines import SpeedLines
from advisor.matching.statement import operating_line
from advisor.matching.tables import WheelTables, build, join

Speed = Annotated[float, measured("rotation", "rpm", 300, 8_000, "2,800 rpm")]
Diameter = Annotated[float, measured("length", "mm", 15, 1_500, "64 mm")]
Share = Annotated[float, measured("percent", "%", 0, 100, "75 %")]
Factor = Annotated[float, Field(ge=0.3, le=3.0)]


class _Engine(Entry):
    displacement: Annotated[float, measured("volume", "L", 0.5, 60, "6.7 L")]
    cylinders: Annotated[int, Field(ge=1, le=20)]
    compression_ratio: Annotated[float, Field(ge=10.0, le=25.0)] = 17.0
    rpm_limit: Speed
    breathing: Factor = 1.0
    heat_loss_factor: Factor = 1.0
    fuel_per_stroke: Annotated[float, measured("volume", "mm3", 5, 3_000, "150 mm3")] = 1e-6
    fuel_flow: Annotated[float, measured("mass flow", "kg/h", 1, 2_000, "90 kg/h")] = 1.0


class _Place(Entry):
    altitude: Annotated[float, measured("altitude", "ft", 0, 16_000, "1,500 ft")] = 0.0
    temperature: Annotated[float, measured("temperature", "F", 0, 130, "85 F")] = 298.15


class _Plumbing(Entry):
    cooler_effectiveness: Share = 0.75
    coolant_rise: Annotated[float, Field(ge=-60.0, le=100.0)] = 5.0
    filter_resistance: Annotated[float, Field(ge=0.0, le=1e6)] = 8_000.0
    cooler_resistance: Annotated[float, Field(ge=0.0, le=1e6)] = 50_000.0
    exhaust_resistance: Annotated[float, Field(ge=0.0, le=1e6)] = 40_000.0


class _Duty(Entry):
    power: Annotated[float, measured("power", "hp", 20, 5_000, "450 hp")]
    at: Speed
    from_: Annotated[Speed, Field(alias="from")]
    to: Speed
    smoke_lambda: Annotated[float, Field(ge=0.9, le=5.0)] = 1.25
    target_lambda: Annotated[float, Field(ge=0.9, le=5.0)] = 1.4
    boost_limit: Annotated[float, measured("pressure", "psi", 0, 150, "35 psi")] | None = None


class _Turbo(Entry):
    turbo: Text
    measured_map: Text | None = None
    compressor_inducer: Diameter | None = None
    compressor_exducer: Diameter | None = None
    hub_ratio: Annotated[float, Field(ge=0.05, le=0.85)] = 0.30
    full_blades: Annotated[int, Field(ge=3, le=60)] = 6
    splitter_blades: Annotated[int, Field(ge=0, le=60)] = 6
    backsweep: Annotated[float, measured("angle", "deg", 0, 70, "38 deg")] = float(np.deg2rad(38.0))
    tip_height: Annotated[float, measured("length", "mm", 0.5, 200, "6.5 mm")] | None = None
    inducer_blade_angle: Annotated[float, measured("angle", "deg", 30, 80, "60 deg")] | None = None
    ported_shroud: YesNo = False
    vaned_diffuser: YesNo = False
    volute: YesNo = True
    material: Annotated[str, one_of(*TIP_SPEED_LIMIT)] = "cast"
    turbine_inducer: Diameter
    turbine_exducer: Diameter
    housing_ratio: Annotated[float, Field(ge=0.2, le=3.0)]
    housing_entry: Annotated[str, one_of("open", "divided")] = "open"
    wastegate: Annotated[str, one_of("none", "internal", "external")] = "none"
    gate_bore: Annotated[float, measured("length", "mm", 5, 120, "38 mm")] = 0.0
    bearing: Annotated[str, one_of(*THRUST_ANGLE)] = "journal 270"
    count: Annotated[int, Field(ge=1, le=4)] = 1
    fed_by: Text | None = None
    cooler_between: Share = 0.0
    low_stage_share: Annotated[float, measured("percent", "%", 20, 90, "55 %")] = 0.55


class _File(Entry):
    engine: _Engine
    place: _Place = _Place()
    plumbing: _Plumbing = _Plumbing()
    duty: _Duty
    constants: Mapping[str, Annotated[float, Field(allow_inf_nan=False)]] = {}
    turbos: Annotated[list[_Turbo], Field(min_length=1, max_length=200)]


@dataclass(frozen=True, slots=True)
class Asked:
    """What a figures file asks, ready for `operating_line`; boost_limit is Pa absolute."""

    engine: Engine
    place: Place
    plumbing: Plumbing
    duty: Duty
    names: tuple[str, ...]
    machines: Machines
    tables: WheelTables
    inducer: Array
    model: Model
    boost_limit: float | None
    stages: tuple[Stages, ...] = ()

    def line(self) -> dict[str, Any]:
        """The operating line as plain data: "turbos" that work alone, and "pairs" in series."""
        given = self.engine, self.place, self.plumbing, self.duty
        alone = np.asarray(self._alone, dtype=np.int64)
        line = operating_line(
            *given,
            [self.names[row] for row in alone],
            self.machines.rows(alone),
            self.tables,
            self.inducer[alone],
            self.model,
            boost_limit=self.boost_limit,
        )
        pairs = pair_lines(
            *given,
            self.stages,
            self.machines,
            self.tables,
            self.inducer,
            self.model,
            boost_limit=self.boost_limit,
        )
        return line | {"pairs": pairs}

    @property
    def rows(self) -> tuple[int, ...]:
        """Rows of the tables in the order of the line: of the turbos alone, then of each pair's low and high stage."""
        return (*self._alone, *(row for pair in self.stages for row in (pair.low, pair.high)))

    @property
    def _alone(self) -> tuple[int, ...]:
        paired = {row for pair in self.stages for row in (pair.low, pair.high)}
        return tuple(row for row in range(len(self.names)) if row not in paired)


def read(path: Path) -> Asked:
    """Read a figures file. Raises KnowledgeError with every fault: what, where and how to mend it."""
    document = read_yaml(path, path.name)
    asked = validate(_File, document) if not document.faults else None
    if asked is not None:
        model = _model(asked, document)
        tables = _tables(asked, document, path.parent)
        _check(asked, document)
        if not document.faults and tables is not None:
            return _asked(asked, model, tables)
    raise KnowledgeError(sorted_faults([document]))


def _model(asked: _File, document: Document) -> Model:
    known = constants()
    for name in asked.constants:
        if name.replace(" ", "_") not in known:
            names = [n.replace("_", " ") for n in known]
            place = document.key_place(("constants", name))
            document.faults.append(
                Fault(place, f"'{name}' is no constant of the model", did_you_mean(name, names, "leave it out"))
            )
            return MODEL
    return replace(MODEL, **{name.replace(" ", "_"): value for name, value in asked.constants.items()})


def _check(asked: _File, document: Document) -> None:
    duty = asked.duty
    if not duty.from_ < duty.to:
        fault = Fault(document.place(("duty", "to")), "'to' is not above 'from'", "give the higher engine speed last")
        document.faults.append(fault)
    elif not duty.from_ <= duty.at <= duty.to:
        what = "'at' is not between 'from' and 'to'"
        document.faults.append(Fault(document.place(("duty", "at")), what, "widen the band or move the goal"))
    for i, turbo in enumerate(asked.turbos):
        place = document.place(("turbos", i))
        if turbo.fed_by is not None:
            _check_feeder(turbo, asked.turbos, document, document.place(("turbos", i, "fed by")))
        if turbo.wastegate != "none" and not turbo.gate_bore:
            document.faults.append(Fault(place, "a wastegate without a bore", "add 'gate bore: 38 mm' or the like"))
        if turbo.wastegate == "none" and turbo.gate_bore:
            document.faults.append(Fault(place, "a gate bore without a wastegate", "add 'wastegate: internal'"))
        if turbo.turbine_exducer > turbo.turbine_inducer:
            what = "the turbine's exducer is larger than its inducer"
            document.faults.append(Fault(place, what, "gas comes in at the inducer, the larger of the two"))


def _check_feeder(turbo: _Turbo, turbos: Sequence[_Turbo], document: Document, place: Spot) -> None:
    """Series means two: a turbo on the manifold and the one that feeds it alone."""
    feeders = [other for other in turbos if other.turbo == turbo.fed_by and other is not turbo]
    if len(feeders) != 1:
        others = [other.turbo for other in turbos if other.turbo != turbo.turbo]
        what = f"'{turbo.fed_by}' is not the name of one other turbo of this file"
        mend = did_you_mean(turbo.fed_by or "", others, "give that turbo's name")
    elif feeders[0].fed_by is not None:
        what, mend = f"'{turbo.fed_by}' is itself fed by another", "two stages are matched; leave one 'fed by' out"
    elif sum(other.fed_by == turbo.fed_by for other in turbos) > 1:
        what, mend = f"'{turbo.fed_by}' feeds more than one turbo", "describe it a second time under another name"
    else:
        return
    document.faults.append(Fault(place, what, mend))


def _tables(asked: _File, document: Document, folder: Path) -> WheelTables | None:
    parts = []
    for i, turbo in enumerate(asked.turbos):
        place = document.place(("turbos", i))
        if turbo.measured_map is not None:
            part = _measured(turbo.measured_map, document.place(("turbos", i, "measured map")), document, folder)
        elif turbo.compressor_inducer is None or turbo.compressor_exducer is None:
            what = "neither a measured map nor the compressor wheel's inducer and exducer"
            document.faults.append(
                Fault(place, what, "add 'compressor inducer: 64 mm' and 'compressor exducer: 88 mm'")
            )
            part = None
        elif turbo.compressor_inducer >= turbo.compressor_exducer:
            what = "the compressor's inducer is not smaller than its exducer"
            document.faults.append(Fault(place, what, "air comes in at the inducer, the smaller of the two"))
            part = None
        else:
            part = _predicted(turbo, place, document)
        parts.append(part)
    return join([p for p in parts if p is not None]) if all(p is not None for p in parts) else None


def _predicted(turbo: _Turbo, place: Spot, document: Document) -> WheelTables | None:
    try:
        return build(Prediction(wheels(_wheel(turbo))))
    except ValueError as error:
        document.faults.append(Fault(place, f"no such wheel: {error}", "check the sizes of the compressor wheel"))
        return None


def _wheel(turbo: _Turbo) -> dict[str, Any]:
    return {
        "inducer": [turbo.compressor_inducer],
        "exducer": [turbo.compressor_exducer],
        "hub_ratio": [turbo.hub_ratio],
        "full_blades": [turbo.full_blades],
        "splitters": [turbo.splitter_blades],
        "backsweep": [turbo.backsweep],
        "ported": [turbo.ported_shroud],
        "cast": [turbo.material == "cast"],
        "vaned": [turbo.vaned_diffuser],
        "volute": [turbo.volute],
        "exit_width": [np.nan if turbo.tip_height is None else turbo.tip_height],
        "inducer_angle": [np.nan if turbo.inducer_blade_angle is None else turbo.inducer_blade_angle],
    }


def _measured(name: str, place: Spot, document: Document, folder: Path) -> WheelTables | None:
    path = folder / name
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        document.faults.append(Fault(place, f"'{name}' can't be read", "put the map's CSV beside this file"))
        return None
    try:
        return SpeedLines(read_map(text, name)).tables()
    except MapError as error:
        for f in error.faults:
            document.faults.append(Fault(Spot(name, f.line, f.column), f.what, f.mend))
        return None


def _between(turbo: _Turbo) -> Between:
    return Between(turbo.cooler_between, low_share=turbo.low_stage_share)


def _asked(asked: _File, model: Model, tables: WheelTables) -> Asked:
    engine, duty, turbos = asked.engine, asked.duty, asked.turbos
    pressure = float(standard_atmosphere(asked.place.altitude)[0])
    exducer = tables.exducer
    names = [t.turbo for t in turbos]
    inducer = [t.compressor_inducer or 0.72 * exducer[i] for i, t in enumerate(turbos)]
    return Asked(
        engine=Engine(
            displacement=engine.displacement,
            cylinders=engine.cylinders,
            compression_ratio=engine.compression_ratio,
            speed_limit=engine.rpm_limit,
            breathing=engine.breathing,
            fuel_per_stroke=engine.fuel_per_stroke * model.fuel_density,
            fuel_flow=engine.fuel_flow,
            heat_loss_factor=engine.heat_loss_factor,
        ),
        place=Place(pressure, asked.place.temperature),
        plumbing=Plumbing(**asked.plumbing.model_dump()),
        duty=Duty(
            name="figures",
            low=duty.from_,
            high=duty.to,
            goal_speed=duty.at,
            power=duty.power,
            smoke_lambda=duty.smoke_lambda,
            target_lambda=duty.target_lambda,
        ),
        names=tuple(names),
        machines=machines(
            {
                "wheel": np.arange(len(turbos)),
                "compressor_exducer": exducer,
                "turbine_inducer": [t.turbine_inducer for t in turbos],
                "turbine_exducer": [t.turbine_exducer for t in turbos],
                "housing_ratio": [t.housing_ratio for t in turbos],
                "divided": [t.housing_entry == "divided" for t in turbos],
                "gate_bore": [t.gate_bore for t in turbos],
                "gate_external": [t.wastegate == "external" for t in turbos],
                "tip_speed_limit": [TIP_SPEED_LIMIT[t.material] for t in turbos],
                "ball_bearing": [t.bearing == "ball" for t in turbos],
                "thrust_angle": [THRUST_ANGLE[t.bearing] for t in turbos],
                "parallel": [t.count for t in turbos],
            }
        ),
        tables=tables,
        inducer=np.asarray(inducer),
        model=model,
        boost_limit=None if duty.boost_limit is None else pressure + duty.boost_limit,
        stages=tuple(
            Stages(t.fed_by, t.turbo, names.index(t.fed_by), i, _between(t))
            for i, t in enumerate(turbos)
            if t.fed_by is not None
        ),
    )
