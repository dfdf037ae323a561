"""Scripted calls as a build sees them: one test each, JUnit XML, outcomes accepted on request."""

import os
from pathlib import Path
from xml.etree import ElementTree

import pytest
from small_shop import ROOT, edit, run, script, small_shop

from advisor.inference.engines import agenda
from advisor.knowledge import load
from advisor.replay import replayed
from advisor.scripted import read_scripts

SCRIPTS = sorted((ROOT / "transcripts_demo").glob("*.yaml"))


@pytest.fixture(scope="module")
def demo():
    return load(ROOT / "rules")


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.stem)
def test_scripted_call(path: Path, demo):
    """Every scripted call of the demo shop comes out as it wants, and every variant of it."""
    found, faults = read_scripts(path, demo, path.name)
    assert faults == ()
    assert [str(wrong) for one in found for wrong in replayed(one, demo, agenda()).differences] == []


@pytest.fixture
def shop(tmp_path):
    return small_shop(tmp_path / "shop", "class", "law")


CONCLUDE = """# what must come of it
conclude:
  verdict: nothing fits  # not today
  must:
    - fired: inducer-over-the-limit   # the gauge
    - fired: controls-stay-on-the-road
  must not:
    - fired: inducer-uses-the-limit
  figures:
    air flow needed: 10 to 12 lb/min  # far too little
"""


def test_a_changed_outcome_is_accepted_with_a_readable_difference(shop, tmp_path, capsys):
    path = script(tmp_path / "calls" / "sled.yaml", CONCLUDE)
    before = path.read_text(encoding="utf-8")
    assert run(capsys, "replay", path, "--shop", shop)[0] == 1
    code, out, _ = run(capsys, "replay", path, "--shop", shop, "--accept")
    after = path.read_text(encoding="utf-8")
    assert code == 0
    assert "-  verdict: nothing fits  # not today" in out
    assert "+  verdict: recommended  # not today" in out
    assert "+  must not:" in out
    assert before.split("conclude:")[0] == after.split("conclude:")[0]
    assert "# the gauge" in after
    assert "# far too little" in after
    assert "  must not:\n    - fired: controls-stay-on-the-road\n" in after
    assert "    - fired: inducer-uses-the-limit\n  must not:" in after
    assert run(capsys, "replay", path, "--shop", shop)[0] == 0
    assert run(capsys, "replay", path, "--shop", shop, "--accept")[1] == "1 script, 0 rewritten\n"


@pytest.mark.parametrize("conclude", ["", "conclude:\n  verdict: recommended\n# the end\n"])
def test_a_recorded_outcome_tells_of_every_change(shop, tmp_path, capsys, conclude):
    path = script(tmp_path / "calls" / "sled.yaml", conclude)
    code, _, _ = run(capsys, "replay", path, "--shop", shop, "--record")
    assert code == 0
    assert run(capsys, "replay", path, "--shop", shop)[0] == 0
    recorded = path.read_text(encoding="utf-8")
    edit(shop / "class.yaml", "prefer: 5", "prefer: 9")
    code, out, _ = run(capsys, "replay", path, "--shop", shop)
    assert code == 1
    assert "recorded, and not so any more: gives 5 points" in out
    assert "so now, and not recorded: gives 9 points" in out
    code, out, _ = run(capsys, "replay", path, "--shop", shop, "--accept")
    assert code == 0
    assert recorded.replace("gives 5 points", "gives 9 points") == path.read_text(encoding="utf-8")


def test_results_are_written_as_junit_xml(shop, tmp_path, capsys):
    script(tmp_path / "calls" / "good.yaml", "conclude:\n  verdict: recommended\n")
    script(tmp_path / "calls" / "wrong.yaml", "conclude:\n  verdict: nothing fits\n")
    (tmp_path / "calls" / "broken.yaml").write_text("answers: 5\n", "utf-8")
    code, _, _ = run(capsys, "replay", tmp_path / "calls", "--shop", shop, "--junit", tmp_path / "out" / "results.xml")
    top = ElementTree.parse(tmp_path / "out" / "results.xml").getroot()
    assert code == 2
    assert (top.get("tests"), top.get("failures"), top.get("errors")) == ("3", "1", "1")
    cases = {case.get("name"): [child.tag for child in case] for case in top.iter("testcase")}
    assert cases == {"good": [], "wrong": ["failure"], "broken": ["error"]}
    assert "the verdict is" in next(top.iter("failure")).get("message", "")


