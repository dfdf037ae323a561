"""What was edited, as it is told: renamed, new, gone or changed; calls are compared under the new name."""

import pytest
from small_shop import edit, run, script, small_shop

POINTS = "5 points for the candidate before, now 9 points for the candidate"
RENAMED = "fact renamed: 'class rule' is 'rule book' now"


@pytest.fixture
def shops(tmp_path):
    """The shop as it was, the same with a fact called otherwise in its vocabulary and rules, and a folder of calls."""
    old, new = (small_shop(tmp_path / name, "class", "law") for name in ("old", "new"))
    for path in new.glob("*.yaml"):
        path.write_text(path.read_text("utf-8").replace("class rule", "rule book"), "utf-8")
    script(tmp_path / "calls" / "sled.yaml")
    return old, new, tmp_path / "calls"


def test_a_renamed_fact_changes_no_call(shops, capsys):
    old, new, calls = shops
    code, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0)
    lines = out.splitlines()
    assert (lines[0], lines[-1]) == (RENAMED, "changes 0 of 1 call")
    assert not [line for line in lines if line.startswith(("rule", "new", "catalogue"))]
    assert code == 0
    _, out, _ = run(capsys, "try", "--answers", calls / "sled.yaml", "--rules", new, "--against", old, "--difference")
    assert out.splitlines()[1:3] == ["Otherwise than before", f"  {RENAMED}"]
    assert out.endswith("  This call comes out as before.\n")


def test_what_changes_beside_the_name_is_told(shops, capsys):
    """One rule's points, under the new name; the rules that were only renamed are left out."""
    old, new, calls = shops
    edit(new / "class.yaml", "prefer: 5", "prefer: 9")
    code, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0, "--points")
    assert code == 1
    assert out.splitlines()[:2] == [f"rule changed: inducer-uses-the-limit: {POINTS}", RENAMED]
    assert "+ gives 9 points" in out


def test_a_renamed_choice_is_taken_from_who_named_it(shops, capsys):
    old, new, calls = shops
    for path in new.glob("*.yaml"):
        path.write_text(path.read_text("utf-8").replace("inducer limit", "inlet bore"), "utf-8")
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0)
    assert "choice renamed: 'inducer limit' of 'rule book' is 'inlet bore' now" in out.splitlines()
    assert "fact renamed: 'inducer limit' is 'inlet bore' now" in out.splitlines()
    assert "new advice" not in out


def test_another_fact_in_the_place_of_one_is_no_renamed_one(shops, capsys):
    old, new, calls = shops
    text = (new / "facts.yaml").read_text("utf-8")
    start = text.index("fact: rule book")
    asked = text.index("  ask: ", start)
    why = text.index("  why: ", start)
    end = {at: text.index("\n", at) for at in (asked, why)}
    for at in sorted((asked, why), reverse=True):
        text = f"{text[: at + 7]}Something else entirely?{text[end[at] :]}"
    (new / "facts.yaml").write_text(text, "utf-8")
    _, out, _ = run(capsys, "compare", old, calls, "--shop", new, "--near", 0, "--brief")
    assert "fact renamed" not in out


def test_what_is_new_or_gone_of_questions_and_catalogue_is_told_as_such(tmp_path, capsys):
    old, new = (small_shop(tmp_path / name, "class") for name in ("old", "new"))
    calls = script(tmp_path / "plain.yaml")
    with (new / "facts.yaml").open("a", encoding="utf-8") as file:
        file.write("- {fact: winter use, topic: place, kind: yes/no, ask: Snow?, listen for: snow, why: oil}\n")
    wheels, turbos = (new / "catalogue" / f"{name}.yaml" for name in ("compressor-wheels", "turbos"))
    entry = next(line for line in wheels.read_text("utf-8").splitlines() if "wheel: QC62," in line)
    wheels.write_text(wheels.read_text("utf-8").rstrip() + "\n" + entry.replace("QC62", "QC62N") + "\n", "utf-8")
    kept = [line for line in turbos.read_text("utf-8").splitlines() if "MR-102110," not in line]
    turbos.write_text("\n".join(kept) + "\n", "utf-8")
    edit(turbos, "price: $985", "price: $1005")
    _, out, err = run(capsys, "compare", old, calls, "--shop", new, "--near", 0)
    assert err == ""
    assert "new fact: winter use\n" in out
    assert "new in the catalogue: compressor wheels QC62N\n" in out
    assert "gone from the catalogue: turbos MR-102110\n" in out
    assert "catalogue changed: turbos TN-5156: $985 before, now $1,005\n" in out
    assert "fact changed" not in out
    _, out, _ = run(capsys, "compare", new, calls, "--shop", old, "--near", 0)
    assert "fact gone: winter use\n" in out
