"""The files of editor-clients/kate: `test.py TOOLS FOLDER`, with Kate unpacked below TOOLS."""
import html
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from urllib.parse import unquote

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import colours

tools, folder = Path(sys.argv[1]), Path(sys.argv[2])
client = colours.ROOT / "editor-clients/kate"
# As the README has it, for a user of its own.
home = folder / "home"
for target, name in ((".local/share/org.kde.syntax-highlighting/syntax", "prep.xml"), (".config/kate/lspclient", "settings.json")):
    (home / target).mkdir(parents=True)
    shutil.copy(client / name, home / target)
environment = {**os.environ, "HOME": str(home), "XDG_CONFIG_HOME": f"{home}/.config", "XDG_DATA_HOME": f"{home}/.local/share",
               "XDG_CACHE_HOME": f"{home}/.cache", "XDG_RUNTIME_DIR": str(folder), "XDG_DATA_DIRS": f"{tools}/usr/share:/usr/share",
               "QT_PLUGIN_PATH": ":".join(map(str, tools.glob("usr/lib/*/qt5/plugins"))), "QT_QPA_PLATFORM": "offscreen",
               "LANG": "C.UTF-8"}
failed = 0

# What the definition calls its kinds of text, as tests/editors/colours.json names them.
SCOPES = {"Title": "entity.name.section", "Statement": "keyword.other.statement", "Place": "keyword.other.place",
          "Remark": "string.unquoted", "Key": "variable.other.key", "Punctuation": "punctuation.separator",
          "Verb": "support.function.verb", "Step number": "constant.numeric.step", "Number": "constant.numeric",
          "Unit": "keyword.other.unit", "Operator": "keyword.operator", "Arrow": "keyword.operator.arrow",
          "Word": "keyword.operator.word", "Condition": "storage.modifier.condition", "Value": "constant.language",
          "Comment": "comment", "Plan": "keyword.control.plan", "Block": "keyword.control.block"}
COLOURS = {f"#{number:02x}8040": name for number, name in enumerate(SCOPES, 1)}
themes = home / ".local/share/org.kde.syntax-highlighting/themes"
themes.mkdir()
theme = {"metadata": {"name": "Scopes", "revision": 1}, "text-styles": {"Normal": {"text-color": "#ffffff"}}, "editor-colors": {},
         "custom-styles": {"Reaction Plan": {name: {"text-color": colour} for colour, name in COLOURS.items()}}}
(themes / "scopes.theme").write_text(json.dumps(theme))


def coloured(text):
    shown = subprocess.run([tools / "usr/bin/kate-syntax-highlighter", "--stdin", "--syntax=Reaction Plan", "--theme=Scopes"],
                           input=text, env=environment, capture_output=True, text=True, check=True)
    # What it says of a definition in which something is wrong.
    assert "Reaction Plan" not in shown.stderr and "prep.xml" not in shown.stderr, shown.stderr
    body = re.search(r"<pre>\n?(.*)</pre>", shown.stdout, re.S)[1]
    lines = []
    for line in body.split("\n"):
        spans = re.findall(r'<span style="color:(#[0-9a-f]{6})[^"]*">([^<]*)</span>|([^<]+)', line)
        lines.append([(html.unescape(part), SCOPES[COLOURS[colour]]) for colour, part, _ in spans if colour in COLOURS])
    return lines


failed += colours.check("Kate", coloured)


def run_kate(plan, path, until):
    """Starts Kate with a plan and gives what `until` returned, or nothing after 40 s."""
    (folder / "messages").write_bytes(b"")
    with open(folder / "messages", "ab") as messages:
        kate = subprocess.Popen([tools / "usr/bin/kate", "--new", "--startanon", plan], env={**environment, "PATH": path},
                                stdout=messages, stderr=messages, start_new_session=True)
    try:
        end = time.monotonic() + 40
        while time.monotonic() < end and kate.poll() is None:
            if got := until():
                return got
            time.sleep(0.1)
    finally:
        try:
            os.killpg(kate.pid, signal.SIGKILL)
        except ProcessLookupError:
            pass
        kate.wait()


def test(name, problem):
    global failed
    failed += bool(problem)
    print(f"not ok - Kate {name}\n  {problem}" if problem else f"ok - Kate {name}")


plan = folder / "µ° slips.prep"
shutil.copy(colours.ROOT / "examples/slips.prep", plan)
programs = folder / "programs"
programs.mkdir()
(programs / "meniscus").symlink_to(Path(__file__).parent / "wire.py")
environment |= {"WIRE": str(folder / "wire"), "REAL_MENISCUS": os.environ["MENISCUS"]}
# Kate asks before it starts a server; this is the answer as it keeps it.
(home / ".config/katerc").write_text(f"[Kate Plugins]\nlspclientplugin=true\n\n[lspclient]\nAllowedServerCommandLines={programs}/meniscus serve\n")


def messages():
    said = (folder / "wire").read_bytes() if (folder / "wire").exists() else b""
    read = []
    while match := re.match(rb"Content-Length: (\d+)\r\n(?:[^\r\n]+\r\n)*\r\n", said):
        body = said[match.end():match.end() + int(match[1])]
        if len(body) < int(match[1]):
            break
        read.append(json.loads(body))
        said = said[match.end() + int(match[1]):]
    return read


def opened():
    said = messages()
    found = [m["params"] for m in said if m.get("method") == "textDocument/publishDiagnostics" and m["params"]["diagnostics"]]
    told = [m["params"]["textDocument"] for m in said if m.get("method") == "textDocument/didOpen"]
    asked = {m.get("method") for m in said}
    return (told[0], found[-1]) if told and found and {"textDocument/semanticTokens/full", "textDocument/semanticTokens/range"} & asked else None


got = run_kate(plan, f"{programs}:/usr/bin:/bin", opened)
test("starts the server, and is told of findings", None if got and got[0]["languageId"] == "prep" and got[0]["text"] == plan.read_text()
     and unquote(got[1]["uri"]) == unquote(got[0]["uri"]) and len(got[1]["diagnostics"]) > 5
     else f"{got}; it said: {(folder / 'messages').read_text()[-2000:]}; the wire has {[m.get('method') for m in messages()]}")
sys.exit(10 if failed else 0)
