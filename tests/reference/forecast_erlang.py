#!/usr/bin/env python3
"""The forecast's dispatching against Erlang's waiting times. usage: forecast_erlang.py FORECAST (the binary of `--example forecast`)

M/M/c: jobs arrive as a Poisson process, c servers, exponential lengths, first come first served. The engine draws lognormal
lengths only, so arrivals and lengths are drawn here and given to it as releases and fixed lengths without spread, the plan in order
of arrival; one run, and what is checked is who begins when. Closed form (A. K. Erlang, 1917; as queueing texts write it), a = λ/μ,
ρ = a/c:
    C(c, a) = (a^c/c!) · 1/(1 − ρ) ÷ (Σ_{k<c} a^k/k! + (a^c/c!) · 1/(1 − ρ)),   mean wait = C ÷ (cμ − λ).

Minutes are whole: the mean length is 1000 minutes, so rounding moves an arrival or a length by at most half a thousandth of it,
nothing beside margins of some per cent. Batch means: the first batch is dropped (the queue starts empty), the others' means are
about independent; margin = t(0.001 ÷ comparisons ÷ 2, batches − 1) · s ÷ √batches (Bonferroni, together 99.9 %).

Built-in control: the same waits must not agree with one server more, nor with a load a tenth higher.
"""
import json
import math
import random
import statistics
import subprocess
import sys

from scipy import stats

MEAN = 1000
BATCHES, PER_BATCH = 30, 2500
CASES = [(c, rho) for c in (1, 2, 3) for rho in (0.5, 0.8)]


def erlang(c, a):
    """Share that waits, and mean wait in mean lengths."""
    waiting = a**c / math.factorial(c) / (1 - a / c)
    share = waiting / (sum(a**k / math.factorial(k) for k in range(c)) + waiting)
    return share, share / (c - a)


def waits(binary, c, rho, seed):
    rng = random.Random(seed)
    at, tasks, jobs = 0.0, [], []
    for i in range((BATCHES + 1) * PER_BATCH):
        at += rng.expovariate(c * rho / MEAN)
        length = max(1, round(rng.expovariate(1 / MEAN)))
        tasks.append({"id": f"t{i:06}", "job": f"t{i:06}", "duration": length, "demands": {"server": 1}})
        jobs.append({"id": f"t{i:06}", "release": round(at)})
    asked = {"objective": "weighted_tardiness", "resources": [{"id": "server", "capacity": c}], "tasks": tasks, "jobs": jobs,
             "forecast": {"runs": 1, "seed": 1, "starts": {j["id"]: j["release"] for j in jobs}}}
    run = subprocess.run([binary], input=json.dumps(asked), capture_output=True, text=True)
    assert run.returncode == 0, run.stderr
    answer = json.loads(run.stdout)
    assert answer["locked"] == 0
    return [done["mean"] - j["release"] - t["duration"] for done, j, t in zip(answer["jobs"], jobs, tasks, strict=True)]


def within(values, expected):
    """Mean over batches, its margin, and whether the expected value lies inside."""
    batches = [statistics.fmean(values[i:i + PER_BATCH]) for i in range(PER_BATCH, len(values), PER_BATCH)]
    assert len(batches) == BATCHES
    t = stats.t.ppf(1 - 0.001 / (2 * len(CASES)) / 2, BATCHES - 1)
    mean, margin = statistics.fmean(batches), t * statistics.stdev(batches) / math.sqrt(BATCHES)
    return mean, margin, abs(mean - expected) <= margin


def main(binary):
    bad, unrefused = [], []
    for n, (c, rho) in enumerate(CASES):
        all_ = waits(binary, c, rho, 500 + n)
        some = [float(w > 0) for w in all_]
        share, wait = erlang(c, c * rho)
        mean, margin, good = within([w / MEAN for w in all_], wait)
        shared, shared_margin, shared_good = within(some, share)
        print(f"c {c} load {rho}: mean wait {mean:.4f} ± {margin:.4f}, Erlang {wait:.4f}; waiting {shared:.4f} ± {shared_margin:.4f}, Erlang {share:.4f}")
        bad += [(c, rho)] if not (good and shared_good) else []
        for name, other in (("one server more", erlang(c + 1, c * rho)), ("load a tenth higher", erlang(c, 1.1 * c * rho))):
            if within([w / MEAN for w in all_], other[1])[2] and within(some, other[0])[2]:
                unrefused.append((c, rho, name))
    assert not unrefused, f"the comparison lets pass: {unrefused}"
    assert not bad, bad
    print(f"{2 * len(CASES)} comparisons with Erlang C agree, {2 * len(CASES)} controls refused")


if __name__ == "__main__":
    main(sys.argv[1])
