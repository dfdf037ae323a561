"""What is concluded now, written in place of what scripts want and don't get any more."""

import pytest
from small_shop import edit, run, script, small_shop

WARNS = """rules:
  - rule: high-up
    stage: understand
    when:
      - altitude > 5,000 ft
    then:
      caution: "Thin air at {altitude}."
      severity: danger
      say: "The air is thin up there."
    because: Air gets thinner with height.
    basis: US Standard Atmosphere 1976
    kept by: R. Aldous, 2026-11
  - rule: up-the-slope
    stage: understand
    when:
      - altitude > 3,000 ft
    then:
      caution: "Thinner air at {altitude}."
      severity: danger
      say: "The air is thin up there."
    because: Air gets thinner with height.
    basis: US Standard Atmosphere 1976
    kept by: R. Aldous, 2026-11
  - rule: a-light-wheel
    stage: judge
    when:
      - compressor inducer < 63 mm
    then:
      penalise: 4
      say: "That is a light wheel."
    because: It is small for this.
    basis: common practice, no source
    kept by: R. Aldous, 2026-11
"""


@pytest.fixture
def shop(tmp_path):
    folder = small_shop(tmp_path / "shop", "class", "law")
    (folder / "height.yaml").write_text(WARNS, "utf-8")
    return folder


def accepted(capsys, shop, path) -> tuple[str, str]:
    """What is said of a script that is accepted, and its conclusion; it then comes out as it should."""
    _, out, _ = run(capsys, "replay", path, "--shop", shop, "--accept")
    assert "1 script, 1 rewritten" in out
    assert run(capsys, "replay", path, "--shop", shop)[0] == 0
    return out, path.read_text(encoding="utf-8").split("conclude:\n", 1)[1]


@pytest.mark.parametrize(
    ("key", "was", "now"),
    [
        ("must", "best: compressor inducer <= 50 mm", "must:\n    - best: compressor inducer <= 66 mm"),
        ("must", "best: compressor inducer > 0.07 m", "must:\n    - best: compressor inducer > 65.9 mm"),
        ("must", "best: housing foot is T3 or housing foot is T4", "must:\n    - best: housing foot is T6"),
        ("must", "best: housing foot is T3; compressor inducer > 20 mm", "is T6; compressor inducer > 20 mm"),
        ("must not", "best: housing foot is T6", "must:\n    - best: housing foot is T6"),
        ("must", "known: class rule is none", "must:\n    - known: class rule is inducer limit"),
        ("must", "known: displacement < 5 L", "must:\n    - known: displacement < 6.71 L"),
        ("must", "known: displacement is 5 L", "must:\n    - known: displacement is 6.7 L"),
        ("must", "known: displacement is between 5 L and 6 L", "displacement is between 6.36 L and 7.04 L"),
        ("must", "known: duties include towing", "must:\n    - known: duties include sled"),
        ("must", "known: road use is yes", "must:\n    - known: road use is no"),
        ("must", "known: altitude < 400 ft", "must:\n    - known: altitude is not known"),
        ("must", "asks: class rule", "must not:\n    - asks: class rule"),
        ("must not", "asks: altitude", "must:\n    - asks: altitude"),
        ("must", "concludes: 'recommended: A 1'", 'must:\n    - concludes: "recommended: CG-6673-'),
        ("must", "concludes: caution, gives 2 points [inducer-uses-the-limit]",
         'must:\n    - concludes: "gives 5 points [inducer-uses-the-limit]"\n'
         '  must not:\n    - concludes: "caution [inducer-uses-the-limit]"\n'),
        ("must not", "concludes: gives 5 points [inducer-uses-the-limit]",
         'must:\n    - concludes: "gives 5 points [inducer-uses-the-limit]"'),
        ("must", "fired for: compressor inducer < 60 mm [a-light-wheel]",
         'must:\n    - fired for: "compressor inducer < 63 mm [a-light-wheel]"'),
        ("must", "fired for: inducer limit > 1 mm [no-class-to-obey]", "must not:\n    - fired: no-class-to-obey"),
        ("must", "may caution: high-up", "must not:\n    - may caution: high-up"),
    ],
)  # fmt: skip
def test_what_is_concluded_now_stands_in_place_of_what_was(shop, tmp_path, capsys, key, was, now):
    words = was if ": '" in was else was.replace(": ", ': "', 1) + '"'
    path = script(tmp_path / "sled.yaml", f"conclude:\n  {key}:\n    - {words}\n")
    out, conclude = accepted(capsys, shop, path)
    assert f"    - {words}" in out
    assert now in conclude
    assert "lost" not in out


