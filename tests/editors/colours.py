"""Holds the colours of an editor to those of tests/editors/colours.json, and to all verbs and units of the language."""
import json
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LINES = [(line, [tuple(token) for token in tokens]) for line, tokens in json.loads((ROOT / "tests/editors/colours.json").read_text())["lines"]]
SCOPES = sorted({scope for _, tokens in LINES for _, scope in tokens})
"""Every kind of text that is told apart."""


def verbs():
    source = (ROOT / "server/syntax/src/ast.rs").read_text()
    found = re.findall(r'"([^"]+)"', re.search(r"\nverbs! \{\n([^}]*)\}", source)[1])
    assert len(found) > 100, found
    return found


def units():
    grammar = (ROOT / "server/syntax/GRAMMAR.md").read_text()
    spelled = re.search(r"\nUnits: ([^;]*);", grammar)[1].replace("% RH", "")
    found = [unit for unit in re.split(r"[\s·]+", spelled) if unit] + ["% RH", "mL/g", "mmol/h"]
    assert len(found) > 50, found
    return found


def check(editor, coloured):
    """Reports as the Test Anything Protocol has it; `coloured` gives pairs of text and scope for every line of a text."""
    failed = 0

    def test(name, wrong):
        nonlocal failed
        failed += bool(wrong)
        print(f"not ok - {editor} {name}" if wrong else f"ok - {editor} {name}")
        for expected, got in wrong[:5]:
            print(f"  expected {expected}\n  got      {got}")

    def tokens(lines):
        read = coloured("".join(f"{line}\n" for line in lines))
        assert len(read) >= len(lines), (len(read), len(lines))
        return [[(text.strip(), scope) for text, scope in line if text.strip()] for line in read]

    read = tokens([line for line, _ in LINES])
    expected = [[(text.strip(), scope) for text, scope in line] for _, line in LINES]
    test("colours lines as the language reads them", [pair for pair in zip(expected, read) if pair[0] != pair[1]])

    names = verbs()
    read = tokens(["steps"] + [f"  {name} flask" for name in names])[1:]
    says = {"note", "expect", "check"}
    expected = [(name, "keyword.other.statement" if name in says else "support.function.verb") for name in names]
    test("colours every verb of the language", [pair for pair in zip(expected, [line[0] if line else None for line in read]) if pair[0] != pair[1]])

    names = units()
    read = tokens(["materials"] + [f"  a: b, 1.5 {name}, c" for name in names])[1:]
    expected = [(name, "keyword.other.unit") for name in names]
    test("colours every unit of the language", [pair for pair in zip(expected, [line[3] if len(line) > 3 else None for line in read]) if pair[0] != pair[1]])
    return failed
