#!/usr/bin/env python3
"""The forecast against the same shop in SimPy. usage: forecast_vs_simpy.py FORECAST [--exact]

FORECAST is the binary of `--example forecast`.

One invented shop, eight vehicles, two lifts, one booth, three departments: simulated by SimPy (a general simulation library, MIT)
and by `plan::forecast`, with the same rule said twice: whoever becomes free begins what can begin, first what the plan has first.
Lengths are lognormal, one delivery may be late, one card is half done, one vehicle arrives later. The seeds are independent.

Per vehicle three comparisons, each at 1 − 0.001 ÷ 24 (Bonferroni), so that all hold together with at least 99.9 %:
- mean: |m1 − m2| ≤ z · √(s1² ÷ n1 + s2² ÷ n2) (two samples of unequal variance, large n);
- 50th and 90th percentile q of the forecast: the share of SimPy's runs done by q differs from 0.5 or 0.9 by at most
  z · √(p(1 − p) · (1 ÷ n1 + 1 ÷ n2)), because F(q) of a sample quantile q varies about p by p(1 − p) ÷ n1 whatever F is
  (order statistics: David & Nagaraja 2003, from memory). Minutes are whole, so q's own minute may count on either side.

`--exact`: 300 times lengths are drawn here and given to both as fixed, and every vehicle must end at the same minute: where the
distributions differ too little to be seen, this shows the run.

Built-in controls: the same comparison must refuse a SimPy whose deviation is 15 % larger, one whose people take the plan from
behind, and one that forgets the late delivery.
"""
import json
import math
import random
import statistics
import subprocess
import sys

import simpy

LAW = {"mean": 0.05, "deviation": 0.4}
POOLS = {"body": 3, "mechanics": 2, "paint": 2, "lift": 2, "booth": 1}
DELIVERY = {"kept": 0.6, "mean": 900.0}
LONGEST, REST = 20.0, 0.02  # as forecast.rs has them: bounds of what a length may be
RUNS = {"engine": 40_000, "simpy": 3_000, "control": 600}


def shop():
    """Tasks as (name, vehicle, length, wants, predecessors with lags); holds of a lift as (from, to)."""
    rng = random.Random(20)
    tasks, holds = [], []
    for v in range(8):
        def card(name, low, high, wants, *after):
            tasks.append({"id": f"v{v}.{name}", "job": f"v{v}", "length": rng.randint(low, high), "wants": wants, "after": list(after)})
            return tasks[-1]["id"]
        last = card("teardown", 60, 180, ["body"])
        if v % 4 != 3:
            drop = card("drop", 60, 150, ["mechanics"], (last, 0))
            weld = card("weld", 150, 400, ["body"], (drop, 0))
            last = card("refit", 80, 200, ["mechanics"], (weld, 30))
            holds.append((drop, last))
        # Two cards beside each other that meet again.
        prep = card("prep", 100, 240, ["paint"], (last, 0))
        parts = card("parts", 60, 140, ["body"], (last, 0))
        spray = card("spray", 60, 120, ["paint", "booth"], (prep, 0), (parts, 0))
        card("fit", 90, 260, ["body"], (spray, 60))
    order = [t["id"] for t in tasks]
    # An order of the plan that nobody would call good: vehicles interleaved, later cards of early vehicles first.
    starts = {name: 100 * (i % 7) + 37 * int(name[1]) + i for i, name in enumerate(order)}
    return {"tasks": tasks, "holds": holds, "starts": starts, "release": {"v5": 300},
            "late": {"v2.fit": 900, "v6.prep": 500}, "begun": {"v0.teardown": 110}}