def test_a_line_of_the_outcome_can_be_wanted(shop, tmp_path, capsys):
    wanted = 'conclude:\n  {}:\n    - concludes: "gives 5 points [inducer-uses-the-limit]"\n'
    path = script(tmp_path / "calls" / "one.yaml", wanted.format("must"))
    assert run(capsys, "replay", path, "--shop", shop)[0] == 0
    path = script(tmp_path / "calls" / "one.yaml", wanted.format("must not"))
    code, out, _ = run(capsys, "replay", path, "--shop", shop)
    assert code == 1
    assert "one.yaml:15:" in out
    path = script(tmp_path / "calls" / "one.yaml", wanted.format("must").replace("the-limit]", "the-limitt]"))
    code, out, _ = run(capsys, "replay", path, "--shop", shop)
    assert code == 2
    assert "did you mean 'inducer-uses-the-limit'?" in out


@pytest.mark.parametrize("command", ["replay", "try"])
def test_a_kept_call_is_told_apart_from_a_script(command, shop, tmp_path, capsys):
    folder = tmp_path / "kept calls"
    folder.mkdir()
    kept = folder / "20261130-190610-47dd.call"
    kept.write_text('{"form": 1, "call": "20261130-190610-47dd"}\n{"answer": "call kind", "words": "new"}\n', "utf-8")
    options = ("--answers", kept, "--rules", shop) if command == "try" else (kept, "--shop", shop)
    code, out, errors = run(capsys, command, *options)
    assert code == 2
    assert (
        "20261130-190610-47dd.call:1:1: this is a kept call, not a script; type 'save NAME' in it to write it as a "
        f"script: advisor call --resume 20261130-190610-47dd --calls '{folder}'"
    ) in out + errors


NO_LINE = "is no kind of line that a call concludes"


@pytest.mark.parametrize(
    ("wanted", "told"),
    [
        ('concludes: "cautoin [inducer-over-the-limit]"', f"'cautoin' {NO_LINE}; did you mean 'caution'?"),
        ('concludes: "sets [inducer-over-the-limit]"', f"'sets' {NO_LINE}; write 'fact'"),
        ('concludes: "caution, recommends [inducer-over-the-limit]"', f"'recommends' {NO_LINE}; write 'advice'"),
        ('concludes: "zzz: x [inducer-over-the-limit]"', f"'zzz' {NO_LINE}; write one of verdict, recommended, "),
        ("fact: road use is yes", "'fact' is no kind of expectation; write 'concludes: \"fact [rule-name]\"', or "),
        ("zzz: road use is yes", "'zzz' is no kind of expectation; write one of fired, caution, may caution, asks, "),
        ("best: CG-6671", "'CG-6671' is a code, a condition is wanted here; write what it is, as in 'compressor "),
    ],
)
@pytest.mark.parametrize("must", ["must", "must not"])
def test_what_no_call_can_conclude_is_refused(must, wanted, told, shop, tmp_path, capsys):
    """A `must not` of it could never fail, and accepting would turn a `must` into that."""
    path = script(tmp_path / "calls" / "one.yaml", f"conclude:\n  {must}:\n    - {wanted}\n")
    text = path.read_text("utf-8")
    for options in ((), ("--accept",)):
        code, out, err = run(capsys, "replay", path, "--shop", shop, *options)
        assert code == 2
        assert "one.yaml:15:" in out + err
        assert told in out + err
        assert path.read_text("utf-8") == text


VARIANTS = """conclude:
  must:
    - fired: inducer-uses-the-limit
variants:  # the same truck otherwise
  - but: he comes with a smaller gauge
    answers: [inducer limit: 58 mm, altitude: "5,000 ft"]
    conclude: {must: [fired: inducer-over-the-limit, fired: controls-stay-on-the-road], must not: [asks: class rule]}
  - without: [class rule, inducer limit]
    conclude: {must not: [concludes: "caution, gives 5 points [inducer-uses-the-limit]"]}
  - answers: [emissions status: controls fitted]
    conclude:
      must:
        - fired: inducer-over-the-limit  # the gauge
        - fired: no-class-to-obey
"""


