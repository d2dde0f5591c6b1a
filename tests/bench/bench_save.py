"""From a save to the new text in the page, with nothing to measure: `python -m tests.bench.bench_save`.

In a catalogue as `shotbook init --demo` makes it, under `shotbook serve` as it is. Wall-clock seconds on this
machine, beside those of one build in a process that is warm, and CPU seconds of the server.
"""

from __future__ import annotations

import re
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from urllib.request import urlopen

SAVES = {
    "title": ("title: ", "title: Renamed "),
    "summary": ("summary: ", "summary: Reworded. "),
    "author": ("author: ", "author: Cousin "),
    "hook": ("hook: ", "hook: Eighty "),
}


def shown(address: str, word: str, most_s: float = 30.0) -> float:
    """Seconds until the page at the address has the word."""
    start = time.perf_counter()
    while time.perf_counter() - start < most_s:
        try:
            with urlopen(address, timeout=most_s) as page:
                if word in page.read().decode():
                    return time.perf_counter() - start
        except OSError:
            pass
        time.sleep(0.02)
    raise TimeoutError(f"{word!r} never came up at {address}")


def free_port() -> int:
    """A port of this machine that nobody uses."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def cpu_s(process: int) -> float:
    """CPU seconds that a process has used (Linux)."""
    fields = Path(f"/proc/{process}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / 100


def main() -> None:
    """Make a catalogue, serve it, save its mold."""
    with tempfile.TemporaryDirectory() as room:
        shop = Path(room) / "shop"
        command = [sys.executable, "-m", "builder"]
        subprocess.run(
            [*command, "init", shop, "--demo", "--name", "Shop"], check=True, stdin=subprocess.DEVNULL
        )
        subprocess.run([*command, "build"], cwd=shop, check=True)
        address = f"127.0.0.1:{free_port()}"
        with subprocess.Popen([*command, "serve", "--address", address], cwd=shop) as server:
            try:
                saved(f"http://{address}/molds/pond-stick.html", shop, server.pid)
            finally:
                server.terminate()


def saved(page: str, shop: Path, process: int) -> None:
    """Print a line for each save."""
    shown(page, "</html>")
    spec = shop / "molds" / "pond-stick" / "mold.yaml"
    for what, (old, new) in SAVES.items():
        text = spec.read_text(encoding="utf-8")
        used = cpu_s(process)
        spec.write_text(text.replace(old, new, 1), encoding="utf-8")
        waited = shown(page, re.findall(r"Renamed|Reworded|Cousin|Eighty", new)[0])
        print(f"{what:8} {waited:5.2f} s, {cpu_s(process) - used:5.2f} s of CPU", flush=True)


if __name__ == "__main__":
    main()
