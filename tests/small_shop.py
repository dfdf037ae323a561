"""A small shop for the tests of the rules desk: the demo shop's vocabulary and catalogue, and few of its rules."""

import shutil
from pathlib import Path

import yaml

from advisor.cli import main

ROOT = Path(__file__).parent.parent

ANSWERS = {
    "call kind": "new turbo",
    "duties": "sled",
    "displacement": "6.7 litres",
    "power goal": "700 hp",
    "rpm limit": "4000",
    "class rule": "inducer limit",
    "inducer limit": "66 mm",
    "emissions status": "competition only",
    "road use": "no",
    "manifold foot": "T4",
}


RAMP = """    then:
      prefer: 0 to 5 as compressor inducer / inducer limit goes from 95 % to 97 %
"""
FLAT = """      - compressor inducer >= 0.96 * inducer limit
    then:
      prefer: 5
"""


def small_shop(folder: Path, *topics: str) -> Path:
    """Copy the demo shop with these rule files alone; facts that only the other rules set are left out. What a wheel at
    the limit of its class is given is one figure here and no slope, so that an edit of it is told in few words."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in ("catalogue", "maps"):
        shutil.copytree(ROOT / "rules" / name, folder / name)
    for topic in topics:
        shutil.copy(ROOT / "rules" / f"{topic}.yaml", folder)
    if "class" in topics:
        edit(folder / "class.yaml", RAMP, FLAT)
    facts = yaml.load((ROOT / "rules" / "facts.yaml").read_text(encoding="utf-8"), yaml.BaseLoader)["facts"]
    kept = [fact for fact in facts if fact.get("source") != "rule"]
    (folder / "facts.yaml").write_text(yaml.safe_dump({"facts": kept}, sort_keys=False, allow_unicode=True), "utf-8")
    return folder


def script(path: Path, conclude: str = "", **changes: str | None) -> Path:
    """A scripted call with the answers above, some changed (None: left out); underscores stand for spaces."""
    answers = ANSWERS | {name.replace("_", " "): words for name, words in changes.items()}
    lines = [f"call: {path.stem}", "answers:  # what he said"]
    lines += [f'  - {fact}: "{words}"' for fact, words in answers.items() if words is not None]
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(lines) + "\n" + conclude, "utf-8")
    return path


def edit(path: Path, old: str, new: str) -> None:
    """Replace a text that stands in the file once or more."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")


def run(capsys, *arguments: object) -> tuple[int, str, str]:
    """Run a command in this process; exit code, output and errors."""
    code = main([str(argument) for argument in arguments])
    out, errors = capsys.readouterr()
    assert "Traceback" not in out + errors
    return code, out, errors