def test_a_variant_is_the_call_with_some_answers_changed(shop, tmp_path, capsys):
    path = script(tmp_path / "calls" / "sled.yaml", VARIANTS)
    code, out, _ = run(capsys, "replay", path, "--shop", shop, "--junit", tmp_path / "results.xml")
    assert code == 1
    assert "sled.yaml:19:61: the rule controls-stay-on-the-road did not fire" in out
    assert "sled.yaml:26:18: the rule no-class-to-obey did not fire" in out
    assert out.endswith("4 calls replayed: 2 as they should be, 2 differ, 0 refused\n")
    names = [case.get("name") for case in ElementTree.parse(tmp_path / "results.xml").getroot().iter("testcase")]
    assert names == [
        "sled",
        "sled: he comes with a smaller gauge",
        "sled: no class rule, no inducer limit",
        "sled: emissions status controls fitted",
    ]


def test_variants_are_accepted_with_all_else_as_written(shop, tmp_path, capsys):
    path = script(tmp_path / "calls" / "sled.yaml", VARIANTS)
    before = path.read_text(encoding="utf-8")
    assert run(capsys, "replay", path, "--shop", shop, "--accept")[0] == 0
    after = path.read_text(encoding="utf-8")
    expected = before.replace(", fired: controls-stay-on-the-road]", "]")
    expected = expected.replace("[asks: class rule]", "[asks: class rule, fired: controls-stay-on-the-road]")
    assert after == expected.replace("        - fired: no", "      must not:\n        - fired: no")
    assert run(capsys, "replay", path, "--shop", shop)[0] == 0


def test_a_variant_that_wants_nothing_any_more_goes_and_is_told(shop, tmp_path, capsys):
    lost = "  - answers: [inducer limit: 58 mm]\n    conclude: {must: [ruled out: compressor inducer > 900 mm]}\n"
    path = script(tmp_path / "calls" / "sled.yaml", "variants:\n" + lost)
    code, out, _ = run(capsys, "replay", path, "--shop", shop, "--accept")
    assert code == 1
    assert "variants" not in path.read_text(encoding="utf-8")
    assert f"{path}:15:34: lost: 'ruled out: compressor inducer > 900 mm'; nothing that is concluded now can" in out
    assert f"{path}:14:5: lost: the variant 'sled: inducer limit 58 mm'; it would want nothing any more" in out
    assert f"{path}: 'advisor mutants {path} --write FOLDER' looks whether" in out
    assert out.endswith("1 script, 1 rewritten, 1 of which lost or still want something otherwise\n")


@pytest.mark.parametrize(
    ("variant", "message"),
    [
        ("answers: [altitude: 900 ft]", "14:5: the variant wants nothing concluded; write 'conclude:'"),
        ("conclude: {verdict: diagnosed}", "14:5: the variant differs in no answer from the call; write 'answers:'"),
        ("without: [class rules]", "14:15: the call has no answer to 'class rules'; did you mean 'class rule'?"),
        ("answer: [altitude: 900 ft]", "14:5: 'answer' is no part of a variant; did you mean 'answers'?"),
        ("but: [x]", "14:10: 'but' is a line of text"),
    ],
)
def test_a_variant_that_says_nothing_is_refused(shop, tmp_path, capsys, variant, message):
    path = script(tmp_path / "calls" / "sled.yaml", f"variants:\n  - {variant}\n")
    code, out, _ = run(capsys, "replay", path, "--shop", shop)
    assert code == 2
    assert f"sled.yaml:{message}" in out


def test_candidates_for_which_a_rule_fires_can_be_wanted(shop, tmp_path, capsys):
    wanted = 'conclude:\n  must:\n    - fired for: "compressor inducer {} inducer limit{} [inducer-over-the-limit]"\n'
    path = script(tmp_path / "calls" / "one.yaml", wanted.format(">", "; class rule is inducer limit"))
    assert run(capsys, "replay", path, "--shop", shop)[0] == 0
    path = script(tmp_path / "calls" / "one.yaml", wanted.format("> 1.1 *", " or class rule is none"))
    code, out, _ = run(capsys, "replay", path, "--shop", shop)
    assert code == 1
    assert "the rule inducer-over-the-limit fired for" in out
    path = script(tmp_path / "calls" / "one.yaml", wanted.format("> 1.1 *", "; clas rule is none"))
    code, out, _ = run(capsys, "replay", path, "--shop", shop)
    assert code == 2
    assert "one.yaml:15:61: there is no fact 'clas rule'; did you mean 'class rule'?" in out


