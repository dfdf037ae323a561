"""The commands as a shop runs them: a process, its output, its exit code, files on disk."""

import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "transcripts_demo"
TOW = DEMO / "tow-only.yaml"


def advisor(*arguments, cwd=ROOT, stdin="", env=None, encoding=None, program=("-m", "advisor")):
    """Run the program as installed for this Python; (exit code, output, errors)."""
    done = subprocess.run(
        [sys.executable, *map(str, (*program, *arguments))],
        cwd=cwd,
        input=stdin,
        capture_output=True,
        text=True,
        encoding=encoding,
        timeout=120,
        env={**os.environ, **(env or {})},
    )
    assert "Traceback" not in done.stderr
    assert "Traceback" not in done.stdout
    return done.returncode, done.stdout, done.stderr


def script(tmp_path, text, name="caller.yaml"):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_version_says_which_engine_fires():
    code, out, _ = advisor("--version")
    assert code == 0
    assert "rules fired by" in out


def test_a_call_from_a_file_ends_in_a_recommendation():
    code, out, _ = advisor("call", "--answers", TOW)
    assert code == 0
    for heading in ("Recommendation", "Cautions", "Parts", "What this rests on", "Next step"):
        assert heading in out


def test_json_holds_what_the_dialogue_shows():
    code, out, _ = advisor("call", "--answers", TOW, "--json")
    data = json.loads(out)
    assert code == 0
    assert data["verdict"] == "recommended"
    assert data["recommended"]["code"] in {kept["code"] for kept in data["candidates"]["kept"]}
    assert len(data["candidates"]["kept"]) + len(data["candidates"]["ruled out"]) >= 400
    for out_ in data["candidates"]["ruled out"]:
        assert out_["by"]
    for figure in data["figures"] + data["recommended"]["figures"]:
        assert figure["basis"] in ("given", "assumed", "computed")
        assert figure["basis"] != "assumed" or figure["assumption"]
        assert figure["low"] <= figure["high"]
    for firing in data["trace"]:
        assert firing["because"]
        assert firing["basis"]
        for fact in firing["facts"].values():
            assert fact["origin"]["kind"]
        if firing["candidates"] is None:
            assert all(test["verdict"] in ("true", "false", "not yet known") for test in firing["conditions"])
    assert {test["verdict"] for firing in data["trace"] for test in firing["conditions"]} > {"true", "by candidate"}
    assert data["requested"] is not None
    assert data["parts"]
    assert data["next steps"]


def test_where_nothing_is_small_enough_no_turbo_is_offered():
    """A two litre van among wheels for engines three times as large (common practice, no source)."""
    van = DEMO / "small-van.yaml"
    code, out, _ = advisor("call", "--answers", van, "--json")
    data = json.loads(out)
    assert code == 1
    assert data["verdict"] == "nothing fits"
    assert "no turbo small enough" in data["verdict words"]
    assert data["recommended"] is data["two stage"] is None
    assert data["alternatives"] == data["parts"] == []
    _, told, _ = advisor("call", "--answers", van)
    assert "Recommended" not in told
    assert "[recommended]" not in told
    assert "two turbos" not in told
    assert "Parts\n" not in told


def test_json_is_documented():
    """Each key of the JSON stands in DEVELOPERS.md, "The JSON of a call"."""
    _, out, _ = advisor("call", "--answers", TOW, "--json")
    document = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = document.split("## The JSON of a call")[1].split("\n## ")[0]
    for key in json.loads(out):
        assert f"`{key}`" in section


def test_both_engines_and_two_processes_print_the_same():
    first = advisor("call", "--answers", TOW, "--json", "--fire", "reference", env={"PYTHONHASHSEED": "1"})
    other = advisor("call", "--answers", TOW, "--json", env={"PYTHONHASHSEED": "77", "LC_ALL": "C"})
    one, two = json.loads(first[1]), json.loads(other[1])
    one.pop("fired by")
    two.pop("fired by")
    assert one == two


def test_sheets_are_written(tmp_path):
    for name in ("sheet.html", "sheet.txt"):
        code, _, _ = advisor("call", "--answers", TOW, "--sheet", tmp_path / name)
        assert code == 0
        assert "Next step" in (tmp_path / name).read_text(encoding="utf-8")


