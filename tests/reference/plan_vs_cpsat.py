#!/usr/bin/env python3
"""The planning engine against OR-Tools CP-SAT, same instances, same machine, same run.

usage: plan_vs_cpsat.py BINARY [--quick | --full] [--only WORD] [--out FILE.md] [--json FILE.json]

Measured on every instance, from the same file, each schedule judged by referee.py:
- best simple rule: the engine stopped after its seven priority rules, before any search (`--decodes 7`);
- engine: `turnbuckle plan --budget-ms` 100 and 1000, one thread, seed 1;
- CP-SAT: two workers, 1 s and 10 s, from nothing ("plain") and from the best simple rule's schedule ("hinted").
Making the model and reading files is nobody's time. All of it is by the wall clock: run it on a quiet machine.

Without a flag: every instance, about 25 s each. --quick: one or two small ones of each class, CP-SAT 1 s only. --full: also
longer runs of both (engine 10 s, CP-SAT 60 s hinted with the best schedule so far) on what has no published optimum.
--json keeps all values as they come; if the file is there, the best values of earlier runs count as known.

Best known is the published value where there is one, else the best that any run here has found; the table says which. Fails
if the referee refuses a schedule, if one is better than a proven bound, or if the engine's search is worse than its rules.
"""
import argparse
import hashlib
import json
import os
import pathlib
import platform
import statistics
import subprocess
import sys
import tempfile

import ortools

import cpsat
import projects
import published
import referee
import shop_instances

RULES = 7
# Below this many units of weighted tardiness a share of it says little; the difference is shown as it is.
SHARE_FROM = 100
COLUMNS = {"rule": "best simple rule", "engine 0.1": "engine 100 ms", "engine 1": "engine 1 s", "plain 1": "CP-SAT 1 s",
           "hinted 1": "CP-SAT 1 s, hinted", "plain 10": "CP-SAT 10 s", "hinted 10": "CP-SAT 10 s, hinted"}
JOB_SHOPS = "ft06 ft10 ft20 la02 la19 la21 la27 la29 la38 abz7 abz8 orb01 orb03 ta01 ta11 ta21".split()
PROJECTS = [(60, 1.5, 0.25, 0.2), (60, 1.8, 0.5, 0.2), (60, 1.8, 0.75, 0.2), (60, 2.1, 1.0, 0.2), (60, 1.5, 0.75, 0.5), (60, 1.8, 1.0, 0.5),
            (120, 1.5, 0.5, 0.2), (120, 1.8, 0.75, 0.2), (120, 2.1, 1.0, 0.2), (120, 1.5, 1.0, 0.5)]


def instances(profile):
    quick = profile == "quick"
    yield from (published.job_shop(n) for n in (["ft06", "ft10"] if quick else JOB_SHOPS))
    yield from (published.tardiness(n) for n in (["ft06"] if quick else "ft10 la16 la21 abz5 orb01 orb02".split()))
    yield from (published.blocking(n) for n in (["ft06"] if quick else "ft06 la01 la02 la05 la06 la16 ft10".split()))
    yield from (projects.project(*p, seed=1) for p in (PROJECTS[2:3] if quick else PROJECTS))
    yield from (shop_instances.shop(n, 1, "tight") for n in ([30] if quick else [30, 60, 120, 200]))
    yield from (shop_instances.shop(n, 2, "tight") for n in ([] if quick else [30, 60, 120]))
    yield from (shop_instances.shop(n, 2, "easy") for n in ([] if quick else [30, 60, 120, 200]))


class Failed(Exception):
    """Something that must not happen, whatever the machine."""


def judged(instance, starts, who):
    try:
        return referee.check(instance, {"starts": starts})[instance["objective"]]
    except referee.Refused as why:
        raise Failed(f"{instance['name']}, {who}: {why}") from why


