"""Try, compare and reload: what an edit of the rules does to calls."""

import random
import re
import shutil
import subprocess
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_shop import ANSWERS, ROOT, edit, run, script, small_shop

from advisor.conclusion import change, conclusion
from advisor.consultation import consult
from advisor.course import infer
from advisor.desk.calls import RecordedCall, scripted_calls
from advisor.desk.compare import Pair
from advisor.desk.edits import edits, reload
from advisor.desk.held import touches
from advisor.desk.mutants import mutants
from advisor.desk.nearest import nearest_flips
from advisor.desk.revisions import MOST_GONE
from advisor.desk.variants import rerun, varied, without
from advisor.inference.engines import agenda
from advisor.journal import Journal, entries_of
from advisor.knowledge import Knowledge, Rule, load
from advisor.knowledge.rules import Penalise
from advisor.matched import forget_matches, stock_of
from advisor.outcome import Answer

HEIGHT = """rules:
  - rule: high-up
    stage: understand
    when:
      - altitude > 5,000 ft
    then:
      caution: "Thin air at {altitude}."
      severity: care
      say: "The air is thin up there."
    because: Air gets thinner with height.
    basis: US Standard Atmosphere 1976
    kept by: R. Aldous, 2026-11
"""


@pytest.fixture
def shops(tmp_path):
    """(as it was, to be edited, folder of scripts)"""
    old = small_shop(tmp_path / "old", "class", "law")
    (old / "height.yaml").write_text(HEIGHT, "utf-8")
    new = tmp_path / "new"
    shutil.copytree(old, new)
    script(tmp_path / "calls" / "sled-on-the-plain.yaml", altitude="1,000 ft")
    script(tmp_path / "calls" / "sled-in-the-hills.yaml", altitude="6,500 ft")
    return old, new, tmp_path / "calls"


def test_nothing_edited_changes_nothing(shops, capsys):
    old, new, calls = shops
    code, out, _ = run(capsys, "compare", old, calls, "--shop", new)
    assert code == 0
    assert "nothing was edited" in out
    assert "changes 0 of 2" in out


def test_calls_may_be_named_after_options_too(shops, capsys):
    old, new, calls = shops
    edit(new / "height.yaml", "Thin air at", "The air is thin at")
    hills = calls / "sled-in-the-hills.yaml"
    expected = run(capsys, "compare", old, hills, "--shop", new, "--near", 0)
    assert expected[0] == 1
    assert run(capsys, "compare", old, "--shop", new, hills, "--near", 0) == expected
    with pytest.raises(SystemExit) as left:
        run(capsys, "compare", old, calls, "--shops", new, "--nearest", 0)
    assert left.value.code == 2
    assert "'--shops' can't be read here; put '--help' after the command" in capsys.readouterr().err


def test_an_edit_shows_the_calls_it_changes_and_the_rule(shops, capsys):
    old, new, calls = shops
    edit(new / "class.yaml", "prefer: 5", "prefer: 9")
    code, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0)
    assert "\npoints or counts alone: 2 calls; '--points' shows them\n\nIn short\n" in out
    assert "gives 5 points" not in out
    code, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0, "--points")
    assert code == 1
    told = "5 points for the candidate before, now 9 points for the candidate"
    assert f"rule changed: inducer-uses-the-limit: {told}\n" in out
    assert "changes 2 of 2" in out
    assert "by inducer-uses-the-limit" in out
    assert "- gives 5 points" in out
    assert "+ gives 9 points" in out


def test_an_edit_that_no_call_notices_shows_the_nearest_that_would(shops, capsys):
    old, new, calls = shops
    edit(new / "height.yaml", "altitude > 5,000 ft", "altitude > 5,800 ft")
    code, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 25)
    assert code == 0
    assert out.startswith("rule changed: high-up: altitude > 5,000 ft before, now altitude > 5,800 ft\n")
    assert "changes 0 of 2 calls\nnearest unrecorded: sled-" in out
    found = re.search(r"nearest unrecorded: \S+ at altitude ([\d,.]+) ft", out)
    assert found is not None
    assert 5_000 < float(found[1].replace(",", "")) <= 5_800


