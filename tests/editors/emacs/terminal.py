"""Runs a program in a terminal of its own: `terminal.py SCREEN PROGRAM ARGUMENT…`. What it shows goes to the file SCREEN."""
import fcntl
import os
import pty
import struct
import sys
import termios

ROWS, COLUMNS = 40, 120

screen_path, *command = sys.argv[1:]
child, terminal = pty.fork()
if child == 0:
    fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
    os.environ["TERM"] = "xterm"
    os.execvp(command[0], command)
with open(screen_path, "wb", buffering=0) as screen:
    while True:
        try:
            shown = os.read(terminal, 65536)
        except OSError:  # the program has left its terminal
            break
        if not shown:
            break
        screen.write(shown)
sys.exit(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) % 256)