def forecast(binary, s, law=LAW, delivery=DELIVERY, runs=RUNS["engine"]):
    after = {t["id"]: [] for t in s["tasks"]}
    for t in s["tasks"]:
        for before, lag in t["after"]:
            after[before].append({"id": t["id"], "min_lag": lag})
    spreads = {}
    for t in s["tasks"]:
        spreads[t["id"]] = {"planned": t["length"], "spent": s["begun"].get(t["id"], 0), **law}
        if t["id"] in s["late"]:
            spreads[t["id"]]["delay"] = delivery
    tasks = [{"id": t["id"], "job": t["job"], "duration": t["length"], "demands": {w: 1 for w in t["wants"]}, "successors": after[t["id"]],
              **({"fixed_start": 0} if t["id"] in s["begun"] else {})} for t in s["tasks"]]
    jobs = sorted({t["job"] for t in s["tasks"]})
    asked = {"name": "eight", "class": "shop", "objective": "weighted_tardiness", "tasks": tasks,
             "resources": [{"id": name, "capacity": n} for name, n in POOLS.items()],
             "jobs": [{"id": j, "release": s["release"].get(j, 0)} for j in jobs],
             "holds": [{"resource": "lift", "from_task": a, "to_task": b} for a, b in s["holds"]],
             "forecast": {"runs": runs, "seed": 31, "starts": s["starts"], "spreads": spreads, "releases": s["late"]}}
    run = subprocess.run([binary], input=json.dumps(asked), capture_output=True, text=True)
    assert run.returncode == 0, run.stderr
    answer = json.loads(run.stdout)
    assert answer["locked"] == 0, answer["locked"]
    return {job["id"]: job for job in answer["jobs"]}


class Floor:
    """One run. Every card is a process that says when it could begin; one dispatcher gives out people and things."""

    def __init__(self, s, rank, rng, law, delivery):
        self.s, self.rank, self.rng, self.law, self.delivery = s, rank, rng, law, delivery
        self.env = simpy.Environment()
        self.pools = {name: simpy.Container(self.env, n, init=n) for name, n in POOLS.items()}
        self.opens, self.closes = {a for a, _ in s["holds"]}, {b for _, b in s["holds"]}
        self.ended = {t["id"]: self.env.event() for t in s["tasks"]}
        self.ready, self.bell, self.done = [], self.env.event(), {}
        for t in s["tasks"]:
            self.env.process(self.card(t))
        self.env.process(self.dispatcher())
        self.env.run()
        assert all(e.triggered for e in self.ended.values()), "somebody waits for ever"

    def length(self, t):
        spent = self.s["begun"].get(t["id"], 0)
        while True:  # by rejection, not by the inverse as the engine does
            whole = t["length"] * self.rng.lognormvariate(self.law["mean"], self.law["deviation"])
            if whole > spent:
                return round(max(min(whole, LONGEST * t["length"]) - spent, REST * spent, 1.0))

    def card(self, t):
        yield simpy.AllOf(self.env, [self.env.process(self.lag(before, lag)) for before, lag in t["after"]])
        at = max(self.s["release"].get(t["job"], 0), self.s["late"].get(t["id"], 0))
        if t["id"] in self.s["late"] and self.rng.random() >= self.delivery["kept"]:
            at += round(self.rng.expovariate(1 / self.delivery["mean"]))
        if at > self.env.now:
            yield self.env.timeout(at - self.env.now)
        go = self.env.event()
        self.ready.append((self.rank[t["id"]], go, self.wants(t)))
        self.ring()
        yield go
        yield self.env.timeout(self.length(t))
        for w in t["wants"] + (["lift"] if t["id"] in self.closes else []):
            yield self.pools[w].put(1)
        self.done[t["job"]] = max(self.done.get(t["job"], 0), self.env.now)
        self.ended[t["id"]].succeed()
        self.ring()

    def lag(self, before, minutes):
        yield self.ended[before]
        yield self.env.timeout(minutes)

    def wants(self, t):
        return t["wants"] + (["lift"] if t["id"] in self.opens else [])

    def ring(self):
        if not self.bell.triggered:
            self.bell.succeed()

    def dispatcher(self):
        while True:
            yield self.bell
            # After everything else of this minute: people look round once all that ends now has ended.
            last = self.env.event()
            last._ok, last._value = True, None
            self.env.schedule(last, priority=9)
            yield last
            self.bell = self.env.event()
            for entry in sorted(self.ready, key=lambda e: e[0]):
                if all(self.pools[w].level >= 1 for w in entry[2]):
                    for w in entry[2]:
                        yield self.pools[w].get(1)
                    self.ready.remove(entry)
                    entry[1].succeed()