VARIANTS = """conclude:
  verdict: recommended
variants:
  - answers: [altitude: "4,500 ft"]
    conclude: {must not: [fired: up-the-slope], figures: {air flow needed: 1 to 2 lb/min}}
  - answers: [altitude: "5,500 ft"]
    conclude:
      must:
        - caution: high-up  # thin
        - known: duties include sled
      figures: {altitude: 1 to 2 ft}
  - answers: [altitude: "2,500 ft"]
    conclude: {must not: [{caution: high-up}, {fired: a-light-wheel}]}
  - answers: [duties: towing]
    conclude: {figures: {trailer weight: 1 to 2 lb}, must: [fired: no-class-to-obey]}
"""


def test_variants_want_the_reverse_where_a_rule_turns_elsewhere_now(shop, tmp_path, capsys):
    """The cautions at 5,500 ft change: one of the same severity on the same fact is told, the other isn't."""
    path = script(tmp_path / "sled.yaml", VARIANTS)
    edit(shop / "height.yaml", "altitude > 5,000 ft", "altitude > 6,000 ft")
    out, conclude = accepted(capsys, shop, path)
    assert "{must: [fired: up-the-slope], figures: {air flow needed: " in conclude
    assert (
        "      must:\n        - known: duties include sled\n      must not:\n        - caution: high-up  # thin\n"
        "      figures: {altitude: " in conclude
    )
    assert "{must: [fired: a-light-wheel], must not: [{caution: high-up}]}" in conclude
    assert "{must: [known: trailer weight is not known], must not: [fired: no-class-to-obey]}" in conclude
    rules = ("up-the-slope", "high-up", "a-light-wheel", "no-class-to-obey")
    of = "".join(f" --of {rule}" for rule in rules)
    assert f"the reverse is wanted now of {', '.join(rules)}; 'advisor mutants {path}{of} --write FOLDER' looks" in out


def test_a_caution_of_the_severity_of_one_that_went_is_wanted(shop, tmp_path, capsys):
    path = script(tmp_path / "sled.yaml", "conclude:\n  must:\n    - caution: high-up\n", altitude="4,000 ft")
    _, conclude = accepted(capsys, shop, path)
    assert conclude == "  must:\n    - caution: up-the-slope\n  must not:\n    - caution: high-up\n"


def test_points_that_run_with_a_figure_are_wanted_from_the_same_candidates(shop, tmp_path, capsys):
    runs = "penalise: 0 to 8 to 17 as compressor inducer goes from 60 mm to 66 mm to 70 mm"
    edit(shop / "height.yaml", "- compressor inducer < 63 mm", "- class rule is known")
    edit(shop / "height.yaml", "penalise: 4", runs)
    wanted = '    - takes: "{} points for class rule is known; compressor inducer >= {} mm [a-light-wheel]"\n'
    path = script(tmp_path / "sled.yaml", "conclude:\n  must:\n" + wanted.format(2, 66) + wanted.format(9, 70))
    _, conclude = accepted(capsys, shop, path)
    assert conclude == "  must:\n" + wanted.format(8, 66) + wanted.format(17, 70)


def test_the_first_questions_are_written_as_they_are_asked_now(shop, tmp_path, capsys):
    for layout in ("[{}, {}]", "\n    - {}\n    - {}"):
        asks = "conclude:\n  asks first: " + layout + "\n"
        path = script(tmp_path / "sled.yaml", asks.format("duties", "altitude"))
        _, conclude = accepted(capsys, shop, path)
        assert conclude != asks.format("duties", "altitude").removeprefix("conclude:\n")
        assert len(conclude.split("first:")[1].replace("-", ",").strip(" []\n").split(",")) >= 2


def test_what_nobody_can_understand_still_differs(shop, tmp_path, capsys):
    path = script(tmp_path / "sled.yaml", "conclude:\n  must:\n    - asks: class rule\n", power_goal="purple")
    code, out, _ = run(capsys, "replay", path, "--shop", shop, "--accept")
    assert code == 1
    assert f"even so: {path}:6:17: 'purple' was not understood as power goal" in out