def test_the_nearest_number_is_at_the_edge(shops):
    """From 6,500 ft down the two states first part at the higher of the two thresholds."""
    old, new, calls = shops
    edit(new / "height.yaml", "altitude > 5,000 ft", "altitude > 5,800 ft")
    pair = Pair(load(old), load(new), agenda())
    recorded, _ = scripted_calls(sorted(calls.glob("*hills.yaml")))
    first = next(flip for flip in nearest_flips(recorded, pair, 40).flips if flip.fact == "altitude")
    assert 5_750 <= float(first.instead.removesuffix(" ft").replace(",", "")) <= 5_800
    assert first.change


def short(out: str) -> str:
    """What stands under "In short", as one line; it fits a terminal of 80 columns."""
    lines = out.split("\nIn short\n")[1].splitlines()
    assert max(map(len, lines)) <= 80
    return " ".join(" ".join(lines).split())


def test_in_short_how_grave_it_is_and_by_which_rule(shops, capsys):
    """Of two edited rules one brings another turbo everywhere, the other a graver caution up in the hills."""
    old, new, calls = shops
    for place, height in (("on-the-plain", "1,000 ft"), ("in-the-hills", "6,500 ft")):
        script(calls / f"sled-{place}.yaml", altitude=height, power_goal="500 hp")
    edit(new / "class.yaml", "prefer: 5", "penalise: 60")
    edit(new / "height.yaml", "severity: care", "severity: danger")
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0)
    said = short(out)
    assert said.startswith("changes 2 of 2 calls: new advice in 2 by inducer-uses-the-limit: 2, new advice in 2 ")
    assert "by high-up: 1, new advice in 1" in said
    first = [re.search(rf"\n    {re.escape(sign)} recommended: (\S+)", out) for sign in "-+"]
    assert all(first)
    assert f"{first[0][1]} gives way to {first[1][1]} in sled-in-the-hills" in said


def test_in_short_that_a_grave_caution_is_told_no_more(shops, capsys):
    """A `stop` that goes with its rule, or is told as less, is named; the same told in other words is not."""
    old, new, calls = shops
    for shop in (old, new):
        edit(shop / "height.yaml", "severity: care", "severity: stop")
    edit(new / "height.yaml", "Thin air at", "The air is thin at")
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0)
    assert short(out) == "changes 1 of 2 calls: other grave cautions in 1 by high-up: 1"
    edit(new / "height.yaml", "severity: stop", "severity: care")
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0)
    lost = "other grave cautions in 1 no longer says 'stop' by high-up in sled-in-the-hills"
    assert lost in short(out)
    (new / "height.yaml").unlink()
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0)
    assert "rule gone: high-up" in out
    assert lost in short(out)


def test_in_short_what_is_only_said_or_counted(shops, capsys):
    old, new, calls = shops
    edit(new / "class.yaml", "prefer: 5", "prefer: 6")
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0)
    assert short(out) == "changes 2 of 2 calls: points or counts alone in 2 by inducer-uses-the-limit: 2"
    edit(new / "class.yaml", "prefer: 6", "prefer: 5")
    edit(new / "height.yaml", "Thin air at", "The air is thin at")
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0)
    assert short(out) == "changes 1 of 2 calls: other cautions in 1 by high-up: 1"
    edit(new / "height.yaml", "The air is thin at", "Thin air at")
    edit(new / "height.yaml", "The air is thin up there.", "It is high up there.")
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0)
    assert short(out) == "changes 1 of 2 calls: other words, parts or steps in 1 by high-up: 1"


def test_in_short_what_nobody_recorded_and_which_rule_changes_nothing(shops, capsys):
    old, new, calls = shops
    edit(new / "height.yaml", "altitude > 5,000 ft", "altitude > 5,800 ft")
    edit(new / "class.yaml", "prefer: 5", "prefer: 9")
    only = calls / "sled-on-the-plain.yaml"
    _, out, _ = run(capsys, "compare", old, only, "--shop", new, "--near", 0)
    assert short(out).endswith("by inducer-uses-the-limit: 1 changes no call: high-up")
    edit(new / "class.yaml", "prefer: 9", "prefer: 5")
    _, out, _ = run(capsys, "compare", old, only, "--shop", new, "--near", 25)
    assert re.search(r"nearest unrecorded: sled-on-the-plain at altitude .* \(other cautions\)$", short(out))
    both = "altitude > 5,000 ft\n      - power goal > 700 hp\n      - displacement > 7 L"
    edit(new / "height.yaml", "altitude > 5,800 ft", both)
    edit(old / "height.yaml", "altitude > 5,000 ft", both.replace("5,000", "5,500"))
    _, out, _ = run(capsys, "compare", old, only, "--shop", new, "--near", 25)
    assert short(out).endswith("no unrecorded situation: no recorded call is one answer away from one (0 tried)")


