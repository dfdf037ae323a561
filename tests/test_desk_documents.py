"""Write-up, picture, schemas, and the guide "how to add a rule"."""

import json
import re
import shutil
from pathlib import Path
from xml.etree import ElementTree

import pytest
import yaml
from jsonschema import Draft202012Validator
from small_shop import ROOT, run

from advisor.knowledge import Place, load
from advisor.knowledge.conditions import facts_in
from advisor.knowledge.meaning import Reader

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def demo():
    return load(ROOT / "rules")


@pytest.mark.parametrize("ending", [".md", ".html"])
def test_the_write_up_holds_every_rule_with_its_reason(demo, tmp_path, capsys, ending):
    code, _, _ = run(capsys, "write-up", "--out", tmp_path / f"rules{ending}")
    text = (tmp_path / f"rules{ending}").read_text(encoding="utf-8")
    plain = re.sub(r"&#?\w+;|\\|['\"&<>]", "", text)
    assert code == 0
    for rule in demo.rules:
        for words in (rule.name, rule.because, rule.basis, rule.kept_by):
            assert re.sub(r"['\"&<>]", "", words) in plain, rule.name


def test_the_picture_shows_what_reads_and_feeds_a_rule(demo, tmp_path, capsys):
    rule = demo.rule("load-is-sustained")
    code, _, _ = run(capsys, "write-up", rule.name, "--out", tmp_path / "one.svg")
    top = ElementTree.parse(tmp_path / "one.svg").getroot()
    assert code == 0
    named = {title.text for title in top.iter(f"{SVG}title")}
    assert {"duties", "towing effort", "grade", "vehicle kind", "sustained load", rule.name} <= named
    width, height = float(top.get("width", 0)), float(top.get("height", 0))
    boxes = [
        tuple(float(box.get(side, 0)) for side in ("x", "y", "width", "height")) for box in top.iter(f"{SVG}rect")
    ]
    for at, (x, y, wide, tall) in enumerate(boxes):
        assert 0 <= x <= x + wide <= width
        assert 0 <= y <= y + tall <= height
        for other_x, other_y, other_wide, other_tall in boxes[at + 1 :]:
            assert x + wide <= other_x or other_x + other_wide <= x or y + tall <= other_y or other_y + other_tall <= y


@pytest.mark.parametrize(("rule", "out", "words"), [
    ("load-is-sustaned", "x.svg", "did you mean 'load-is-sustained'?"),
    (None, "x.svg", ".md or .html"),
    (None, "x.doc", ".md or .html"),
])  # fmt: skip
def test_what_cannot_be_written_up_is_refused(tmp_path, capsys, rule, out, words):
    code, _, errors = run(capsys, "write-up", *([rule] if rule else []), "--out", tmp_path / out)
    assert code == 2
    assert words in errors


@pytest.fixture(scope="module")
def validators(tmp_path_factory):
    from advisor.cli import main

    folder = tmp_path_factory.mktemp("schemas")
    assert main(["schemas", "--out", str(folder)]) == 0
    found = {}
    for path in folder.glob("*.json"):
        schema = json.loads(path.read_text(encoding="utf-8"))
        Draft202012Validator.check_schema(schema)
        found[path.name.removesuffix(".schema.json")] = Draft202012Validator(schema)
    return found


def test_the_line_that_the_command_tells_names_a_files_schema(tmp_path, capsys, monkeypatch):
    """Put first into each file it leads to the schema that the file fits, and the check takes it."""
    shutil.copytree(ROOT / "rules", tmp_path / "my-shop")
    (tmp_path / "calls").mkdir()
    shutil.copy(ROOT / "transcripts_demo" / "daily.yaml", tmp_path / "calls")
    monkeypatch.chdir(tmp_path)
    code, out, _ = run(capsys, "schemas", "--shop", "my-shop", "--out", "for/editor")
    told = dict(line.strip().split(": ", 1) for line in out.splitlines() if "$schema=" in line)
    files = {"facts.yaml": "my-shop/facts.yaml", "files of rules": "my-shop/towing.yaml"}
    files |= {"files of the catalogue": "my-shop/catalogue/turbos.yaml", "calls in a folder beside": "calls/daily.yaml"}
    assert (code, told.keys()) == (0, files.keys())
    for kind, name in files.items():
        file = tmp_path / name
        file.write_text(f"{told[kind].strip()}\n{file.read_text('utf-8')}", "utf-8")
        found = re.fullmatch(r"# yaml-language-server: \$schema=(\S+)", file.read_text("utf-8").splitlines()[0])
        schema = json.loads((file.parent / found[1]).read_text("utf-8"))
        assert not list(Draft202012Validator(schema).iter_errors(yaml.safe_load(file.read_text("utf-8"))))
    assert run(capsys, "check", "my-shop")[0] == 0
    assert run(capsys, "replay", "calls", "--shop", "my-shop")[0] == 0


