"""Hostile files by the thousand: STL, YAML, locks and photos, made from sound ones by chance.

python -m tests.bench.fuzz [stl|yaml|lock|photo|all] [--minutes 1] [--seed 1]

Each file goes through everything that a build does with it, in a process that may take 1.5 GB and 60 s of
the processor, for the machine may have other work. Whatever is neither a result nor a fault told in a
sentence is a failure: a traceback, a time, a size, anything written, made, moved or removed outside the
folder of the trial, a program started. The seed of a failure is printed; with it the file is made again.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import random
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

from builder.stages import vectors
from tests.hostile import mutants

MOST_S = 60.0
MOST_BYTES = 1_500_000_000
AT_ONCE = 1000
"""Trials of one process: its start takes as long as fifty of them."""


def trial(kind: str, seed: int, root: Path) -> str:
    """One file, made and read; what became of it in a word, '!' before what must not be."""
    from builder.base.problems import Faults

    rng = random.Random(f"{kind} {seed}")
    start = time.process_time()
    try:
        mutants.KINDS[kind](rng, root)
        found = "read"
    except Faults as faults:
        found = "refused" if all(str(problem).strip() for problem in faults.problems) else "!silent"
    except Exception:  # noqa: BLE001 - that is what is looked for
        traceback.print_exc()
        found = "!traceback"
    spent = time.process_time() - start
    return f"!{spent:.0f} s" if spent > MOST_S else found


def many(kind: str, seeds: range, seconds: float, said: multiprocessing.connection.Connection) -> None:
    """Trials one after the other in this process, until there are no more seeds or the time is over."""
    end = time.monotonic() + seconds
    outside: list[str] = []
    sys.dont_write_bytecode = True
    for stage in ("measure", "advice", "pictures"):  # worked out once in a process, in a folder of its own
        vectors.version(stage)
    with tempfile.TemporaryDirectory(prefix="shotbook-fuzz-") as made:
        folder = os.path.realpath(made)
        sys.addaudithook(lambda event, args: _note(event, args, folder, outside))
        for seed in seeds:
            if time.monotonic() > end:
                break
            root = Path(folder) / str(seed)
            root.mkdir()
            found = trial(kind, seed, root)
            said.send((seed, f"!wrote {outside[0]}" if outside else found, _peak_bytes()))
            outside.clear()
            mutants.remove(root)
    said.close()


WRITES = {"os.mkdir": (0, 2), "os.remove": (0, 1), "os.rmdir": (0, 1), "os.chmod": (0, 2), "os.chown": (0, 3)}
"""What changes one name: which argument is the name, and which the folder that it is below."""
RENAMES = {"os.rename": ((0, 2), (1, 3)), "os.link": ((0, 2), (1, 3)), "os.symlink": ((1, 2),)}
ELSEWHERE = {"subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "socket.connect", "socket.bind"}


def _note(event: str, args: tuple[object, ...], folder: str, outside: list[str]) -> None:
    """Remember what is written, made, moved or removed outside the trial's folder, and what is started."""
    if event == "open" and isinstance(args[2], int):
        if args[2] & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC):
            _note_place(args[0], None, folder, outside)
    elif event in WRITES or event in RENAMES:
        for name, below in RENAMES.get(event, ()) or (WRITES[event],):
            _note_place(args[name], args[below], folder, outside)
    elif event in ELSEWHERE:
        outside.append(f"{event} {args[0]!r}")


def _note_place(name: object, below: object, folder: str, outside: list[str]) -> None:
    """Remember a place outside the folder; a link on the way is followed, the last name is not."""
    if not isinstance(name, str | bytes):
        return  # an open handle, which was noted when it was opened
    path = Path(os.fsdecode(name))
    if isinstance(below, int) and below >= 0:
        path = Path(f"/proc/self/fd/{below}").readlink() / path
    path = Path(os.path.realpath(path.parent)) / path.name
    if not path.is_relative_to(folder) and path != Path("/dev/null"):
        outside.append(str(path))


def _peak_bytes() -> int:
    """The most memory that this process has had (Linux tells it in kB)."""
    import resource

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def _spent_s() -> float:
    """The processor's time that all processes of this one have taken so far."""
    import resource

    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent.ru_utime + spent.ru_stime


def fuzz(kind: str, seconds: float, first: int, most: int = sys.maxsize) -> int:
    """Trials of one kind until the time is over or `most` are done; prints counts, returns the failures."""
    counts: Counter[str] = Counter()
    failed, peak, seed, before = 0, 0, first, _spent_s()
    end = time.monotonic() + seconds
    context = multiprocessing.get_context("spawn")
    while time.monotonic() < end and seed < first + most:
        ours, theirs = context.Pipe(duplex=False)
        seeds = range(seed, min(seed + AT_ONCE, first + most))
        process = context.Process(target=many, args=(kind, seeds, end - time.monotonic(), theirs))
        process.start()
        theirs.close()
        last = seed - 1
        try:
            while ours.poll(20 * MOST_S):
                last, found, size = ours.recv()
                peak = max(peak, size)
                found = f"!{size // 1_000_000} MB" if size > MOST_BYTES else found
                counts[found.split()[0] if found.startswith("!") else found] += 1
                if found.startswith("!"):
                    failed += 1
                    print(f"{kind} seed {last}: {found[1:]}", flush=True)
            print(f"{kind} seed {last + 1}: no answer", flush=True)
            failed += 1
            process.kill()
        except EOFError:
            process.join()
            if process.exitcode:
                failed += 1
                print(f"{kind} seed {last + 1}: the process died", flush=True)
        process.join()
        seed = max(last, seed) + 1
    told = ", ".join(f"{count} {what}" for what, count in sorted(counts.items()))
    print(f"{kind}: {sum(counts.values())} files from seed {first}: {told}; {failed} failed; ", end="")
    print(f"at most {peak / 1e6:.0f} MB; {(_spent_s() - before) / 60:.1f} minutes of a core.", flush=True)
    return failed


def main() -> None:
    parser = argparse.ArgumentParser(description="Read hostile files for some minutes.")
    parser.add_argument("kind", nargs="?", default="all", choices=[*mutants.KINDS, "all"])
    parser.add_argument("--minutes", type=float, default=1.0, help="for each kind")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    kinds = list(mutants.KINDS) if given.kind == "all" else [given.kind]
    sys.exit(min(sum(fuzz(kind, 60 * given.minutes, given.seed) for kind in kinds), 1))


if __name__ == "__main__":
    main()