@pytest.fixture
def towed(tmp_path):
    """(as it was, to be edited, folder of scripts): a rule reads what another one sets, in files of their own."""
    old = small_shop(tmp_path / "old", "class", "law")
    rule = HEIGHT.replace("high-up", "far-up").replace("5,000 ft", "9,000 ft")
    rule = rule.replace("      - altitude", "      - displacement > 9 L\n      - altitude")
    (old / "height.yaml").write_text(HEIGHT, "utf-8")
    (old / "far.yaml").write_text(rule, "utf-8")
    new = tmp_path / "new"
    shutil.copytree(old, new)
    for size in ("5.9", "6.7"):
        script(tmp_path / "calls" / f"sled-{size}.yaml", displacement=f"{size} litres", altitude="1,000 ft")
    script(tmp_path / "calls" / "sled-in-the-hills.yaml", altitude="6,500 ft")
    return old, new, tmp_path / "calls"


def test_each_edit_gets_its_nearest_situation_and_what_has_none_is_told(towed, capsys):
    """Three edits in three files: one that a recorded call shows, one that is an answer away, one that is two away."""
    old, new, calls = towed
    edit(new / "class.yaml", "prefer: 5", "prefer: 9")
    edit(new / "height.yaml", "altitude > 5,000 ft", "altitude > 5,800 ft")
    edit(new / "far.yaml", "altitude > 9,000 ft", "altitude > 9,500 ft")
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 30)
    said = short(out)
    found = re.search(r"nearest unrecorded by high-up: sled-\S+ at altitude ([\d,]+) ft instead of \S+ ft", said)
    assert found is not None
    assert 5_000 < int(found[1].replace(",", "")) <= 5_800
    assert "unrecorded, by high-up: sled-" in out
    assert re.search(r"no unrecorded situation by far-up[^:]*: no recorded call is one answer away", said)
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 1)
    assert re.search(r"no unrecorded situation by \S+.* among the 1 nearest tried; '--near 4' tries more$", short(out))


@pytest.mark.parametrize(
    ("was", "now", "told"),
    [
        ("      - altitude > 9,000 ft\n", "", "no longer altitude > 9,000 ft"),
        ("    then:", "      - road use is no\n    then:", "now also road use is no"),
        ("displacement > 9 L\n      - ", "any: [displacement > 9 L, ", "its conditions hang together otherwise"),
    ],
)
def test_an_edited_rule_is_told_with_what_was_and_is(towed, capsys, was, now, told):
    old, new, calls = towed
    edit(new / "far.yaml", was, now)
    if "any:" in now:
        edit(new / "far.yaml", "altitude > 9,000 ft\n", '"altitude > 9,000 ft"]\n')
    path = calls / "sled-5.9.yaml"
    _, out, _ = run(capsys, "try", "--answers", path, "--rules", new, "--against", old, "--difference")
    assert f"  rule changed: far-up: {told}\n" in out


def test_calls_that_change_alike_stand_together(shops, capsys):
    old, new, calls = shops
    edit(new / "class.yaml", "prefer: 5", "prefer: 9")
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0, "--points")
    hills, plain = (f"  {calls / name}.yaml:1: {name}" for name in ("sled-in-the-hills", "sled-on-the-plain"))
    assert f"\n{hills},\n{plain}: 2 lines differ, by inducer-uses-the-limit\n" in out