def test_too_little_known_falls_short_with_exit_code_1(tmp_path):
    code, out, _ = advisor("call", "--answers", script(tmp_path, "answers:\n  - request: a 64\n"))
    assert code == 1
    assert "displacement" in out


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("answers:\n  - displacment: 5.9 litres\n", ":2:5:", "did you mean 'displacement'?"),
        ("answers:\n  - displacement: 5.9 litres\n  - displacement:\n      a: b\n", ":4:7:", "words"),
        ("answers: 5\n", ":1:10:", "list"),
        ("answer:\n  - request: a 64\n", ":1:1:", "answers"),
        ("answers:\n\t- request: a 64\n", ":2:1:", "tab"),
        ("answers:\n  - request: &a x\n  - vehicle kind: *a\n", ":2:14:", "'&'"),
        ("answers:\n  - request: !!python/object/apply:os.system ['touch owned']\n", ":2:14:", "'!'"),
        (b"answers:\n  - request: \xff\xfe\n", ":2:14:", "UTF-8"),
        ("answers:\n  - air flow needed: 40 lb/min\n", ":2:5:", "not asked"),
        ("answers:\n  - request: a\nconclude:\n  must:\n    - fired: no-such-rule\n", ":5:14:", "no rule"),
        ("answers:\n  - request: a\nconclude:\n  must:\n    - best: compressor inducer << 3\n", ":5:", ""),
        ("answers:\n  - request: a\nconclude:\n  figures:\n    air flow needed: lots\n", ":5:22:", "range"),
    ],
)
def test_a_faulty_script_is_refused_with_its_place(tmp_path, text, place, words):
    path = script(tmp_path, text)
    for command in (("call", "--answers", path), ("replay", path)):
        code, out, errors = advisor(*command, cwd=tmp_path)
        said = out + errors
        assert code == 2
        assert f"{path}{place}" in said
        assert words in said
    assert not (tmp_path / "owned").exists()


def test_an_empty_script_is_refused_with_a_word(tmp_path):
    path = script(tmp_path, "")
    for command in (("call", "--answers", path), ("replay", path)):
        code, out, errors = advisor(*command)
        assert code == 2
        assert f"{path}:1:1: the file is empty" in out + errors


def test_an_implausible_figure_is_doubted_aloud(tmp_path):
    code, _, errors = advisor("call", "--answers", script(tmp_path, "answers:\n  - present boost: '3500'\n"))
    assert code == 1
    assert "present boost: " in errors
    assert "35 psi" in errors


def test_a_broken_map_is_refused_with_its_place(tmp_path):
    shop = tmp_path / "shop"
    shutil.copytree(ROOT / "rules", shop)
    chart = shop / "maps" / "qc66.csv"
    chart.write_text(chart.read_text(encoding="utf-8").replace(",", ";"), encoding="utf-8")
    for command in (
        ("check", shop),
        ("call", "--answers", TOW, "--shop", shop),
        ("call", "--shop", shop, "--calls", tmp_path / "calls"),
        ("replay", "--processes", "2", "--shop", shop),
    ):
        code, out, errors = advisor(*command)
        assert code == 2
        assert f"{shop}/maps/qc66.csv:" in out + errors


def test_hostile_files_are_refused_quickly(tmp_path):
    pairs = zip("abcdefgh", "bcdefghi", strict=True)
    bomb = "a: &a [x]\n" + "".join(f"{c}: &{c} [*{p}, *{p}, *{p}, *{p}]\n" for p, c in pairs)
    huge = "answers:\n" + "  - request: aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa\n" * 250_000
    deep = "answers: " + "[" * 5_000
    for text, words in ((bomb, "'&'"), (huge, "1 MiB"), (deep, "")):
        code, _, errors = advisor("call", "--answers", script(tmp_path, text))
        assert code == 2
        assert words in errors
        assert len(errors) < 20_000


def test_absurd_answers_are_said_and_not_swallowed(tmp_path):
    for words in ("9**9**9 hp", "1e400 hp", "nan", "2,4 bar"):
        code, _, errors = advisor("call", "--answers", script(tmp_path, f"answers:\n  - power goal: '{words}'\n"))
        assert code == 2
        assert "power goal" in errors


def test_escape_sequences_in_what_the_caller_says_never_reach_the_terminal(tmp_path):
    text = "answers:\n  - request: \"a 64 [2J [bold]\"\n  - today's trouble: \"\\u202egnirps\"\n"
    code, out, errors = advisor("call", "--answers", script(tmp_path, text))
    assert code in (1, 2)
    assert "\x1b" not in out + errors
    assert "\u202e" not in out + errors


def test_missing_files_and_folders(tmp_path):
    for arguments in (
        ("call", "--answers", tmp_path / "none.yaml"),
        ("replay", tmp_path / "none.yaml"),
        ("check", tmp_path / "none"),
        ("call", "--answers", TOW, "--shop", tmp_path / "none"),
        ("call", "--json"),
        ("call", "--answers", TOW, "--sheet", tmp_path / "x.doc"),
        ("call", "--resume", "nobody", "--calls", tmp_path),
    ):
        code, out, errors = advisor(*arguments)
        assert code == 2, arguments
        assert out + errors


BROKEN_RULE = """
  - rule: broken
    stage: demand
    when:
      - displacment > 5 L
    then:
      say: Never said.
    because: A test.
    basis: a test
    kept by: nobody, 2026-11
"""