def ranks(s, sign=1):
    # What has begun goes on first.
    order = sorted(s["starts"], key=lambda name: (name not in s["begun"], sign * s["starts"][name]))
    return {name: i for i, name in enumerate(order)}


def simulate(s, seed, law=LAW, delivery=DELIVERY, backwards=False, runs=RUNS["control"]):
    rng = random.Random(seed)
    rank = ranks(s, -1 if backwards else 1)
    runs = [Floor(s, rank, rng, law, delivery).done for _ in range(runs)]
    return {job: [run[job] for run in runs] for job in runs[0]}


def compare(told, seen, show=False):
    """The comparisons that do not hold."""
    z = statistics.NormalDist().inv_cdf(1 - 0.001 / (3 * len(told)) / 2)
    bad = []
    for job, f in told.items():
        all_, n1, n2 = seen[job], f["runs"], len(seen[job])
        mean = statistics.fmean(all_)
        margin = z * math.sqrt(f["deviation"] ** 2 / n1 + statistics.variance(all_) / n2)
        line = f"{job}: mean {f['mean']:7.1f} and {mean:7.1f} (± {margin:4.1f})"
        if abs(f["mean"] - mean) > margin:
            bad.append(f"{job} mean")
        for name, share in (("p50", 0.5), ("p90", 0.9)):
            below, upto = (sum(op(x) for x in all_) / n2 for op in (lambda x: x < f[name], lambda x: x <= f[name]))
            tolerance = z * math.sqrt(share * (1 - share) * (1 / n1 + 1 / n2))
            line += f", by {name} {f[name]:5d}: {100 * upto:5.1f} % (± {100 * tolerance:.1f})"
            if not below - tolerance <= share <= upto + tolerance:
                bad.append(f"{job} {name}")
        if show:
            print(line)
    return bad


def exact(binary):
    """Draws in which some vehicle ends at another minute."""
    none, never, other = {"mean": 0.0, "deviation": 0.0}, {"kept": 1.0, "mean": 1.0}, []
    for seed in range(300):
        rng, s = random.Random(seed), shop()
        for t in s["tasks"]:
            t["length"] = max(1, round(t["length"] * rng.lognormvariate(LAW["mean"], LAW["deviation"])))
        s["begun"] = dict.fromkeys(s["begun"], 0)
        told = {job: f["mean"] for job, f in forecast(binary, s, none, never, 1).items()}
        if told != Floor(s, ranks(s), rng, none, never).done:
            other.append(seed)
    return other


def main(binary, *more):
    if more == ("--exact",):
        other = exact(binary)
        assert not other, f"{len(other)} of 300 draws go another way: {other}"
        print("300 draws of lengths end at the same minutes in SimPy")
        return
    assert not more, more
    s = shop()
    told = forecast(binary, s)
    bad = compare(told, simulate(s, 77, runs=RUNS["simpy"]), show=True)
    controls = {
        "deviation 15 % larger": simulate(s, 78, law={**LAW, "deviation": 1.15 * LAW["deviation"]}),
        "the plan from behind": simulate(s, 79, backwards=True),
        "no late delivery": simulate(s, 80, delivery={"kept": 1.0, "mean": 1.0}),
    }
    for name, seen in controls.items():
        refused = compare(told, seen)
        print(f"control, {name}: {len(refused)} of {3 * len(told)} refused")
        assert refused, f"the comparison lets pass: {name}"
    assert not bad, bad
    print(f"{3 * len(told)} comparisons with SimPy agree, {len(controls)} controls refused")


if __name__ == "__main__":
    main(*sys.argv[1:])