def test_the_grave_comes_first_and_of_very_many_the_first_twenty(shops, capsys):
    """A turbo, a grave caution and a slight one change; calls are variants, named with their line."""
    old, new, calls = shops
    for shop, severity in ((old, "care"), (new, "danger")):
        low = HEIGHT.replace("high-up", "low-down").replace("altitude > 5,000", "altitude < 500")
        (shop / "low.yaml").write_text(low.replace("care", severity).replace("Thin", "Thick"), "utf-8")
    edit(new / "height.yaml", "Thin air at", "The air is thin at")
    for path in calls.glob("*.yaml"):
        path.unlink()
    high = "".join(f"  - answers: [altitude: '{6000 + 10 * number} ft']\n" for number in range(23))
    path = script(calls / "sled.yaml", "variants:\n" + high + "  - answers: [altitude: 100 ft]\n", altitude="1,000 ft")
    first = path.read_text("utf-8").splitlines().index("variants:") + 2
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0)
    grave, slight = out.index("\nother grave cautions: 1 call\n"), out.index("\nother cautions: 23 calls\n")
    assert grave < slight
    named = re.findall(rf"(?m)^  {path}:(\d+): sled: altitude ([\d,.]+) ft", out)
    assert [int(line) for line, _ in named] == [first + 23, *range(first, first + 20)]
    assert named[0][1] == "100"
    assert "\n  and 3 more calls; '--all' shows them\n" in out
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0, "--all")
    assert len(re.findall(rf"(?m)^  {path}:\d+: ", out)) == 24
    edit(new / "class.yaml", "prefer: 5", "penalise: 60")
    _, out, _ = run(capsys, "compare", old, path, "--shop", new, "--near", 0, "--all")
    assert out.index("\nnew advice: ") < out.index("    - recommended: ") < out.index("+ caution: danger [low-down]")
    assert "    points and numbers of candidates: 2 lines differ\n" in out


def test_in_short_an_edit_of_the_catalogue_is_named(shops, capsys):
    old, new, calls = shops
    course = infer([Answer(*pair) for pair in ANSWERS.items()], load(old), agenda())
    best = course.weighed.turbo(course.best)
    turbos = (new / "catalogue" / "turbos.yaml").read_text(encoding="utf-8")
    dear = re.sub(rf"({best}\b.*?price: )\$\d+", r"\g<1>$9999", turbos, count=1, flags=re.DOTALL)
    (new / "catalogue" / "turbos.yaml").write_text(dear, "utf-8")
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0)
    assert "by the catalogue: " in short(out)


@pytest.fixture
def dearer(shops):
    """The shops, the turbo that the calls are advised $500 dearer in the new one, and what it costs in both."""
    old, new, calls = shops
    course = infer([Answer(*pair) for pair in ANSWERS.items()], load(old), agenda())
    best = course.weighed.candidates.combinations[course.best]
    turbos = (new / "catalogue" / "turbos.yaml").read_text(encoding="utf-8")
    found = re.search(rf"{best.turbo.code}\b.*?price: \$(\d+)", turbos, flags=re.DOTALL)
    assert found is not None
    now = f"{turbos[: found.start(1)]}{int(found[1]) + 500}{turbos[found.end(1) :]}"
    (new / "catalogue" / "turbos.yaml").write_text(now, "utf-8")
    return old, new, calls, best.turbo.price, best.price


def test_a_dearer_turbo_is_told_where_the_advice_stands(dearer, capsys):
    """In `try` and `compare`: what it costs with its housing and gate, and the whole order, $500 apart each."""
    old, new, calls, alone, fitted = dearer
    call = calls / "sled-on-the-plain.yaml"
    _, out, _ = run(capsys, "try", "--answers", call, "--rules", new, "--against", old, "--in-full")
    assert f"turbo price: ${fitted:,.0f} before, now ${fitted + 500:,.0f}" in out
    order = re.search(r"order total: \$([\d,]+) before, now \$([\d,]+)\n", out)
    assert order is not None
    before, after = (float(sum_.replace(",", "")) for sum_ in order.groups())
    assert after - before == 500
    total = re.search(r"total: (\$[\d,]*\d)", out.split("Otherwise than before")[0])
    assert total is not None
    assert total[1] == f"${order[2]}"  # as the written recommendation has it
    assert f": ${alone:,.0f} before, now ${alone + 500:,.0f}" in out.split("Otherwise than before")[1]
    edited = ("try", "--answers", call, "--rules", new, "--difference")
    _, alone_out, _ = run(capsys, *edited, "--against", old)
    assert alone_out.lstrip() == out[out.index("Otherwise than before") :]
    code, _, errors = run(capsys, *edited)
    assert (code, "--against" in errors) == (2, True)
    _, out, _ = run(capsys, "compare", old, call, "--shop", new, "--near", 0)
    assert f"turbo price: ${fitted:,.0f} before, now ${fitted + 500:,.0f}" in out
    assert short(out) == "changes 1 of 1 call: other prices in 1 by the catalogue: 1"