def parts_of(schema):
    """All schemas within one, itself first, but for what says only which keys go together."""
    yield schema
    for key, inner in schema.items():
        for one in inner if isinstance(inner, list) else [inner]:
            if isinstance(one, dict) and key != "allOf":
                yield from parts_of(one)


def test_an_editor_explains_every_key_of_every_file(validators):
    told = {name: [0, 0] for name in validators}
    for name, validator in validators.items():
        for part in parts_of(validator.schema):
            for key, value in part.get("properties", {}).items():
                assert value.get("description"), (name, key)
                told[name][0] += 1
            for option in part.get("anyOf", []):
                told[name][1] += "const" in option and len(option["description"]) > 3
    assert all(keys > 5 for keys, _ in told.values())
    assert all(told[name][1] > 100 for name in ("facts", "rules", "scripts"))


def test_an_editor_offers_conditions_on_every_fact_and_choice_that_the_check_reads(validators):
    knowledge = load(ROOT / "rules")
    offered = {}
    for part in validators["rules"].schema["$defs"]["condition"]["anyOf"]:
        for condition in part.get("enum", [part["const"]] if "const" in part else []):
            offered[condition] = part["description"]
    faults = []
    read = [Reader(knowledge.vocabulary, faults).condition(text, lambda at: Place("a", 1, 1)) for text in offered]
    assert faults == []
    named = {name for condition in read for name in facts_in(condition)}
    assert named == set(knowledge.vocabulary)
    for name, fact in knowledge.vocabulary.items():
        for choice in fact.choices:
            verb = "include" if fact.kind == "several" else "is"
            assert offered[f"{name} {verb} {choice.name}"] == (choice.means or fact.why)
    assert "trailer weight is not known" in offered
    assert any(text.startswith("trailer weight > ") for text in offered)
    assert "road use is no" in offered
    assert validators["rules"].is_valid({"rules": [{**RULE, "when": ["trailer weight > 0.9 * tow rating"]}]})


RULE = {"rule": "a", "stage": "advise", "when": [], "then": {"say": "x"}, "because": "y", "basis": "z"}


@pytest.mark.parametrize("inside", ["", "in/a/folder"])
def test_schemas_do_not_go_into_a_file(tmp_path, capsys, inside):
    file = tmp_path / "README.md"
    file.write_text("Read me.", "utf-8")
    code, _, errors = run(capsys, "schemas", "--out", file / inside)
    assert (code, errors) == (2, f"{file}: is a file, so nothing can be put into it; name a folder\n")
    assert file.read_text("utf-8") == "Read me."


def test_a_write_up_does_not_go_into_a_folder(tmp_path, capsys):
    (tmp_path / "rules.md").mkdir()
    code, _, errors = run(capsys, "write-up", "--out", tmp_path / "rules.md")
    assert (code, errors) == (2, f"{tmp_path / 'rules.md'}: is a folder; name a file\n")


@pytest.mark.parametrize("ending", ["md", "html", "svg"])
def test_a_write_up_takes_the_place_of_itself_alone(tmp_path, capsys, ending):
    file, held = tmp_path / f"one.{ending}", "# How this shop works\n\nWith care.\n"
    file.write_text(held, "utf-8")
    code, _, errors = run(capsys, "write-up", "rotor-can-burst", "--out", file)
    assert (code, file.read_text("utf-8")) == (2, held)
    assert errors == f"{file}: holds something else than this write-up; name another file, or delete it first\n"
    file.unlink()
    assert [run(capsys, "write-up", "rotor-can-burst", "--out", file)[0] for _ in range(2)] == [0, 0]


