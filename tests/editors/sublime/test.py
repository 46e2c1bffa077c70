"""The syntax definition of editor-clients/sublime, as bat reads it: `test.py BAT FOLDER`."""
import json
import os
import plistlib
import re
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import colours

bat, folder = sys.argv[1], Path(sys.argv[2])
client = colours.ROOT / "editor-clients/sublime"
for name in ("source/syntaxes", "source/themes", "cache"):
    (folder / name).mkdir(parents=True)
name = "Reaction Plan.sublime-syntax"
(folder / "source/syntaxes" / name).write_bytes((client / name).read_bytes())
# A theme with a colour of its own for every scope.
COLOURS = {f"#{number:02x}8040": scope for number, scope in enumerate(colours.SCOPES, 1)}
rules = [{"settings": {"foreground": "#ffffff", "background": "#000000"}}]
rules += [{"scope": scope, "settings": {"foreground": colour}} for colour, scope in COLOURS.items()]
(folder / "source/themes/scopes.tmTheme").write_bytes(plistlib.dumps({"name": "scopes", "settings": rules}))
environment = {**os.environ, "BAT_CACHE_PATH": str(folder / "cache"), "COLORTERM": "truecolor"}
built = subprocess.run([bat, "cache", "--build", "--blank", f"--source={folder}/source", f"--target={folder}/cache"],
                       env=environment, capture_output=True, text=True)
assert built.returncode == 0 and "syntax" in built.stdout, built


def coloured(text):
    shown = subprocess.run([bat, "--language=Reaction Plan", "--theme=scopes", "--color=always", "--style=plain", "--paging=never",
                            "--no-config"], input=text, env=environment, capture_output=True, text=True, check=True)
    assert not shown.stderr, shown.stderr
    lines = []
    for line in shown.stdout.splitlines():
        tokens = []
        for red, green, blue, part in re.findall(r"\x1b\[38;2;(\d+);(\d+);(\d+)m([^\x1b]*)", line):
            scope = COLOURS.get(f"#{int(red):02x}{int(green):02x}{int(blue):02x}")
            if scope and tokens and tokens[-1][1] == scope and tokens[-1][2]:
                tokens[-1][0] += part
            elif scope:
                tokens.append([part, scope, True])
            elif tokens:
                tokens[-1][2] = False
        lines.append([(part, scope) for part, scope, _ in tokens])
    return lines


failed = colours.check("bat, with the syntax for Sublime Text,", coloured)

settings = json.loads((client / "LSP.sublime-settings").read_text())
server = settings["clients"]["meniscus"]
syntax = (client / name).read_text()
preferences = plistlib.loads((client / "Comments.tmPreferences").read_bytes())
# The keys are those of the documentation of the LSP package.
fits = (set(server) == {"enabled", "command", "selector"} and server["command"] == ["meniscus", "serve"]
        and f"\nscope: {server['selector']}\n" in syntax and preferences["scope"] == server["selector"])
print(f"{'ok' if fits else 'not ok'} - the settings for Sublime Text name the scope of the syntax")
sys.exit(10 if failed or not fits else 0)