@pytest.mark.parametrize(
    ("price", "told"),
    [
        ("$100", r"new turbos ZZ-1: advised in 1 of 1 call with advice: sled-on-the-plain$"),
        ("$50,000", r"advised in none of 1 call with advice; nearest in sled-\S+: place \d+, \d+.\d points behind \S+"),
        (None, r"advised in none of 1 call with advice; all out in 1, most often by inducer-over-the-limit \(1\)$"),
    ],
)
def test_a_new_turbo_is_told_with_the_calls_that_are_advised_it_or_how_near_it_comes(shops, capsys, price, told):
    """The turbo that is advised, copied: for next to nothing, for far too much, and one over the class limit."""
    old, new, calls = shops
    course = infer([Answer(*pair) for pair in ANSWERS.items()], load(old), agenda())
    combinations = course.weighed.candidates.combinations
    best = combinations[course.best].turbo
    wheel = next(one.turbo for one in combinations if one.compressor.inducer > 0.067)
    code = best.code if price is not None else wheel.code
    turbos = new / "catalogue" / "turbos.yaml"
    line = next(line for line in turbos.read_text("utf-8").splitlines() if f"turbo: {code}," in line)
    line = line.replace(code, "ZZ-1")
    line = line if price is None else re.sub(r"price: \S+,", f"price: '{price}',", line)
    turbos.write_text(turbos.read_text("utf-8").rstrip() + f"\n{line}\n", "utf-8")
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0)
    assert re.search(told, short(out))


def test_a_git_revision_can_be_compared_with(shops, capsys):
    _, new, calls = shops
    nobody = ("-c", "user.name=a", "-c", "user.email=a@b")
    for arguments in (("init", "-q"), ("add", "-A"), (*nobody, "commit", "-qm", "x")):
        subprocess.run(["git", "-C", new, *arguments], check=True)
    edit(new / "class.yaml", "prefer: 5", "prefer: 9")
    code, out, _ = run(capsys, "compare", "HEAD", calls, "--shop", new, "--near", 0)
    assert code == 1
    assert "rule changed: inducer-uses-the-limit" in out


def test_a_copy_that_no_revision_holds_is_named_with_a_way_on(tmp_path, capsys):
    nobody = ("-c", "user.name=a", "-c", "user.email=a@b")
    for arguments in (("init", "-q"), (*nobody, "commit", "-q", "--allow-empty", "-m", "x")):
        subprocess.run(["git", "-C", tmp_path, *arguments], check=True)
    shutil.copytree(ROOT / "rules", copy := tmp_path / "my-shop")
    code, _, errors = run(capsys, "compare", "HEAD", ROOT / "transcripts_demo" / "daily.yaml", "--shop", copy)
    assert code == 2
    assert errors.startswith(f"HEAD: is no folder, and no git revision that holds {copy}; ")
    assert "the one that it was copied from" in errors


def test_the_check_tells_which_rules_are_gone_since_the_last_git_revision(shops, capsys):
    _, new, _ = shops
    rules = (new / "class.yaml").read_text(encoding="utf-8")
    gone = re.search(r"^  - rule: (\S+)\n(?:(?!  - rule:).*\n)*", rules, re.MULTILINE)
    edit(new / "class.yaml", gone[0], "")
    assert "is gone" not in run(capsys, "check", new)[1]  # nothing is kept yet
    edit(new / "class.yaml", rules.replace(gone[0], ""), rules)
    nobody = ("-c", "user.name=a", "-c", "user.email=a@b")
    for arguments in (("init", "-q"), ("add", "-A"), (*nobody, "commit", "-qm", "x")):
        subprocess.run(["git", "-C", new, *arguments], check=True)
    assert "is gone" not in run(capsys, "check", new)[1]
    edit(new / "class.yaml", gone[0], "")
    assert f"class.yaml: rule '{gone[1]}' is gone since the last git revision" in run(capsys, "check", new)[1]
    assert "compare HEAD tells which calls" in run(capsys, "check", new)[1]
    edit(new / "class.yaml", "prefer: 5", "prefer: five")
    first, *_, last = run(capsys, "check", new)[1].splitlines()
    told = f"class.yaml: rule '{gone[1]}' is gone since the last git revision; "
    assert first == told + "what is to mend here may come of that"
    assert "1 to mend" in last
    (new / "law.yaml").unlink()
    told = [line for line in run(capsys, "check", new)[1].splitlines() if " gone" in line]
    assert len(told) == MOST_GONE + 1
    assert told[-1] == "and 4 more rules are gone"


