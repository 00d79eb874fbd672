#!/usr/bin/env python3
"""Referee for planning schedules: says whether a schedule is allowed, and what it costs. Knows nothing of the engine.

usage: referee.py INSTANCE.json SCHEDULE.json [SCHEDULE.json ...]      exit 0: all allowed, 1: at least one is not

Capacity is counted minute by minute over compressed time (every start and end is a boundary), not by sweeping changes, so that
a mistake here and a mistake in an engine are unlikely to be the same mistake. Standard library only.
"""

import bisect
import json
import sys


class Refused(Exception):
    """A schedule that breaks a rule of its instance."""


def whole(value):
    return isinstance(value, int) and not isinstance(value, bool)


def spans_by_resource(instance, start, end):
    """Who occupies how much of what, from when to when: (first minute, minute after, quantity, words)."""
    spans = {r["id"]: [] for r in instance["resources"]}
    for task in instance["tasks"]:
        for resource, quantity in task.get("demands", {}).items():
            if resource not in spans:
                raise Refused(f"{task['id']} demands unknown {resource}")
            spans[resource].append((start[task["id"]], end[task["id"]], quantity, task["id"]))
    for hold in instance.get("holds") or []:
        opener, closer = hold["from_task"], hold["to_task"]
        last = start[closer] if hold.get("until", "end") == "start" else end[closer]
        if last < start[opener]:
            raise Refused(f"hold of {hold['resource']} ends at {last}, before it begins at {start[opener]}")
        spans[hold["resource"]].append((start[opener], last, hold.get("qty", 1), f"hold {opener}..{closer}"))
    return spans


def check_capacity(instance, start, end):
    limit = {r["id"]: r["capacity"] for r in instance["resources"]}
    for resource, spans in spans_by_resource(instance, start, end).items():
        bounds = sorted({t for a, b, _, _ in spans for t in (a, b)})
        level = [0] * len(bounds)
        for a, b, quantity, _ in spans:
            for i in range(bisect.bisect_left(bounds, a), bisect.bisect_left(bounds, b)):
                level[i] += quantity
        for i, used in enumerate(level):
            if used > limit[resource]:
                at = bounds[i]
                who = ", ".join(w for a, b, _, w in spans if a <= at < b)
                raise Refused(f"{resource} is used {used} times at {at}, there are {limit[resource]}: {who}")


def check(instance, schedule):
    """Objective values of an allowed schedule; raises Refused otherwise."""
    tasks = {t["id"]: t for t in instance["tasks"]}
    jobs = {j["id"]: j for j in instance.get("jobs") or []}
    if len(tasks) != len(instance["tasks"]):
        raise Refused("the instance names a task twice")
    start = schedule.get("starts")
    if not isinstance(start, dict):
        raise Refused("a schedule needs starts")
    if start.keys() != tasks.keys():
        odd = sorted(start.keys() ^ tasks.keys())
        raise Refused(f"tasks without a start, or starts without a task: {', '.join(odd[:5])}")
    wrong = [t for t, s in start.items() if not whole(s) or s < 0]
    if wrong:
        raise Refused(f"starts that are no whole minutes from the origin on: {', '.join(sorted(wrong)[:5])}")
    end = {t: start[t] + tasks[t]["duration"] for t in tasks}
    for name, task in tasks.items():
        fixed = task.get("fixed_start")
        if fixed is not None and start[name] != fixed:
            raise Refused(f"{name} has started at {fixed} and was moved to {start[name]}")
        release = jobs[task["job"]].get("release", 0) if task.get("job") is not None and fixed is None else 0
        if start[name] < release:
            raise Refused(f"{name} starts at {start[name]}, released at {release}")
        for after in task.get("successors", []):
            ready = end[name] + (after.get("min_lag") or 0)
            if start[after["id"]] < ready:
                raise Refused(f"{after['id']} starts at {start[after['id']]}, {name} lets it at {ready}")
    check_capacity(instance, start, end)
    done = {}
    for name, task in tasks.items():
        if task.get("job") is not None:
            done[task["job"]] = max(done.get(task["job"], 0), end[name])
    values = {"makespan": max(end.values(), default=0)}
    if jobs:
        late = {j: max(0, done.get(j, 0) - jobs[j]["due"]) for j in jobs if jobs[j].get("due") is not None}
        values["weighted_tardiness"] = sum(jobs[j].get("weight", 1) * minutes for j, minutes in late.items())
        values["flow"] = sum(done.values())
    return values


def main(arguments):
    if len(arguments) < 2:
        print(__doc__.strip(), file=sys.stderr)
        return 2
    with open(arguments[0], encoding="utf-8") as file:
        instance = json.load(file)
    verdict = 0
    for path in arguments[1:]:
        with open(path, encoding="utf-8") as file:
            schedule = json.load(file)
        try:
            values = check(instance, schedule)
        except Refused as why:
            print(f"REFUSED {path}: {why}")
            verdict = 1
            continue
        said = schedule.get("objective")
        if said is not None and said != values.get(instance["objective"]):
            print(f"REFUSED {path}: says {said}, is {values.get(instance['objective'])}")
            verdict = 1
            continue
        print(f"OK {path}: {json.dumps(values)}")
    return verdict


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