def test_where_too_little_is_known_nothing_is_recorded_as_recommended(shop, tmp_path, capsys):
    path = script(tmp_path / "calls" / "sled.yaml", power_goal=None, displacement=None)
    assert run(capsys, "replay", path, "--shop", shop, "--record")[0] == 0
    recorded = path.read_text(encoding="utf-8")
    assert '- "verdict: not enough known"\n    - "recommended: nothing"\n' in recorded
    assert "gives 5 points" in recorded  # what rules would weigh is kept
    assert run(capsys, "replay", path, "--shop", shop)[0] == 0


def test_a_script_that_checks_nothing_is_told_so(shop, tmp_path, capsys):
    path = script(tmp_path / "calls" / "sled.yaml", "conclude:\n  must: []\n")
    code, out, _ = run(capsys, "replay", path, "--shop", shop, "--junit", tmp_path / "results.xml")
    told = f"{path}:1:1: this call checks nothing; write 'must:', 'must not:' or 'figures:' under 'conclude:', "
    assert code == 0
    assert out.startswith(told)
    assert out.endswith("1 call replayed: 1 as it should be, 0 differ, 0 refused; checking nothing: 1\n")
    (case,) = ElementTree.parse(tmp_path / "results.xml").getroot().iter("testcase")
    assert [(child.tag, child.get("message", "").startswith(told)) for child in case] == [("skipped", True)]
    variants = "variants:\n  - without: [power goal]\n    conclude: {verdict: not enough known}\n"
    script(path, variants)
    assert "checks nothing" not in run(capsys, "replay", path, "--shop", shop)[1]


TWICE = "'power goal' is answered a second time (first in line 6); keep the answer that counts"


@pytest.mark.parametrize("command", [("replay",), ("cover",), ("try", "--answers")])
def test_a_fact_answered_twice_is_a_placed_fault(shop, tmp_path, capsys, command):
    path = script(tmp_path / "calls" / "sled.yaml")
    edit(path, '  - rpm limit: "4000"\n', '  - rpm limit: "4000"\n  - power goal: "500 hp"\n')
    folder = "--rules" if command[0] == "try" else "--shop"
    code, out, errors = run(capsys, *command, path, folder, shop)
    assert code == 2
    assert f"{path}:8:5: {TWICE}" in out + errors


def test_a_fact_answered_twice_in_a_variant_is_a_placed_fault(shop, tmp_path, capsys):
    variants = "variants:\n  - answers: [rpm limit: '3000', rpm limit: '3500']\n    conclude: {verdict: recommended}\n"
    path = script(tmp_path / "calls" / "sled.yaml", variants)
    assert f"{path}:14:34: 'rpm limit' is answered a second time" in run(capsys, "replay", path, "--shop", shop)[1]


KEYS: dict[str, tuple[str, ...]] = {
    "call": (), "about": (), "answers": (), "conclude": (), "variants": (),
    "verdict": ("  ",), "must": ("  ",), "must not": ("  ",), "figures": ("  ",), "asks first": ("  ",),
    "fired": ("    - ",), "caution": ("    - ",), "concludes": ("    - ",), "known": ("    - ",),
    "fired for": ("    - ",), "but": ("  - ",), "without": ("    ",),
}  # fmt: skip
WHOLE = """call: Sled
about: a gauge
answers:
  - class rule: "inducer limit"
  - altitude: "900 ft"
conclude:
  verdict: recommended
  asks first: [duties]
  must:
    - fired: inducer-uses-the-limit
    - caution: controls-stay-on-the-road
    - concludes: "caution [inducer-over-the-limit]"
    - known: class rule is none
    - fired for: "gate share > 25 % [inducer-over-the-limit]"
  must not:
    - fired: no-class-to-obey
  figures: {air flow needed: 10 to 12 lb/min}
variants:
  - but: low
    without: [altitude]
    conclude: {verdict: recommended}
"""