@pytest.mark.parametrize("other", ["no-such-revision", "--upload-pack=touch x"])
def test_what_is_neither_folder_nor_revision_is_refused(shops, capsys, other):
    _, new, calls = shops
    arguments = ("compare", "--shop", new, "--near", 0, "--", other, calls)
    code, _, errors = run(capsys, *arguments)
    assert code == 2
    assert len(errors.splitlines()) == 1
    assert "folder" in errors


def test_how_a_question_is_asked_changes_no_conclusion(shops, capsys):
    old, new, calls = shops
    facts = (new / "facts.yaml").read_text(encoding="utf-8")
    (new / "facts.yaml").write_text(re.sub(r"(?m)^(  ask: )", r"\1Now then. ", facts, count=3), encoding="utf-8")
    code, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0)
    assert code == 0
    assert out.count("fact changed: ") == 3
    assert "changes 0 of 2" in out


def test_logged_calls_are_compared_too(shops, tmp_path, capsys):
    old, new, calls = shops
    with Journal.start(tmp_path / "log") as journal:
        journal.append(entries_of([Answer(fact, words) for fact, words in ANSWERS.items()]))
    (tmp_path / "log" / "torn.call").write_bytes(b'{"form": 99, "call": "x", "started": "y"}\n')
    edit(new / "class.yaml", "prefer: 5", "prefer: 9")
    code, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--calls", tmp_path / "log", "--near", 0)
    assert code == 1
    assert "changes 3 of 3" in out
    assert "passed over: " in out


def test_calls_passed_over_without_a_match_come_out_the_same():
    """Oracle: both states run in full. Random small changes of the demo shop's rules, seed 5."""
    old, fires = load(ROOT / "rules"), agenda()
    recorded, _ = scripted_calls(sorted((ROOT / "transcripts_demo").glob("*.yaml"))[:4])
    chance = random.Random(5)
    every = [mutant for rule in old.rules for mutant in mutants(rule, old)]
    for mutant in chance.sample(every, 25):
        new = varied(old, mutant.rule, mutant.variant)
        pair = Pair(old, new, fires)
        for call in chance.sample(recorded, 4):
            course = infer(call.answers, old, fires)
            after = conclusion(infer(call.answers, new, fires), new)
            assert pair.change(call) == change(conclusion(course, old), after), mutant.name
            if touches(mutant, course):
                assert conclusion(rerun(call.answers, new, mutant.rule, course, fires), new) == after, mutant.name
            else:
                assert conclusion(course, old) == after, mutant.name


SHOP = load(ROOT / "rules")
MUTANTS = [mutant for rule in SHOP.rules for mutant in mutants(rule, SHOP)]
WEIGHING = [rule for rule in SHOP.rules if any(isinstance(action, Penalise) for action in rule.then)]
DEMO = scripted_calls(sorted((ROOT / "transcripts_demo").glob("*.yaml")))[0]


def repointed(knowledge: Knowledge, rule: Rule, more: float) -> Knowledge:
    """The knowledge with other points in a rule over candidates."""
    then = tuple(replace(a, points=a.points + more) if isinstance(a, Penalise) else a for a in rule.then)
    return varied(knowledge, rule, replace(rule, then=then))


def stocked(knowledge: Knowledge, what: str, code: str, **values: Any) -> Knowledge:
    """The knowledge with something changed of one ware."""
    wares = dict(getattr(knowledge.catalogue, what))
    wares[code] = wares[code].model_copy(update=values)
    catalogue = replace(knowledge.catalogue, **{what: wares})
    return replace(knowledge, catalogue=catalogue, digest=f"{knowledge.digest} {code} {values}")


