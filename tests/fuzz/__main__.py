"""python -m tests.fuzz --minutes 30 [--seed N] [--kind NAME]: feed fdm odd documents until the time is over.

Every document of `kinds.KINDS` goes through the check of its kind. At the end it prints what became of them. For each
fault, once: the smallest document found that shows it, where it was raised, and how to try it again.

python -m tests.fuzz --again NAME DOCUMENT tries one document, from a file.
"""

import argparse
import random
import resource
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, seed, settings

from tests.fuzz.kinds import KINDS

MEMORY = 4_000_000_000  # bytes
MOST_LINES = 60  # of a document that are printed


def main() -> int:
    parser = argparse.ArgumentParser(
        prog="tests.fuzz", description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--seed", type=int, default=None)
    parser.add_argument("--kind", action="append", choices=KINDS, help="only these kinds; may be repeated")
    parser.add_argument("--again", nargs=2, metavar=("KIND", "FILE"), help="try one document again")
    asked = parser.parse_args()
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    if asked.again:
        kind, file = asked.again
        print(KINDS[kind].check(Path(file).read_bytes().decode()))
        return 0
    first = random.randrange(10**6) if asked.seed is None else asked.seed
    found = Found()
    end, batch = time.monotonic() + 60 * asked.minutes, first
    while time.monotonic() < end:
        for name in asked.kind or KINDS:
            if time.monotonic() < end:
                try_batch(name, batch, found)
        batch += 1
    print(f"\nseeds {first} to {batch - 1}")
    for (name, outcome), count in sorted(found.outcomes.items()):
        print(f"{count:8}  {name}: {outcome}")
    print(f"{sum(found.outcomes.values()):8}  documents, {len(found.faults)} faults")
    return bool(found.faults)


class Found:
    """What has come up so far."""

    def __init__(self) -> None:
        self.outcomes: Counter[tuple[str, str]] = Counter()
        self.faults: set[tuple[str, str]] = set()  # where they were raised, so that each is told once
        self.smallest = ""  # the last document that failed: after shrinking, the smallest
        self.folder = Path(tempfile.mkdtemp(prefix="fuzz-"))


def try_batch(name: str, batch: int, found: Found) -> None:
    """One batch of documents of a kind, and a report of what fails in it for the first time."""
    kind = KINDS[name]

    @seed(batch)
    @settings(max_examples=kind.share, deadline=None, database=None, suppress_health_check=list(HealthCheck),
              phases=(Phase.generate, Phase.shrink), report_multiple_bugs=False)  # fmt: skip
    @given(kind.documents)
    def trial(document: str) -> None:
        try:
            outcome = kind.check(document)
        except Exception as fault:
            if _place(name, fault) in found.faults:
                found.outcomes[name, "a fault already told"] += 1
                return
            found.smallest = document
            raise
        found.outcomes[name, outcome] += 1

    try:
        trial()
    except Exception as fault:  # noqa: BLE001  whatever it is, it is told
        found.faults.add(_place(name, fault))
        file = found.folder / f"{len(found.faults)}.txt"
        file.write_text(found.smallest, "utf-8", newline="")
        print(f"\n==== {name}: {type(fault).__name__}: {str(fault)[:500]}\n{_lines(fault)}\n---- {file}")
        print("\n".join(found.smallest.splitlines()[:MOST_LINES]))
        print(f"---- python -m tests.fuzz --again {name!r} {file}", flush=True)


def _inside(fault: Exception) -> list[traceback.FrameSummary]:
    frames = traceback.extract_tb(fault.__traceback__)
    return [f for f in frames if "/fdm/" in f.filename] or [f for f in frames if "/fuzz/" in f.filename]


def _place(name: str, fault: Exception) -> tuple[str, str]:
    """What makes two faults the same: their type and where they were raised; where a property does not hold, its
    words before the first number."""
    last = _inside(fault)[-1]
    words = "".join(c for c in str(fault)[:40] if not c.isdigit()) if "tests" in last.filename else ""
    return f"{type(fault).__name__} {words}", f"{last.filename}:{last.lineno}"


def _lines(fault: Exception) -> str:
    return "\n".join(f"{Path(f.filename).name}:{f.lineno} {f.line}" for f in _inside(fault)[-4:])


if __name__ == "__main__":
    sys.exit(main())