@pytest.mark.parametrize("key", KEYS)
def test_a_slip_in_a_key_is_told_once_with_the_key_that_is_meant(shop, tmp_path, capsys, key):
    before = "".join(KEYS[key])
    path = tmp_path / "calls" / "slip.yaml"
    path.parent.mkdir()
    for slip in {key[:-1], key[0] + key, key.replace("s", "ss"), key.upper(), key.replace(" ", "_")} - {key}:
        path.write_text(WHOLE.replace(f"\n{before}{key}:", f"\n{before}{slip}:", 1), "utf-8")
        if key == "call":
            path.write_text(WHOLE.replace("call:", f"{slip}:", 1), "utf-8")
        code, out, _ = run(capsys, "replay", path, "--shop", shop)
        *told, _ = out.splitlines()
        assert code == 2
        assert [line.split("; ")[1] for line in told] == [f"did you mean '{key}'?"], (slip, out)


@pytest.mark.parametrize(
    ("end", "told"),
    [
        ("must:\n  - fired: no-class-to-obey\n", "4:1: 'must' is no part of a scripted call; indent it to stand below"),
        ("fired: no-class-to-obey\n", "4:1: 'fired' is no part of a scripted call; write it below 'must:' as '- fire"),
        ("conclude:\n  fired: no-class-to-obey\n", "5:3: 'fired' can't be concluded; write it below 'must:' as '- fi"),
    ],
)
def test_a_key_in_the_wrong_place_is_told_where_it_belongs(shop, tmp_path, capsys, end, told):
    path = tmp_path / "slip.yaml"
    path.write_text("call: Sled\nanswers:\n  - class rule: none\n" + end, "utf-8")
    code, out, _ = run(capsys, "replay", path, "--shop", shop)
    assert code == 2
    assert f"slip.yaml:{told}" in out


@pytest.mark.parametrize(
    ("named", "told"),
    [
        ("shop", "shop: holds a shop's rules, no scripted calls; name a folder of calls"),
        ("shop/law.yaml", "law.yaml:2:1: this file holds the shop's rules, no scripted call; name a file of scripted"),
        ("shop/maps", "maps: holds no scripted calls; put .yaml files there"),
        ("nowhere", "nowhere: is not there; name a script or a folder of scripts"),
        ("calls", "calls/late.yml:1:1: is not read: its name doesn't end in .yaml; let it end in .yaml"),
    ],
)
@pytest.mark.parametrize("command", ["replay", "mutants", "cover"])
def test_what_is_no_script_is_told_in_a_line(shop, tmp_path, capsys, command, named, told):
    script(tmp_path / "calls" / "late.yml")
    code, out, errors = run(capsys, command, tmp_path / named, "--shop", shop)
    lines = [line for line in (out + errors).splitlines() if "replayed" not in line]
    assert code == 2
    assert len(lines) == 1
    assert told in lines[0]


def test_a_folder_of_scripts_that_can_not_be_looked_into_is_told(shop, tmp_path, capsys, monkeypatch):
    script(tmp_path / "calls" / "one.yaml")
    look = os.listdir

    def closed(path):
        if Path(path) == tmp_path / "calls":
            raise PermissionError(13, "Permission denied")
        return look(path)

    monkeypatch.setattr(os, "listdir", closed)
    code, _, errors = run(capsys, "replay", tmp_path / "calls", "--shop", shop)
    assert (code, errors) == (2, f"{tmp_path / 'calls'}: can't be read (Permission denied); see to its permissions\n")


def test_backups_beside_scripts_are_passed_over(shop, tmp_path, capsys):
    script(tmp_path / "calls" / "one.yaml", "conclude: {verdict: recommended}\n")
    for name in ("._one.yaml", ".#one.yaml", "~$one.yaml", "one.yaml~", ".one.yaml.swp"):
        (tmp_path / "calls" / name).write_bytes(b"\xff")
    code, out, _ = run(capsys, "replay", tmp_path / "calls", "--shop", shop)
    assert (code, out) == (0, "1 call replayed: 1 as it should be, 0 differ, 0 refused\n")


def test_what_a_try_does_not_understand_is_told_with_its_place(shop, tmp_path, capsys):
    path = script(tmp_path / "one.yaml", power_goal="purple")
    code, out, _ = run(capsys, "try", "--answers", path, "--rules", shop)
    assert code == 1
    assert f"{path}:6:17: 'purple' was not understood as power goal: " in out