def kind(path):
    if path.parent.name == "transcripts_demo":
        return "scripts"
    if path.parent.name == "catalogue":
        return "catalogue"
    return "facts" if path.name == "facts.yaml" or path.parent.name == "facts" else "rules"


FOLDERS = ("rules", "rules/catalogue", "transcripts_demo")
SHIPPED = [path for folder in FOLDERS for path in sorted((ROOT / folder).glob("*.yaml"))]


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_every_shipped_file_fits_its_schema(validators, path):
    """Read as an editor reads it (YAML's own types)."""
    data = yaml.safe_load(path.read_text(encoding="utf-8"))
    assert [error.message for error in validators[kind(path)].iter_errors(data)] == []


# Faults of form; what only the meaning shows (units, names in conditions) is for `advisor check`.
OF_FORM = (
    "facts/no-facts-key", "facts/known-above-one", "facts/unknown-kind", "facts/unknown-quantity", "facts/no-topic",
    "facts/unknown-key-in-choice", "facts/facts-as-text", "rules/no-because", "rules/no-basis", "rules/no-say",
    "rules/no-when", "rules/no-stage", "rules/unknown-stage", "rules/unknown-severity", "rules/unknown-key",
    "rules/unknown-key-in-then", "rules/caution-without-severity", "rules/severity-without-caution",
    "rules/penalise-too-much", "rules/rule-out-something-else", "rules/when-as-text", "rules/then-as-text",
    "rules/empty-group", "rules/unknown-group", "rules/wrong-top-key", "rules/rule-as-text", "rules/ask-as-text",
)  # fmt: skip


@pytest.mark.parametrize("name", OF_FORM)
def test_files_of_wrong_form_do_not_fit(validators, name):
    path = ROOT / "tests" / "broken_rules" / f"{name}.yaml"
    data = yaml.safe_load(path.read_text(encoding="utf-8"))
    assert list(validators[kind(path)].iter_errors(data)), name


@pytest.mark.parametrize(("sort", "data"), [
    ("scripts", {"answers": [{"displacment": "5.9"}]}),
    ("scripts", {"answers": [], "conclude": {"verdict": "sold"}}),
    ("scripts", {"call": "x"}),
    ("catalogue", {"housings": [{"housing": "X"}]}),
    ("catalogue", {"wings": []}),
    ("rules", {"rules": [{"rule": "x", "stage": "judge", "when": ["a"], "because": "b", "basis": "c",
                          "then": {"say": "d", "add part": ["no such kind"]}}]}),
])  # fmt: skip
def test_other_wrong_files_do_not_fit(validators, sort, data):
    assert list(validators[sort].iter_errors(data))


def guide() -> list[tuple[str, str, str]]:
    """(language, heading of the block, content) of each block in the guide, in order."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = text.split("## How to add a rule\n")[1].split("\n## ")[0]
    return re.findall(r"```(\w+) ?([^\n]*)\n(.*?)```", section, re.DOTALL)


def test_the_guide_to_adding_a_rule_works_step_by_step(tmp_path, monkeypatch, capsys):
    """Blocks named after a file are written (rule files: added to), `advisor` lines are run with the exit code
    that stands behind them, "says" gives words that must be in the output."""
    for name in ("rules", "my-shop"):
        shutil.copytree(ROOT / "rules", tmp_path / name)
    (tmp_path / "calls").mkdir()
    shutil.copy(ROOT / "transcripts_demo" / "tow-only.yaml", tmp_path / "calls")
    monkeypatch.chdir(tmp_path)
    ran = 0
    for language, name, content in guide():
        if language == "yaml":
            with Path(name).open("a", encoding="utf-8") as file:
                file.write(content)
            continue
        for line in content.splitlines():
            command, _, wanted = line.partition("  # ")
            code, out, errors = run(capsys, *command.removeprefix("advisor ").split())
            exit_code, _, words = wanted.partition(", says ")
            assert code == int(exit_code or 0), f"{line}: {out}{errors}"
            assert words in out
            ran += 1
    assert ran >= 6
