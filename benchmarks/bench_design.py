"""How long the main job takes: every example designed, its documents made, nothing written.

From the root of the project: ``python -m benchmarks.bench_design [example ...]``. Each
example runs in a process of its own: once to warm up, then three times, of which the median counts.
Memory is the most that the process held at any time.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import time
from pathlib import Path

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
RUNS = 3


def measure(name: str) -> dict[str, float | str]:
    """Design one example here; seconds of each stage and peak memory [MB]."""
    import resource

    from wellheard.workflow.design import design
    from wellheard.workflow.load import load
    from wellheard.workflow.publish import design_files

    path = EXAMPLES / name / f"{name}.room.yaml"
    stages: dict[str, list[float]] = {"load": [], "design": [], "documents": []}
    began = time.perf_counter()
    answer = design(load(path))
    design_files(load(path), answer)
    first = time.perf_counter() - began
    for _ in range(RUNS):
        marks = [time.perf_counter()]
        loaded = load(path)
        marks.append(time.perf_counter())
        answer = design(loaded)
        marks.append(time.perf_counter())
        design_files(loaded, answer)
        marks.append(time.perf_counter())
        for stage, start, end in zip(stages, marks, marks[1:], strict=False):
            stages[stage].append(end - start)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return {
        "status": answer.placed.proposal.proof.status,
        "microphones": float(answer.placed.proposal.count),
        "places": float(answer.placed.proposal.candidates),
        "talkers": float(len(answer.judged.evidence.talkers)),
        "first": first,
        "peak": peak / (1e6 if sys.platform == "darwin" else 1e3),
        **{stage: statistics.median(seconds) for stage, seconds in stages.items()},
    }


def main(names: list[str]) -> int:
    """Print the table; 2 for an example that does not exist."""
    known = sorted(p.name for p in EXAMPLES.iterdir() if p.is_dir())
    unknown = [name for name in names if name not in known]
    if unknown:
        print(f"no example {', '.join(unknown)}; there are {', '.join(known)}", file=sys.stderr)
        return 2
    head = ("load", "design", "documents", "first")
    print(
        f"{'example':<16}{'talkers':>8}{'places':>8}{'mics':>6}  {'proof':<11}"
        + "".join(f"{stage + ' [s]':>15}" for stage in head)
        + f"{'peak [MB]':>11}"
    )
    for name in names or known:
        done = subprocess.run(
            [sys.executable, "-m", "benchmarks.bench_design", "--measure", name],
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            print(f"{name:<16}failed: {done.stderr.strip().splitlines()[-1]}")
            return 1
        row = json.loads(done.stdout)
        print(
            f"{name:<16}{row['talkers']:>8.0f}{row['places']:>8.0f}{row['microphones']:>6.0f}"
            f"  {row['status']:<11}"
            + "".join(f"{row[stage]:>15.2f}" for stage in head)
            + f"{row['peak']:>11.0f}",
            flush=True,
        )
    return 0


if __name__ == "__main__":
    if sys.argv[1:2] == ["--measure"]:
        print(json.dumps(measure(sys.argv[2])))
    else:
        sys.exit(main(sys.argv[1:]))