UNHEARD = """variants:
  - answers: [altitude: 6000 ft]
    conclude: {must: [fired: controls-stay-on-the-road]}
  - answers: [altitude: 7000 ft, stripshare: 20 %]
"""


@pytest.mark.parametrize("command", [("cover",), ("compare", "shop")], ids=["cover", "compare"])
def test_answers_that_count_for_nothing_are_told_once_with_their_place(shop, tmp_path, capsys, command):
    path = script(tmp_path / "calls" / "one.yaml", UNHEARD, power_goal="purple")
    name, *more = (str(shop) if word == "shop" else word for word in command)
    _, out, _ = run(capsys, name, *more, tmp_path / "calls", "--shop", shop)
    told = [line for line in out.splitlines() if line.startswith(str(path))]
    lines = path.read_text("utf-8").splitlines()
    row = next(number for number, line in enumerate(lines, 1) if "stripshare" in line)
    column = lines[row - 1].index("stripshare: ") + len("stripshare: ") + 1
    assert len(told) == 2
    assert told[0].startswith(f"{path}:6:17: 'purple' was not understood as power goal: ")
    assert told[1] == (
        f"{path}:{row}:{column}: 'stripshare' is not asked, so its answer was passed over; "
        "did you mean 'strip share'?"
    )


def test_a_doubt_that_variants_share_is_told_once(shop, tmp_path, capsys):
    variants = "variants:\n" + "".join(
        f"  - answers: [strip share: {share} %]\n    conclude: {{must: [fired: controls-stay-on-the-road]}}\n"
        for share in (60, 70, 80)
    )
    script(tmp_path / "calls" / "one.yaml", variants, strip_share="50 %", sled_share="70 %")
    _, out, _ = run(capsys, "replay", tmp_path / "calls", "--shop", shop, "--doubts")
    assert out.count("comes to more than the whole") == 1
    _, out, _ = run(capsys, "replay", tmp_path / "calls", "--shop", shop)
    assert "comes to more than the whole" not in out
    assert out.splitlines()[-2] == (
        "1 answer is odd, so that a caller would be asked about it; no call differs by that ('--doubts' shows it)"
    )


OWN = """conclude:
  must:
    - fired: our-own
    - concludes: "caution [our-second]"
    - caution: our-third
    - fired: our-own
"""


def test_scripts_of_another_shop_are_told_in_a_line_with_its_folder(shop, tmp_path, capsys):
    """A forgotten `--shop`: what names the rules stands beside the calls, or can't be found; a slip stays a slip."""
    path = script(tmp_path / "calls" / "one.yaml", OWN)
    _, out, _ = run(capsys, "replay", path)
    assert out.startswith(f"{path}:15:14 (and in 3 more places): the scripts name rules that {ROOT / 'rules'} hasn't: ")
    told = "hasn't: our-own, our-second, our-third; if they are another shop's, name its folder with '--shop FOLDER'\n"
    assert out.endswith(f"{told}1 call replayed: 0 as they should be, 0 differ, 1 refused\n")
    law = (shop / "law.yaml").read_text("utf-8")
    first, *more = [line for line in law.splitlines() if line.startswith("  - rule: ")][:3]
    for line, name in zip((first, *more), ("our-own", "our-second", "our-third"), strict=True):
        law = law.replace(line, f"  - rule: {name}")
    (shop / "law.yaml").write_text(law, "utf-8")
    for command in (("replay",), ("replay", "--accept"), ("mutants",)):
        _, out, errors = run(capsys, *command, path)
        assert f"; if they are another shop's, '--shop {shop}' has all of them\n" in out + errors
    path = script(tmp_path / "calls" / "one.yaml", 'conclude: {must: [fired: our-own, caution: our-own]}\n')
    _, out, _ = run(capsys, "replay", path)
    gone = "there is no rule 'our-own'; if the rule was taken out, take the line out too"
    first, second, _ = out.splitlines()
    assert first == f"{path}:13:26: {gone}"
    assert second == f"{path}:13:44: {gone}; or is it another shop's? '--shop {shop}' has it"
    path = script(path, OWN.replace("our-", "are-"))
    _, out, _ = run(capsys, "replay", path, "--shop", shop)
    assert out.count("there is no rule 'are-") == 4