def test_a_fault_in_the_shop_is_refused_by_every_command(tmp_path):
    shop = tmp_path / "shop"
    shutil.copytree(ROOT / "rules", shop)
    rules = shop / "towing.yaml"
    rules.write_text(rules.read_text(encoding="utf-8").rstrip() + BROKEN_RULE, encoding="utf-8")
    lines = rules.read_text(encoding="utf-8").splitlines()
    line = lines.index("      - displacment > 5 L") + 1
    code, out, _ = advisor("check", shop)
    assert code == 2
    assert f"{shop}/towing.yaml:{line}:9: " in out
    assert "did you mean 'displacement'?" in out
    for command in (("call", "--answers", TOW), ("replay", TOW)):
        code, _, errors = advisor(*command, "--shop", shop)
        assert code == 2
        assert "did you mean 'displacement'?" in errors


def test_the_shipped_shop_is_sound():
    code, out, _ = advisor("check")
    assert code == 0, out


def test_a_check_that_stays_tells_what_every_save_did(tmp_path):
    shop = tmp_path / "shop"
    shutil.copytree(ROOT / "rules", shop)
    towing = shop / "towing.yaml"
    sound = towing.read_text(encoding="utf-8")
    process = subprocess.Popen(
        [sys.executable, "-m", "advisor", "check", str(shop), "--each-save"],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # what runs beside a shell ignores it
    )  # fmt: skip
    assert process.stdout is not None

    def told():
        lines = []
        while not lines or not lines[-1].startswith(str(shop) + ": "):
            line = process.stdout.readline()
            assert line, lines
            lines.append(line.rstrip("\n"))
        return [line.replace(str(shop), "shop") for line in lines if line]

    try:
        assert told() == ["shop: 0 to mend, 0 to note"]
        towing.write_text(sound.replace("grade >= 5 %", "grad >= 5 %", 1), encoding="utf-8")
        first, *_, last = told()
        line = next(number for number, text in enumerate(sound.split("\n"), 1) if "grade >= 5 %" in text)
        assert first.startswith(f"shop/towing.yaml:{line}:")
        assert "'grad'" in first
        assert last == "shop: 1 to mend, 0 to note"
        towing.unlink()
        assert told()[-1] != "shop: 0 to mend, 0 to note"
        towing.write_text(sound, encoding="utf-8")
        assert told() == ["shop: 0 to mend, 0 to note"]
    finally:
        process.send_signal(signal.SIGINT)
        try:
            rest, _ = process.communicate(timeout=60)
        finally:
            process.kill()
    assert "Traceback" not in rest
    assert process.returncode == 130


def test_replay_says_what_differs_in_a_line(tmp_path):
    code, out, _ = advisor("replay")
    assert code == 0, out
    changed = TOW.read_text(encoding="utf-8").replace("verdict: recommended", "verdict: nothing fits")
    path = script(tmp_path, changed)
    code, out, _ = advisor("replay", path)
    assert code == 1
    assert "the verdict is 'recommended', not 'nothing fits'" in out


def test_replay_on_one_process_and_on_two_says_the_same():
    some = [ROOT / "transcripts_demo" / f"{name}.yaml" for name in ("complaint-surge", "sled-and-tow", "tight-budget")]
    one = advisor("replay", "--processes", "1", *some)
    two = advisor("replay", "--processes", "2", *some)
    assert one == two
    assert "0 differ" in one[1]


def test_a_piped_call_takes_a_line_for_each_question_and_concludes(tmp_path):
    code, out, _ = advisor("call", "--calls", tmp_path, stdin="new turbo\nmy neighbour runs a 64\n")
    assert code == 1
    assert "neighbour runs a 64" in out
    assert "Not enough is known" in out


def test_answers_that_are_refused_or_doubted_are_told_where_they_stand(tmp_path):
    text = 'call: odd\nanswers:\n  - duties: towing\n  - altitude: "2,4"\n  - transmission: banana\n'
    path = script(tmp_path, text + 'conclude: {verdict: not enough known}\n')
    code, _, errors = advisor("call", "--answers", path)
    assert code == 2
    assert f"{path}:4:15: altitude: " in errors
    assert f"{path}:5:19: transmission: " in errors
    code, out, _ = advisor("replay", path)
    assert code == 1
    assert f"{path}:4:15: " in out
    doubted = script(tmp_path, text.replace("2,4", "6,200 ft").replace("transmission: banana", 'present boost: "3500"'))
    code, _, errors = advisor("call", "--answers", doubted)
    assert f"{doubted}:5:20: present boost: That would be 3,500 psi; did you mean 35 psi?" in errors
    code, out, _ = advisor("replay", doubted)
    assert code == 0
    assert "is odd" in out
    assert f"{doubted}:5:20: present boost: " not in out
    code, out, _ = advisor("replay", "--doubts", doubted)
    assert code == 0
    assert f"{doubted}:5:20: present boost: " in out