def engine(binary, path, instance, who, *budget):
    run = subprocess.run([binary, "plan", "--instance", path, "--seed", "1", *budget], capture_output=True, text=True, check=False)
    if run.returncode:
        raise Failed(f"{instance['name']}, {who}: {run.stderr.strip()}")
    answer = json.loads(run.stdout)
    value = judged(instance, answer["starts"], who)
    if value != answer["objective"]:
        raise Failed(f"{instance['name']}, {who}: says {answer['objective']}, is {value}")
    return {"value": value, "starts": answer["starts"], "decodes": answer["decodes"], "seconds": answer["elapsed_ms"] / 1000}


def solver(model, instance, who, seconds, hint=None):
    answer = model.solve(seconds, hint)
    if answer["starts"] is not None:
        answer["value"] = judged(instance, answer["starts"], who)
        if hint is None or answer["value"] <= judged(instance, hint, "the hint"):
            return answer
    # A hint not yet taken up when time ran out is still a schedule in hand.
    return answer | ({"value": judged(instance, hint, who), "starts": hint, "untouched": True} if hint else {"value": None})


def measure(binary, instance, profile, folder):
    path = str(folder / "instance.json")
    with open(path, "w", encoding="utf-8") as file:
        json.dump(instance, file)
    runs = {"rule": engine(binary, path, instance, "best simple rule", "--decodes", str(RULES))}
    for name, ms in (("engine 0.1", 100), ("engine 1", 1000)):
        runs[name] = engine(binary, path, instance, name, "--budget-ms", str(ms))
    rule = runs["rule"]["starts"]
    model = cpsat.Model(instance, cpsat.horizon(instance, rule))
    for seconds in (1,) if profile == "quick" else (1, 10):
        runs[f"plain {seconds}"] = solver(model, instance, f"CP-SAT {seconds} s", seconds)
        runs[f"hinted {seconds}"] = solver(model, instance, f"CP-SAT {seconds} s, hinted", seconds, rule)
    proven = instance["proven_optimal"] or any(r.get("proven") for r in runs.values())
    if profile == "full" and not proven:
        runs["long engine"] = engine(binary, path, instance, "engine 10 s", "--budget-ms", "10000")
        best = min((r for r in runs.values() if r["value"] is not None), key=lambda r: r["value"])
        runs["long CP-SAT"] = solver(model, instance, "CP-SAT 60 s, hinted", 60, best["starts"])
    bounds = [r["bound"] for r in runs.values() if r.get("bound") is not None] + [instance.get("lower_bound") or 0]
    row = {"name": instance["name"], "class": instance["class"], "objective": instance["objective"], "tasks": len(instance["tasks"]),
           "bound": max(bounds), "published": instance["best_known"], "memory": instance.get("from_memory"),
           "length": instance.get("critical_path"), "load": os.getloadavg()[0],
           "digest": hashlib.sha256(json.dumps(instance, sort_keys=True).encode()).hexdigest(),
           "runs": {k: {x: y for x, y in r.items() if x != "starts"} for k, r in runs.items()}}
    values = [r["value"] for r in runs.values() if r["value"] is not None]
    if min(values) < row["bound"]:
        raise Failed(f"{instance['name']}: {min(values)} is better than the proven bound {row['bound']}")
    for searched in ("engine 0.1", "engine 1"):
        if runs[searched]["value"] > runs["rule"]["value"]:
            raise Failed(f"{instance['name']}: searching has made the best simple rule worse")
    return row | {"best": min(values)}


def settle(row, earlier):
    """What counts as best known, and where it is from."""
    before = earlier.get(row["digest"], {})
    row["bound"] = max(row["bound"], before.get("bound", 0))
    row["best"] = min(row["best"], before.get("best", row["best"]))
    outside = row["published"] or row["memory"]
    row["known"] = row["best"] if outside is None else min(row["best"], outside)
    if row["known"] == row["bound"]:
        row["source"] = "optimal"
    else:
        row["source"] = "best run" if row["known"] != outside else "published" if row["published"] else "from memory"
    return row


