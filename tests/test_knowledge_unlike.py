"""Figures far from all others of their kind, noted by the check of a small folder, from both sides of what is far."""

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from test_knowledge_broken import BASE

from advisor.knowledge import Fault, check, load, shipped_folder
from advisor.knowledge.unlike import odd_wares

RULE = """\
  - rule: weighs-{at}
    stage: {stage}
    when:
      - {when}
    then: {{{then}, say: x}}
    because: y
    basis: z
"""
DIGIT = "look whether a digit slipped"


def noted(tmp_path: Path, *whens: str, stage: str = "advise", then: str = "ask: [tune]") -> list[Fault]:
    """What is noted of rules with these conditions, one each, in the order of their lines."""
    folder = tmp_path / "shop"
    shutil.copytree(BASE, folder, dirs_exist_ok=True)
    rules = [RULE.format(at=at, stage=stage, when=when, then=then) for at, when in enumerate(whens)]
    (folder / "weighs.yaml").write_text("rules:\n" + "".join(rules), "utf-8")
    return [fault for fault in check(folder) if fault.place.file == "weighs.yaml" and fault.finding != "swallowed"]


HARDLY = "hardly any caller's 'trailer weight' is near '{}': usually, and in other rules, it is 6,000 lb to 18,000 lb"
FAR = "'{}' is far from what 'trailer weight' usually is or is held against elsewhere (6,000 lb to 18,000 lb)"
SO = "look whether it is meant so"


@pytest.mark.parametrize(
    ("sign", "figure", "what", "mend"),
    [
        # Usual are 6,000 to 18,000 lb, plausible 1,000 to 60,000: half of the way between is 3,500 and 39,000.
        (">", "18,000 lb", "", ""),
        (">", "38,990 lb", "", ""),
        (">", "39,010 lb", HARDLY, SO),
        (">", "44,990 lb", HARDLY, SO),
        (">", "45,100 lb", FAR, "did you mean 4,510 lb?"),
        (">", "55,000 lb", FAR, "did you mean 5,500 lb?"),
        ("<", "3,510 lb", "", ""),
        ("<", "3,490 lb", HARDLY, SO),
        ("<", "2,410 lb", HARDLY, SO),
        ("<", "2,390 lb", FAR, "did you mean 23,900 lb?"),
        ("<", "1,300 lb", FAR, "did you mean 13,000 lb?"),
    ],
)
def test_a_threshold_far_from_what_callers_answer(sign: str, figure: str, what: str, mend: str, tmp_path: Path) -> None:
    """The rest holds at the other side of the sign: there the same figure is as far."""
    found = noted(tmp_path, f"trailer weight {sign} {figure}")
    if not what:
        assert found == []
        return
    (note,) = found
    assert str(note) == f"weighs.yaml:5:9: {what.format(figure)}; {mend}"
    assert (note.severity, note.finding, [place.line for place in note.about]) == ("note", "far off", [2])
    (turned,) = noted(tmp_path, f"{figure} {'<' if sign == '>' else '>'} trailer weight")
    assert str(turned) == str(note)


def test_a_threshold_far_from_those_of_other_rules(tmp_path: Path) -> None:
    """Nothing says what boost is usual; other rules hold it against 40 and 60 psi."""
    elsewhere = "is far from what 'present boost' usually is or is held against elsewhere (40 psi to 60 psi)"
    assert noted(tmp_path, "present boost > 16 psi") == []
    (note,) = noted(tmp_path, "present boost > 15.9 psi")
    assert str(note) == f"weighs.yaml:5:9: '15.9 psi' {elsewhere}; {DIGIT}"
    (note,) = noted(tmp_path, "present boost > 6 psi")
    assert str(note) == f"weighs.yaml:5:9: '6 psi' {elsewhere}; did you mean 60 psi?"
    both = noted(tmp_path, "present boost is between 6 psi and 14 psi")
    assert [str(note) for note in both] == [
        f"weighs.yaml:5:9: '14 psi' {elsewhere}; {DIGIT}",
        f"weighs.yaml:5:9: '6 psi' {elsewhere}; did you mean 60 psi?",
    ]


def test_a_lone_threshold_is_far_from_nothing(tmp_path: Path) -> None:
    assert noted(tmp_path, "power now > 90 hp") == []
    assert noted(tmp_path, "power now > 2,900 hp") == []
    assert len(noted(tmp_path, "power now > 90 hp", "power now > 2,900 hp", "power now > 500 hp")) == 2
    assert len(noted(tmp_path, "power now > 200 hp", "power now > 2,900 hp", "power now > 250 hp")) == 1