@st.composite
def edited(draw: st.DrawFn) -> Knowledge:
    """The demo shop after one to three small edits: of conditions, of points, of prices, of what the match reads; a
    rule may be gone."""
    new = SHOP
    for kind in draw(st.lists(st.sampled_from(("rule", "gone", "points", "price", "ware")), min_size=1, max_size=3)):
        if kind == "rule":
            mutant = draw(st.sampled_from(MUTANTS))
            new = varied(new, mutant.rule, mutant.variant)
        elif kind == "gone":
            new = without(new, draw(st.sampled_from(SHOP.rules)))
        elif kind == "points":
            new = repointed(new, draw(st.sampled_from(WEIGHING)), draw(st.sampled_from((-20.0, -1.0, 1.0, 20.0))))
        elif kind == "price":
            what = draw(st.sampled_from(("turbos", "housings", "fittings")))
            wares = getattr(SHOP.catalogue, what)
            code = draw(st.sampled_from(sorted(wares)))
            more = draw(st.sampled_from((-100.0, 30.0, 1_500.0)))
            new = stocked(new, what, code, price=max(1.0, wares[code].price + more))
        else:
            code = draw(st.sampled_from(sorted(SHOP.catalogue.housings)))
            ratio = SHOP.catalogue.housings[code].housing_ratio
            new = stocked(new, "housings", code, housing_ratio=draw(st.sampled_from((0.8, 1.02, 1.3))) * ratio)
    return new


@settings(max_examples=12)
@given(edited(), st.lists(st.sampled_from(DEMO), min_size=2, max_size=4, unique_by=lambda call: call.answers))
def test_any_edit_comes_out_as_both_runs_in_full(new, calls):
    """Oracle: every call run alone from its answers, under both states."""
    fires = agenda()
    forget_matches()
    found = Pair(SHOP, new, fires).changes(calls)
    for call, one in zip(calls, found, strict=True):
        full = []
        for side in (SHOP, new):
            forget_matches()
            full.append(conclusion(infer(call.under(side), side, fires), side))
        assert one == change(*full), call.name


@pytest.mark.parametrize(
    ("what", "change_of", "matches_anew"),
    [
        ("turbos", lambda ware: {"price": ware.price + 900.0}, False),
        ("fittings", lambda ware: {"delivery": ware.delivery + 9}, False),
        ("housings", lambda ware: {"housing_ratio": 0.8 * ware.housing_ratio}, True),
    ],
)
def test_only_what_the_match_reads_of_a_ware_is_matched_anew(what, change_of, matches_anew):
    code, ware = next(iter(sorted(getattr(SHOP.catalogue, what).items())))
    assert (stock_of(SHOP) != stock_of(stocked(SHOP, what, code, **change_of(ware)))) == matches_anew


def test_catalogue_edits_are_named_and_matched_anew(shops):
    old, new, _ = shops
    text = (new / "catalogue" / "turbos.yaml").read_text(encoding="utf-8")
    price = re.search(r"price: (\$\d+)", text)
    assert price is not None
    (new / "catalogue" / "turbos.yaml").write_text(text.replace(price[1], "$9999", 1), "utf-8")
    found = edits(load(old), load(new))
    assert found.of_stock
    assert len(found.wares) == 1
    call = RecordedCall("x", "x", tuple(Answer(fact, words) for fact, words in ANSWERS.items()))
    assert isinstance(Pair(load(old), load(new), agenda()).change(call).lines(), list)


def test_a_call_goes_on_with_edited_rules_and_says_what_changed(shops):
    old, new, _ = shops
    answers = [Answer(fact, words) for fact, words in ANSWERS.items()]
    assert reload(answers, load(old), load(new), agenda()).lines() == ["Nothing was edited."]
    edit(new / "law.yaml", "severity: care", "severity: danger")
    answers = [Answer("emissions status", "controls fitted"), *(a for a in answers if a.fact != "emissions status")]
    found = reload(answers, load(old), load(new), agenda())
    assert any(line.startswith("+ caution: danger [controls-fitted-off-the-road]") for line in found.lines())
    assert re.match(
        r"rule changed: controls-fitted-off-the-road: caution \(care\): .* before, now caution \(danger\): ",
        found.lines()[0],
    )


HOLLOW = """rules:
  - rule: far-from-the-goal
    stage: advise
    when:
      - goal share < 200 %
    then:
      caution: "That goal is no sure thing."
      severity: danger
      recommend: "Take the goal in steps."
      say: "I'd go there in steps."
    because: Half a goal is none.
    basis: common practice, no source
    kept by: R. Aldous, 2026-11
"""


