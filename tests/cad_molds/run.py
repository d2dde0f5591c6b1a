"""Reads every drawn mold as a maker would and tells how each came out.

python -m tests.cad_molds.run [--only NAME] [--json FILE]
"""

from __future__ import annotations

import argparse
import json
import signal
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path

from tests.cad_molds.answers import answered, lay, shortest
from tests.cad_molds.by_hand import finished
from tests.cad_molds.catalogue import RECIPES
from tests.cad_molds.hand_drawings import DRAWINGS
from tests.cad_molds.judged import Off, judge
from tests.cad_molds.molds import draw
from tests.cad_molds.reader_door import Faults, Measurement, read_folder
from tests.cad_molds.records import Case

MOST_ANSWERS, PATIENCE_S = 3, 100.0
KINDS = (
    "right at once",
    "right after the first hint",
    "right after more hints",
    "refused",
    "wrong with warning",
    "SILENTLY WRONG",
    "crashed",
    "no answer in time",
)


CASES: dict[str, Callable[[], Case]] = {
    **{recipe.name: partial(draw, recipe) for recipe in RECIPES},
    **{name: partial(finished, name, sheet) for name, sheet in DRAWINGS.items()},
}
"""Every trial mold by its name: those of the catalogue, then those that were drawn one by one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """How a mold came out. `told` are the answers given, `why` the last refusal or the crash."""

    name: str
    kind: str
    seconds: float
    told: tuple[str, ...] = ()
    off: tuple[Off, ...] = ()
    notes: tuple[Off, ...] = ()
    warnings: tuple[str, ...] = ()
    why: str = ""

    def __str__(self) -> str:
        more = [*self.off, *(f"[{note}]" for note in self.notes), *(f"told {t}" for t in self.told), self.why]
        more += [f"warned {warning}" for warning in self.warnings] if self.off else []
        return f"{self.name:42s} {self.kind:27s} {self.seconds:5.1f} s  " + "; ".join(
            str(m) for m in more if str(m)
        )


def attempt(case: Case, reader: Callable[[Path], Measurement] = read_folder) -> Outcome:
    """Read the mold with the shortest spec, then with at most three answers to what is asked."""
    begun, told, asked = time.perf_counter(), list[str](), list[str]()
    spec = shortest(case)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "mold"
        while True:
            lay(case, folder, spec)
            try:
                read = _patiently(folder, reader)
            except Faults as faults:
                asked.append(" | ".join(f"{p.where.key}: {p.what}; {p.remedy}" for p in faults.problems))
                found = [answered(case, spec, problem, len(told)) for problem in faults.problems]
                given = next((one for one in found if one), None)
                if given is None or len(told) == MOST_ANSWERS:
                    return _outcome(case, "refused", begun, told, why=" THEN ".join(asked))
                spec = given[0]
                told.append(given[1])
            except TimeoutError:
                return _outcome(case, "no answer in time", begun, told, why=" THEN ".join(asked))
            except Exception:  # noqa: BLE001 - a crash is an outcome here
                return _outcome(
                    case,
                    "crashed",
                    begun,
                    told,
                    why=traceback.format_exc().strip()[-400:].replace("\n", " / "),
                )
            else:
                return _told(case, read, begun, told, " THEN ".join(asked))


def _patiently(folder: Path, reader: Callable[[Path], Measurement]) -> Measurement:
    """The reading, or TimeoutError when it takes the processor too long."""

    def end(*_: object) -> None:
        raise TimeoutError

    signal.signal(signal.SIGPROF, end)
    signal.setitimer(signal.ITIMER_PROF, PATIENCE_S)
    try:
        return reader(folder)
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)


def _outcome(case: Case, kind: str, begun: float, told: list[str], why: str) -> Outcome:
    return Outcome(name=case.name, kind=kind, seconds=time.perf_counter() - begun, told=tuple(told), why=why)


def _told(case: Case, read: Measurement, begun: float, told: list[str], why: str) -> Outcome:
    """The outcome of a reading that gave numbers."""
    every = judge(case, read)
    off = tuple(one for one in every if one.counts)
    loud = tuple(f"{f.code}" for f in read.findings if f.level in ("warn", "stop"))
    right = KINDS[min(len(told), 2)]
    kind = right if not off else "wrong with warning" if loud else "SILENTLY WRONG"
    notes = tuple(one for one in every if not one.counts)
    return Outcome(
        name=case.name,
        kind=kind,
        seconds=time.perf_counter() - begun,
        told=tuple(told),
        off=off,
        notes=notes,
        warnings=loud,
        why=why,
    )


def main() -> None:
    """Run the catalogue, or the molds whose name contains a word."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--only", default="", help="read only molds whose name contains this")
    asked.add_argument("--json", type=Path, help="write the outcomes here")
    given = asked.parse_args()
    outcomes = []
    for name, drawn in CASES.items():
        if given.only in name:
            outcome = attempt(drawn())
            outcomes.append(outcome)
            print(outcome, flush=True)
    counted = Counter(outcome.kind for outcome in outcomes)
    print(f"\n{len(outcomes)} molds")
    for kind in KINDS:
        print(f"{counted[kind]:4d}  {kind}")
    if given.json:
        given.json.write_text(
            json.dumps([asdict(outcome) for outcome in outcomes], ensure_ascii=False, indent=1), "utf-8"
        )


if __name__ == "__main__":
    main()