@pytest.mark.parametrize(
    ("figure", "own", "mend"),
    [
        ("17,900 kg", "39,463 lb", "did you mean 17,900 lb?"),
        ("18,100 kg", "39,904 lb", SO),
    ],
)
def test_a_threshold_where_hardly_anybody_is_in_another_unit(figure: str, own: str, mend: str, tmp_path: Path) -> None:
    notes = noted(tmp_path, f"trailer weight > {figure}")
    told = HARDLY.replace("'{}'", f"'{figure}' ({own})")
    assert [str(note) for note in notes] == [f"weighs.yaml:5:9: {told}; {mend}"]


def test_of_a_threshold_that_hardly_anybody_meets_nothing_is_meant_for_its_own_figure(tmp_path: Path) -> None:
    """Nought is usual, and nobody wrote it."""
    noted(tmp_path)
    file = tmp_path / "shop" / "facts.yaml"
    usual = "plausible: -300 to 14,500 ft\n    prior: -100 to 5,000 ft\n"
    file.write_text(file.read_text("utf-8").replace("plausible: -300 to 14,500 ft\n", usual), "utf-8")
    (tmp_path / "shop" / "weighs.yaml").write_text(
        "rules:\n" + RULE.format(at=0, stage="advise", when="altitude > 14,000 ft", then="ask: [tune]"), "utf-8"
    )
    (note,) = check(tmp_path / "shop")
    assert note.what == (
        "hardly any caller's 'altitude' is near '14,000 ft': usually, and in other rules, it is -100 ft to 5,000 ft"
    )
    assert note.mend == SO


def test_where_one_rule_alone_holds_a_fact_against_others_it_is_named(tmp_path: Path) -> None:
    found = noted(tmp_path, "power now is between 150 hp and 250 hp", "power now > 2,400 hp")
    (note,) = [note for note in found if note.finding == "far off"]
    named = "'weighs-0' (weighs.yaml:2:11)"
    assert note.what == f"'2,400 hp' is far from what {named} holds 'power now' against (150 hp to 250 hp)"
    assert note.mend == "did you mean 240 hp?"


@pytest.mark.parametrize(
    ("ends", "told"),
    [
        ("10 days to 30 days", []),
        (
            "10 days to 300 days",
            ["'300 days' is far from what 'delivery days' usually is or is held against elsewhere (2 days to 35 days); "
             "did you mean 30 days?"],
        ),
    ],
)  # fmt: skip
def test_what_the_shops_wares_have_is_usual(ends: str, told: list[str], tmp_path: Path) -> None:
    """Turbos come in 3 to 35 days, where the other rules look at a few days only."""
    shutil.copytree(shipped_folder(), tmp_path / "shop")
    then = f"penalise: 0 to 4 as delivery days goes from {ends}"
    rule = RULE.format(at=0, stage="judge", when="budget is known", then=then)
    (tmp_path / "shop" / "weighs.yaml").write_text("rules:\n" + rule, "utf-8")
    assert [f"{fault.what}; {fault.mend}" for fault in check(tmp_path / "shop") if fault.finding == "far off"] == told


MORE = {"": "summer temperature >= 95 °F", "present boost is 30 psi": "present boost >= 30 psi"}


@pytest.mark.parametrize(
    ("when", "what"),
    [
        ("summer temperature is 95 °F", "holds for exactly 95 °F, which hardly anybody's figure is"),
        ("any: [tune is hot, present boost is 30 psi]", "holds for exactly 30 psi, which hardly anybody's figure is"),
        (
            "summer temperature is not 95 °F",
            "holds for nearly everybody, since hardly anybody's figure is exactly that",
        ),
    ],
)
def test_a_measured_figure_that_must_be_exactly_so_much(when: str, what: str, tmp_path: Path) -> None:
    (note,) = noted(tmp_path, when)
    text = when.removeprefix("any: [tune is hot, ").removesuffix("]")
    assert f"{note.what}; {note.mend}" == (
        f"'{text}' {what}; write '{MORE.get(text, MORE[''])}' or '<=', or 'is between' with two ends"
    )
    assert (note.severity, note.finding, [place.line for place in note.about]) == ("note", "exact figure", [2])


EXACTLY = ["cylinders is 6", "altitude is 0 ft", "axle ratio is 3.73", "altitude >= 5,000 ft"]


@pytest.mark.parametrize("when", EXACTLY)
def test_what_is_counted_or_nought_may_be_exactly_so_much(when: str, tmp_path: Path) -> None:
    assert [note for note in noted(tmp_path, when) if note.finding == "exact figure"] == []


