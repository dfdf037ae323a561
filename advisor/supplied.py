"""The figures that the program supplies to rules, by name: what a shop's vocabulary may count on."""

from collections.abc import Iterable

FIGURES = (
    "power made",
    "power shortfall",
    "spool rpm",
    "spool time",
    "boost made",
    "drive pressure",
    "drive pressure ratio",
    "exhaust temperature",
    "tip speed margin",
    "surge margin",
    "goal surge margin",
    "choke margin",
    "gate share",
    "gate flow margin",
    "housing flow margin",
    "compressor efficiency",
    "compressor outlet temperature",
    "charge temperature",
    "thrust index",
    "lambda at goal",
    "solved",
)
"""What the match gives for every candidate (`matching.summary.summarise`)."""
DUTIES = ("daily", "towing", "strip", "sled")
OF_A_DUTY = ("power", "lambda", "shortfall", "exhaust temperature", "outlet temperature", "drive ratio", "spool rpm")
"""What it gives for each duty beside that, after the duty's name ("towing power")."""
AT_THE_STRIP = ("quarter mile time", "quarter mile speed")
FITTED = ("foot fit", "entry fit", "outlet fit", "exhaust fit", "oil fit", "fitting cost")
ON_IT = ("present inducer", "present spool rpm", "present surge rpm", "smaller inducer", "smaller spool rpm")
"""What is computed of the turbo on the truck, where its size, the engine's, and for its surge its boost are known."""
GATE_ON_IT, FUEL_ADDED = HEARD_BESIDE = ("present gate", "fuel added")
COMPUTED = (
    "ambient pressure",
    "air flow needed",
    "fuel flow needed",
    "fuel power",
    "boost needed",
    "pressure ratio needed",
    "goal outlet temperature",
    "goal charge temperature",
    "manifold pressure needed",
    "peak pressure index",
    "brake mean pressure",
    "corrected air flow",
    "charge pipe speed",
    "crank goal",
    "goal rpm",
    "parts fuel power",
    "goal share",
    "request verdict",
    "shop lacks",
    "cheaper choice",
)
"""What the engine demand, and at last the match, give in every call."""
OF_THE_REQUEST = ("requested spool rpm", "request stands", "requested groove")
OF_THE_BEST = ("request verdict", "goal share", "shop lacks", "power today", "cooler on the grade", "cheaper choice")
COMPUTED_AT_LAST = frozenset((*OF_THE_BEST, *OF_THE_REQUEST, *ON_IT))
"""What of it the match gives; the rest is there before."""
OF_TOWING = ("towing road load", "towing rpm")
OF_A_SIZE = ("requested air flow share", "requested inducer")
COMPUTED_AT_TIMES = (*OF_TOWING, *OF_THE_BEST[3:], *OF_A_SIZE, *OF_THE_REQUEST, *ON_IT)
"""What it gives for callers who tow, tell what bothers them, or name a size that the shop has."""
HEARD = frozenset(("trouble to cure", *HEARD_BESIDE))
"""What is taken from another answer than its own."""


def of_candidates(listed: Iterable[str]) -> frozenset[str]:
    """Names of all facts about a candidate that the rules can be given, those that depend on the duties included;
    ``listed``: those that the catalogue gives."""
    of_duties = (f"{duty} {figure}" for duty in DUTIES for figure in OF_A_DUTY)
    return frozenset((*listed, *FITTED, "is requested", *FIGURES, *of_duties, *AT_THE_STRIP))
