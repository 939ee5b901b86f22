"""A cook's round with what is installed: ``python offline_round.py SCRIPTS_DIRECTORY``.

With ``--loopback COMMAND ...`` it brings loopback up in a fresh network namespace and becomes the
command. The round refuses to run where any other interface is there, does everything on this list,
and prints what it did as a JSON list.
"""

from __future__ import annotations

import fcntl
import json
import os
import socket
import struct
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

DONE = ("solved", "nudged", "exported", "listed", "page rendered", "dashboard answered")
SET_FLAGS, UP = 0x8914, 0x1
PATIENCE_S = 300.0
PAGE = """
from streamlit.testing.v1 import AppTest
from balancer.cli.serve import app_file
page = AppTest.from_file(str(app_file()), default_timeout=300).run()
assert not page.exception, [e.message for e in page.exception]
assert len(page.main.children) > 0
"""


def loopback_up() -> None:
    """Bring the loopback interface of this namespace up."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as control:
        fcntl.ioctl(control, SET_FLAGS, struct.pack("16sH14x", b"lo", UP))


def call(*words: str | Path, cwd: Path) -> str:
    """What a command prints; it must end well."""
    done = subprocess.run([str(w) for w in words], cwd=cwd, capture_output=True, text=True)
    if done.returncode:
        raise SystemExit(f"{' '.join(str(w) for w in words)[:200]}: {done.stderr.strip()[-800:]}")
    return done.stdout


def answered(balancer: Path, folder: Path) -> None:
    """The dashboard, on loopback."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    log = (folder / "server.txt").open("w+", encoding="utf-8")
    server = subprocess.Popen(
        [str(balancer), "open", "--no-browser", "--port", str(port)],
        cwd=folder, stdout=log, stderr=log, stdin=subprocess.DEVNULL,
    )  # fmt: skip
    end = time.monotonic() + PATIENCE_S
    try:
        while True:
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=20) as page:
                    if page.status == 200 and b"<title>" in page.read():
                        return
            except OSError as error:
                if server.poll() is not None or time.monotonic() > end:
                    log.seek(0)
                    raise SystemExit(f"no answer: {error}; {log.read()[-600:]}") from error
            time.sleep(0.5)
    finally:
        server.terminate()
        server.wait(30)
        log.close()


def main() -> None:
    """Do everything on the list."""
    if sys.argv[1] == "--loopback":
        loopback_up()
        os.execvp(sys.argv[2], sys.argv[2:])
    others = [name for _, name in socket.if_nameindex() if name != "lo"]
    if others:
        raise SystemExit(f"this round is for a namespace without network, and here is {others}")
    scripts = Path(sys.argv[1])
    balancer = scripts / "balancer"
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        request = call(balancer, "demo", "plum-ginger-dip", cwd=folder)
        (folder / "plum.json").write_text(request, encoding="utf-8")
        solved = call(balancer, "solve", "plum.json", "--json", "--save", "Plum dip", cwd=folder)
        assert json.loads(solved)["status"] == "on_target", solved[:300]
        nudged = call(balancer, "nudge", "Plum dip", "a touch less sour, a touch sweeter",
                      "--save", "Plum dip, second", cwd=folder)  # fmt: skip
        assert "g" in nudged
        for kind in ("markdown", "html", "pdf", "jsonld"):
            call(balancer, "export", "Plum dip, second", "--as", kind, "--to", kind, cwd=folder)
            assert (folder / kind).stat().st_size > 300, kind
        assert "Plum dip, second" in call(balancer, "list", cwd=folder)
        call(scripts / "python", "-c", PAGE, cwd=folder)
        answered(balancer, folder)
    sys.stdout.write(json.dumps(DONE) + "\n")


if __name__ == "__main__":
    main()