def gap(row, value):
    """In percent over the best known, for projects over the critical path; None where a share would mean nothing."""
    base = row["length"] or row["known"]
    if value is None or (row["objective"] == "weighted_tardiness" and base < SHARE_FROM):
        return None
    return 100 * (value - base) / base


def cell(row, value):
    if value is None:
        return "-"
    share = gap(row, value)
    return f"{value} ({share:.1f} %)" if share is not None else f"{value} (+{value - row['known']})"


def mean(rows, key):
    found = [(r, r["runs"][key]["value"]) for r in rows if key in r["runs"]]
    shares = [s for r, v in found if (s := gap(r, v)) is not None]
    if not shares:
        return "-"
    return f"{statistics.mean(shares):.1f} %" + (f" ({len(shares)} of {len(rows)})" if len(shares) < len(rows) else "")


def markdown(rows):
    out = []
    for name in dict.fromkeys(r["class"] for r in rows):
        mine = [r for r in rows if r["class"] == name]
        columns = {k: words for k, words in COLUMNS.items() if k in mine[0]["runs"]}
        over = "the critical path" if mine[0]["length"] else "the best known"
        out += [f"### {name}", "", f"Value (and how far over {over}).", "",
                "| instance | tasks | best known | " + " | ".join(columns.values()) + " |", "| --- " * (3 + len(columns)) + "|"]
        for r in mine:
            known = f"{r['known']} {r['source']}" if not r["length"] else f"{r['known']} {r['source']} ({gap(r, r['known']):.1f} %)"
            out.append(f"| {r['name']} | {r['tasks']} | {known} | " + " | ".join(cell(r, r["runs"][k]["value"]) for k in columns) + " |")
        known = f"{statistics.mean(gap(r, r['known']) for r in mine):.1f} %" if mine[0]["length"] else ""
        out += [f"| **mean** | | {known} | " + " | ".join(f"**{mean(mine, k)}**" for k in columns) + " |", ""]
    return "\n".join(out)


def longest(rows, key):
    return f"{max(r['runs'][key]['seconds'] for r in rows) * 1000:.0f} ms"


def main():
    options = argparse.ArgumentParser(usage=__doc__)
    options.add_argument("binary")
    options.add_argument("--quick", dest="profile", action="store_const", const="quick", default="all")
    options.add_argument("--full", dest="profile", action="store_const", const="full")
    options.add_argument("--only", default="")
    options.add_argument("--out", type=pathlib.Path)
    options.add_argument("--json", type=pathlib.Path)
    said = options.parse_args()
    earlier = {r["digest"]: r for r in json.loads(said.json.read_text())} if said.json and said.json.exists() else {}
    rows, failed = [], []
    with tempfile.TemporaryDirectory() as folder:
        for instance in instances(said.profile):
            if said.only not in instance["name"] and said.only not in instance["class"]:
                continue
            try:
                row = settle(measure(said.binary, instance, said.profile, pathlib.Path(folder)), earlier)
            except Failed as why:
                failed.append(str(why))
                print(f"FAILED {why}", file=sys.stderr, flush=True)
                continue
            rows.append(row)
            print(row["name"], *(f"{k} {r['value']}" for k, r in row["runs"].items()), sep=", ", file=sys.stderr, flush=True)
            if said.json:
                kept = earlier | {r["digest"]: r for r in rows}
                said.json.write_text(json.dumps(list(kept.values()), indent=1))
    if rows:
        head = (f"CP-SAT of OR-Tools {ortools.__version__}, {cpsat.WORKERS} workers; {os.cpu_count()} cores, {platform.machine()}; "
                f"load while measuring {min(r['load'] for r in rows):.1f} to {max(r['load'] for r in rows):.1f}. "
                f"The engine took {longest(rows, 'engine 0.1')} and {longest(rows, 'engine 1')} at most.\n\n")
        text = head + markdown(rows)
        said.out.write_text(text) if said.out else print(text)
    print(f"{len(rows)} instances, {len(failed)} failed", file=sys.stderr)
    return 1 if failed or not rows else 0


if __name__ == "__main__":
    sys.exit(main())