@pytest.mark.parametrize(("goal", "told"), [(None, False), ("1,900 hp", True)])
def test_what_nobody_is_told_counts_for_nothing(shops, tmp_path, capsys, goal, told):
    """A caution on what is advised, in a call in which nothing is: neither sheet nor desk holds it."""
    old, new, _ = shops
    (new / "goal.yaml").write_text(HOLLOW, "utf-8")
    key = ("must not", "must")[told]
    line = 'concludes: "caution, advice [far-from-the-goal]"'
    wanted = f"conclude:\n  {key}:\n    - caution: far-from-the-goal\n    - {line}\n"
    path = script(tmp_path / "one" / "sled.yaml", wanted, power_goal=goal)
    out = run(capsys, "try", "--answers", path, "--rules", new)[1]
    assert ("That goal is no sure thing." in out) == told
    out = run(capsys, "try", "--answers", path, "--rules", new, "--trace", "far-from-the-goal")[1]
    assert "far-from-the-goal (goal.yaml:" in out
    assert ("he is told nothing of it in this call" in out) != told
    out = run(capsys, "try", "--answers", path, "--rules", new, "--against", old, "--difference")[1]
    assert ("+ caution: danger [far-from-the-goal]" in out) == told
    assert ("This call comes out as before." in out) != told
    code, out, _ = run(capsys, "compare", old, path, "--shop", new, "--near", 0)
    assert code == int(told)
    assert f"changes {int(told)} of 1 call" in out
    assert run(capsys, "replay", path, "--shop", new)[0] == 0
    path.write_text(path.read_text("utf-8").replace(f"{key}:", f"{('must not', 'must')[not told]}:"), "utf-8")
    out = run(capsys, "replay", path, "--shop", new)[1]
    assert f"the rule far-from-the-goal {'warns' if told else 'does not warn'}" in out


def test_the_desk_takes_for_told_what_a_call_tells():
    """Oracle: what the consultation tells, in scripted calls with and without advice."""
    for call in random.Random(11).sample(DEMO, 12) + [one for one in DEMO if "complaint" in one.file][::16]:
        course, told = infer(call.answers, SHOP, agenda()), consult(call.answers, SHOP, agenda(), bands=False)
        kinds = {"caution": told.cautions, "advice": told.advice, "next step": told.next_steps, "says": told.say}
        lines = {(kind, line.rule) for kind, listed in kinds.items() for line in listed}
        assert {(line.kind, line.rule) for line in conclusion(course, SHOP) if line.kind in kinds} == lines, call.name
        parts = {kind for line in conclusion(course, SHOP) if line.kind == "part" for kind in [line.what]}
        assert bool(told.parts) or not parts, call.name


def test_try_shows_the_trace_and_saves_nothing(shops, capsys):
    old, new, calls = shops
    edit(new / "class.yaml", "prefer: 5", "prefer: 9")
    files = {path: path.read_bytes() for path in new.rglob("*") if path.is_file()}
    path = calls / "sled-on-the-plain.yaml"
    _, out, _ = run(capsys, "try", "--answers", path, "--rules", new)
    assert len(out.splitlines()) < 80
    assert "Trace" not in out
    assert re.search(r"\nRules that tell him something \(\d+\): ", out)
    assert "His choice" in out
    assert "What he told us" in run(capsys, "try", "--answers", path, "--rules", new, "--in-full")[1]
    _, out, _ = run(capsys, "try", "--answers", path, "--rules", new, "--trace", "high-up")
    assert re.fullmatch(
        r"Trace\n  high-up \(height.yaml:2:11\) did not fire\n      altitude > 5,000 ft: not so .*\n", out
    )
    code, out, _ = run(capsys, "try", "--answers", path, "--rules", new, "--against", old, "--trace")
    assert code == 0
    assert "Trace" in out
    assert "inducer-uses-the-limit (class.yaml:" in out
    assert re.search(r"so: 9 points for the candidate, for \d+ of \d+ candidates", out)
    assert re.search(r"gives 5 points to (\d+) candidates before, now gives 9 points to \1 candidates", out)
    assert files == {path: path.read_bytes() for path in new.rglob("*") if path.is_file()}
    edit(new / "class.yaml", "prefer: 9", "prefr: 9")
    code, _, errors = run(capsys, "try", "--answers", path, "--rules", new)
    assert code == 2
    assert "class.yaml:" in errors
