"""Lines that can't be read as YAML: told once, and taken for what they were plainly meant to be, so that the rest of
their entry is read; an entry of which that isn't plain is left out and no other."""

from pathlib import Path

import pytest

from advisor.knowledge.piecewise import read_entries

TEXT = """\
rules:
  - rule: one
    when:
      - tune is hot
    then:
      say: Leave it.
    because: It is so when it is so.
  - rule: two
    when: [tune is hot]
    then: {say: x, ask: [tune]}
    because: y
"""
ONE = {
    "rule": "one", "when": ["tune is hot"], "then": {"say": "Leave it."}, "because": "It is so when it is so.",
}  # fmt: skip
TWO = {"rule": "two", "when": ["tune is hot"], "then": {"say": "x", "ask": ["tune"]}, "because": "y"}
QUOTES = "put the whole text in quotes"
OPENED = "7:14: a quote is opened and never closed; "
CLOSE = "close it, and double any ' inside a text in single quotes"
NOT_A_LINE = "a line that is neither 'key: value' nor part of a text; "
NO_COLON = f"{NOT_A_LINE}add ': ' after the key, or {QUOTES}"
INSIDE = f"a ': ' inside a text; {QUOTES}"


def read(tmp_path: Path, old: str, new: str) -> tuple[list[str], list[dict], frozenset[str]]:
    """What is told of the text with a slip, the entries that are read, and the names of those that aren't."""
    assert old in TEXT
    (tmp_path / "a.yaml").write_text(TEXT.replace(old, new, 1), "utf-8")
    document = read_entries(tmp_path / "a.yaml", "a.yaml")
    assert isinstance(document.data, dict)
    entries = document.data["rules"]
    assert isinstance(entries, list)
    return [str(fault).removeprefix("a.yaml:") for fault in document.faults], entries, document.lost


@pytest.mark.parametrize(
    ("old", "new", "told", "changed"),
    [
        ("because: It", 'because: "It', [OPENED + CLOSE], {}),
        ("because: It", "because: 'It", [OPENED + CLOSE], {}),
        ("because: It is so when it is so.", 'because: "It is so when it is so.\u201d',
         [f'{OPENED}write " for the curly \u201d that closes it'], {}),
        ("It is so when", "It is: so when", [f"7:19: {INSIDE}"], {"because": "It is; so when it is so."}),
        ("It is so when", "he says: twice: It is so when", [f"7:21: {INSIDE}", f"7:28: {INSIDE}"],
         {"because": "he says; twice; It is so when it is so."}),
        ("because: It", "because:\u00a0It",
         ["7:13: a hard space after this sign; type a plain space in its place"], {}),
        ("because: It", "because It", [f"7:5: {NO_COLON}"], {}),
        ("because: It", "because = It", [f"7:5: {NO_COLON}"], {}),
        ("because: It", "because ; It", [f"7:5: {NO_COLON}"], {}),
        ("because: It", "because:It",
         [f"7:5: {NOT_A_LINE}leave a space after the ':', as in 'because: It is so when it is'"], {}),
        ("    when:\n", "    when\n", [f"3:5: {NO_COLON}"], {}),
        ("    then:\n", "    then  \n", [f"5:5: {NO_COLON}"], {}),
        ("rule: two", "rule two", ["8:5: a line without its ': '; add it after the key"], {}),
        ("rule: one", "rule:one",
         ["2:5: a line without its ': '; leave a space after the ':', as in 'rule: one'"], {}),
        ("because: y", "because", [f"11:5: {NO_COLON}"], {"because": ""}),
        ("[tune]}", "[tune]", [f"10:11: a '{{' is opened and never closed; close it, or {QUOTES}"], {}),
        ("ask: [", "ask [", [f"10:24: a ':' or ',' is missing before this '['; add it, or {QUOTES}"], {}),
        ("because: y", "because: @ y and more", [f"11:14: a text can't begin with '@'; {QUOTES}"],
         {"because": "@ y and more"}),
        ("because: y", "because: `y` and it's more", [f"11:14: a text can't begin with '`'; {QUOTES}"],
         {"because": "`y` and it's more"}),
        ("say: Leave it.", "say: {tune} is hot here", [f"6:12: a text can't begin with '{{'; {QUOTES}"],
         {"then": {"say": "{tune} is hot here"}}),
        ("say: Leave it.", "say: [tune] is hot and it's", [f"6:12: a text can't begin with '['; {QUOTES}"],
         {"then": {"say": "[tune] is hot and it's"}}),
        ("- tune is hot", "- tune: > 35 psi",
         ["4:17: a text can't begin with '>' or '|'; leave out the ':' in a condition, as in 'present boost > 35 psi'"],
         {"when": ["tune  > 35 psi"]}),
    ],
)  # fmt: skip
def test_what_a_line_was_plainly_meant_to_be(
    old: str, new: str, told: list[str], changed: dict, tmp_path: Path
) -> None:
    said, entries, lost = read(tmp_path, old, new)
    assert said == told
    first = int(said[0].split(":")[0]) < 8
    assert entries == ([ONE | changed, TWO] if first else [ONE, TWO | changed])
    assert lost == frozenset()


def test_of_very_many_entries_that_cannot_be_read_the_first_twenty_are_told(tmp_path: Path) -> None:
    entries = "".join(f"  - rule: r{number}\n    because: @y\n" for number in range(22))
    said, read_in, names = read(tmp_path, TEXT[TEXT.index("  - rule: one") : TEXT.index("  - rule: two")], entries)
    slip = f"a text can't begin with '@'; {QUOTES}"
    more = "3:14: 2 more entries of this file can't be read; mend the others first"
    assert said == [f"{line}:14: {slip}" for line in range(3, 43, 2)] + [more]
    assert read_in == [TWO]
    assert names == frozenset(f"r{number}" for number in range(22))


@pytest.mark.parametrize(
    ("old", "new", "told", "lost"),
    [
        ("It is so when it is so.", "'It is so when it's so.",
         "7:14: the text goes on after its closing quote; double any ' inside a text in single quotes", "one"),
        ("It is so when it is so.", "'", OPENED + CLOSE, "one"),
        ("because: It", "becouse It", f"7:5: {NO_COLON}", "one"),
        ("- tune is hot", "- > 35 psi",
         "4:11: a text can't begin with '>' or '|'; name the fact before it, as in 'present boost > 35 psi'", "one"),
        ("Leave it.", '"Leave" it.',
         '6:12: the text goes on after its closing quote; put single quotes around a text that holds "', "one"),
        ("[tune]}", "[tune}", f"10:25: a '[' is opened and never closed; close it, or {QUOTES}", "two"),
        ("{say: x, ask: [tune]}", "{say x", f"10:11: a '{{' is opened and never closed; close it, or {QUOTES}", "two"),
        ("because: y", "because: @y", f"11:14: a text can't begin with '@'; {QUOTES}", "two"),
    ],
)  # fmt: skip
def test_what_a_line_was_meant_to_be_and_is_not_plain(old: str, new: str, told: str, lost: str, tmp_path: Path) -> None:
    said, entries, names = read(tmp_path, old, new)
    assert said == [told]
    assert entries == ([TWO] if lost == "one" else [ONE])
    assert names == frozenset((lost,))