def test_a_live_call_that_is_left_is_kept_and_one_that_falls_short_says_so(tmp_path):
    code, out, _ = advisor("call", "--calls", tmp_path, stdin="new turbo\nquit\n")
    assert code == 0
    again = " ".join(out.split()).split("Go on with: advisor ")[1].split()
    assert again[:2] == ["call", "--resume"]
    assert again[3:5] == ["--calls", str(tmp_path)]
    code, out, _ = advisor(*again[:5], stdin="quit\n")
    assert code == 0
    assert "Not enough" not in out
    code, out, _ = advisor("call", "--calls", tmp_path, stdin="new turbo\nenough\nyes\n\n\n\n")
    assert code == 1
    assert "Not enough is known" in out


def test_a_sheet_goes_where_the_path_says(tmp_path):
    there = tmp_path / "sheets" / "x.html"
    wanted = [f"sheet {there}", f"sheet {tmp_path / 'y.txt'}", f"sheet {tmp_path / 'z.pdf'}", f"save {tmp_path / 'c'}"]
    lines = "\n".join(["new turbo", *wanted, "quit"]) + "\n"
    _, out, _ = advisor("call", "--calls", tmp_path / "calls", stdin=lines, cwd=tmp_path)
    assert "<html" in there.read_text(encoding="utf-8")
    assert "Recommendation" in (tmp_path / "y.txt").read_text(encoding="utf-8")
    assert "written as .html or .txt" in " ".join(out.split())
    assert (tmp_path / "c.yaml").read_text(encoding="utf-8").startswith("call: ")


def test_an_objection_gets_its_words_at_once(tmp_path):
    answers = ["change duties = towing", "change displacement = 6.7", "change power goal = 500", "enough", "yes"]
    lines = "\n".join(["new turbo", *answers, "change objection = price", "quit"]) + "\n"
    _, out, _ = advisor("call", "--calls", tmp_path, stdin=lines)
    told = " ".join(out.split("= objection: price")[1].split())
    assert told.startswith("Say: I understand. There is one among your choices that costs less")


@pytest.mark.parametrize("encoding", ["cp1252", "cp437", "ascii"])
def test_a_console_that_lacks_some_characters_is_no_hindrance(encoding):
    environment = {"PYTHONIOENCODING": encoding}
    code, out, _ = advisor("call", "--answers", TOW, env=environment, encoding=encoding)
    assert code == 0
    assert "Recommendation" in out
    code, out, _ = advisor("call", "--answers", TOW, "--json", env=environment, encoding=encoding)
    assert code == 0
    assert any("\u00b0F" in figure["text"] for figure in json.loads(out)["figures"])


def test_a_call_where_there_is_no_posix_is_taken_left_and_gone_on_with(tmp_path):
    there = {"program": [ROOT / "tests" / "without_posix.py"], "env": {"PYTHONPATH": str(ROOT)}}
    code, out, _ = advisor("call", "--calls", tmp_path, stdin="new turbo\na 64\nquit\n", **there)
    assert code == 0
    assert "= request: a 64" in out
    code, out, _ = advisor("call", "--calls", tmp_path, "--resume", "last", stdin="a friend\nquit\n", **there)
    assert code == 0
    assert "= request reason: friend runs it" in out
    (journal,) = tmp_path.glob("*.call")
    assert journal.read_text(encoding="utf-8").count('"answer"') == 3


def test_who_goes_on_with_a_call_is_told_the_shop_it_was_begun_in_and_that_its_rules_were_edited_since(tmp_path):
    shop = tmp_path / "shop"
    shutil.copytree(ROOT / "rules", shop)
    code, out, _ = advisor("call", "--shop", shop, "--calls", tmp_path / "calls", stdin="new turbo\na 64\nquit\n")
    assert code == 0
    again = " ".join(out.split()).split("Go on with: advisor ")[1].split()[:7]
    assert again[3:] == ["--shop", str(shop), "--calls", str(tmp_path / "calls")]
    _, same, _ = advisor(*again, stdin="quit\n")
    assert "Going on with call" in same
    assert "others than when it was begun" not in same
    law = (shop / "law.yaml").read_text(encoding="utf-8")
    (shop / "law.yaml").write_text(law.replace("severity: care", "severity: note", 1), encoding="utf-8")
    _, edited, _ = advisor(*again, stdin="quit\n")
    _, elsewhere, _ = advisor(*again[:3], *again[5:], stdin="quit\n")
    for out in (edited, elsewhere):
        assert ("others than when it was begun" in " ".join(out.split())) is (out is edited)