def test_a_unit_in_which_no_other_rule_writes_a_fact(tmp_path: Path) -> None:
    (note,) = noted(tmp_path, "present boost > 3.0 bar")
    assert str(note) == (
        "weighs.yaml:5:9: '3.0 bar' is 43.5 psi, and 'present boost' stands in psi everywhere else; "
        "write psi if that is meant, so that all can compare it"
    )
    assert (note.severity, note.finding, [place.line for place in note.about]) == ("note", "other unit", [2])
    assert noted(tmp_path, "present boost > 3.0 bar", "present boost > 2.9 bar") == []
    assert len(noted(tmp_path, "present boost > 3.0 bar", "present boost > 300 kPa")) == 2
    assert noted(tmp_path, "summer temperature > 90 F") == []
    assert noted(tmp_path, "axle ratio > 3.7", "axle ratio > 4.1") == []
    assert len(noted(tmp_path, "present boost is between 3.0 bar and 3.2 bar")) == 2


def test_the_ends_of_points_that_run_with_a_figure_are_thresholds(tmp_path: Path) -> None:
    then = "prefer: '0 to 5 as trailer weight goes from {} to 12,000 lb'"
    assert noted(tmp_path, "tune is hot", stage="judge", then=then.format("9,000 lb")) == []
    (note,) = noted(tmp_path, "tune is hot", stage="judge", then=then.format("1,200 lb"))
    assert note.what == FAR.format("1,200 lb")
    assert note.mend == "did you mean 12,000 lb?"


FITTING = "  - {{fitting: {code}, kind: {kind}, words: {code}, from: [manifold T3], to: [foot T3], {more}}}\n"


def wares(tmp_path: Path, *kits: str, kind: str = "foot kit") -> list[str]:
    """What is noted of the last of some kits, of which each has its price, weight or delivery written here."""
    folder = tmp_path / "shop"
    shutil.copytree(BASE, folder, dirs_exist_ok=True)
    lines = [FITTING.format(code=f"K{at}", kind=kind if at else "foot kit", more=kit) for at, kit in enumerate(kits)]
    (folder / "catalogue" / "fittings.yaml").write_text("fittings:\n" + "".join(lines), "utf-8")
    notes = [fault for fault in check(folder) if fault.finding == "far off"]
    assert all(note.place.line == len(kits) + 1 and note.severity == "note" for note in notes)
    assert all([place.line for place in note.about] == [len(kits) + 1] for note in notes)
    return [f"{note.what}; {note.mend}" for note in notes]


BESIDE = ("price: $20, delivery: 2 days", "price: $24, delivery: 3 days", "price: $30, delivery: 2 days")
OF_PRICE = "is far from that of its neighbours, $20 to $30"
OF_DAYS = "is far from that of its neighbours, 2 days to 3 days"


@pytest.mark.parametrize(
    ("kit", "told"),
    [
        ("price: $51, delivery: 2 days", []),  # 1.7 times the dearest
        ("price: $51.1, delivery: 2 days", [f"price $51.1 {OF_PRICE}; {DIGIT}"]),
        ("price: $11.8, delivery: 2 days", []),
        ("price: $11.7, delivery: 2 days", [f"price $11.7 {OF_PRICE}; {DIGIT}"]),
        ("price: $2.4, delivery: 2 days", [f"price $2.4 {OF_PRICE}; did you mean $24?"]),
        ("price: $250, delivery: 2 days", [f"price $250 {OF_PRICE}; did you mean $25?"]),
        ("price: $24, delivery: 15 days", []),  # five times the slowest
        ("price: $24, delivery: 16 days", [f"delivery 16 days {OF_DAYS}; {DIGIT}"]),
        ("price: $24, delivery: 20 days", [f"delivery 20 days {OF_DAYS}; did you mean 2 days?"]),
    ],
)
def test_a_ware_far_from_its_neighbours(kit: str, told: list[str], tmp_path: Path) -> None:
    assert wares(tmp_path, *BESIDE, kit) == told


def test_of_few_neighbours_none_is_far(tmp_path: Path) -> None:
    assert wares(tmp_path, *BESIDE[:2], "price: $240, delivery: 2 days") == []
    alike = ("price: $20, delivery: 2 days",) * 3
    assert wares(tmp_path, *alike, "price: $250, delivery: 2 days") == [
        f"price $250 is far from that of its neighbours, $20; {DIGIT}"
    ]


def test_a_figure_of_a_wheel_is_called_as_it_is_written() -> None:
    """Ten times the blades of the demo shop's wheels, and four times their hub."""
    catalogue = load(shipped_folder()).catalogue
    code, wheel = next(iter(catalogue.compressor_wheels.items()))
    assert list(odd_wares(catalogue)) == []
    slipped = wheel.model_copy(update={"full_blades": 10 * wheel.full_blades, "hub_ratio": 4 * wheel.hub_ratio})
    wheels = {**catalogue.compressor_wheels, code: slipped}
    notes = list(odd_wares(replace(catalogue, compressor_wheels=wheels)))
    assert [note.what.split(" is far")[0] for note in notes] == [
        f"hub ratio {slipped.hub_ratio:g}", f"full blades {slipped.full_blades}",
    ]  # fmt: skip
    assert notes[1].mend == f"did you mean {wheel.full_blades}?"
