#!/usr/bin/env python3
"""Random projects with limited resources, of the published kind. usage: projects.py ACTIVITIES NC RF RS SEED OUT.json

Kolisch, Sprecher & Drexl 1995 (ProGen), the parameters behind PSPLIB's j30, j60 and j120; the procedure is told from memory and
the instances are new ones:
- network complexity NC: arcs per activity, none of them redundant; three activities begin and three end the project, nobody has
  more than three direct predecessors or successors;
- resource factor RF: the share of the four resources that an activity uses on average;
- resource strength RS: 0 is as little of a resource as the thirstiest activity needs, 1 as much as the earliest schedule uses.
Durations and demands are 1 to 10.
"""
import json
import random
import sys

RESOURCES, ENDS, ARCS_PER_ACTIVITY_MAX = 4, 3, 3


def reach(after, of):
    seen, todo = set(), [of]
    while todo:
        for b in after[todo.pop()] - seen:
            seen.add(b)
            todo.append(b)
    return seen


def network(rng, n, complexity):
    after, before = [set() for _ in range(n)], [set() for _ in range(n)]

    def fits(a, b):
        """Whether an arc may be added: in order, not full, not redundant and making none redundant."""
        if a >= b or len(after[a]) >= ARCS_PER_ACTIVITY_MAX or len(before[b]) >= ARCS_PER_ACTIVITY_MAX or b in reach(after, a):
            return False
        below = reach(after, b) | {b}
        above = {x for x in range(a) if a in reach(after, x)} | {a}
        return not any(after[x] & below for x in above)

    def add(a, b):
        after[a].add(b)
        before[b].add(a)

    for b in range(ENDS, n):
        free = [a for a in range(min(b, n - ENDS)) if fits(a, b)]
        add(rng.choice(free), b)
    for a in range(n - ENDS - 1, -1, -1):
        free = [b for b in range(max(a + 1, ENDS), n) if fits(a, b)]
        if not after[a] and free:
            add(a, rng.choice(free))
    for _ in range(200 * n):
        if sum(map(len, after)) >= round(complexity * n):
            break
        a, b = rng.randrange(n - ENDS), rng.randrange(ENDS, n)
        if fits(a, b):
            add(a, b)
    return after


def earliest(tasks):
    """Starts without regard to resources; tasks stand in an order that precedence allows."""
    start = {t["id"]: 0 for t in tasks}
    for t in tasks:
        for s in t["successors"]:
            start[s["id"]] = max(start[s["id"]], start[t["id"]] + t["duration"])
    return start


def project(activities, complexity, factor, strength, seed):
    rng = random.Random(f"{activities} {complexity} {factor} {strength} {seed}")
    after = network(rng, activities, complexity)
    tasks = [{"id": f"a{i:03}", "duration": rng.randint(1, 10), "demands": {}, "successors": [{"id": f"a{b:03}"} for b in sorted(after[i])]}
             for i in range(activities)]
    pairs = [(t, r) for t in range(activities) for r in range(RESOURCES)]
    chosen = {(t, rng.randrange(RESOURCES)) for t in range(activities)}
    rest = [p for p in pairs if p not in chosen]
    chosen |= set(rng.sample(rest, max(0, round(factor * len(pairs)) - activities)))
    for t, r in sorted(chosen):
        tasks[t]["demands"][f"R{r}"] = rng.randint(1, 10)
    start = earliest(tasks)
    length = max(start[t["id"]] + t["duration"] for t in tasks)
    resources = []
    for r in (f"R{r}" for r in range(RESOURCES)):
        users = [t for t in tasks if r in t["demands"]]
        least = max((t["demands"][r] for t in users), default=1)
        level = [sum(t["demands"][r] for t in users if start[t["id"]] <= at < start[t["id"]] + t["duration"]) for at in range(length)]
        resources.append({"id": r, "capacity": least + round(strength * (max(level) - least))})
    return {"name": f"project_{activities}_{complexity}_{factor}_{strength}_{seed}", "class": "project", "resources": resources,
            "tasks": tasks, "jobs": [], "holds": [], "objective": "makespan", "best_known": None, "lower_bound": length,
            "critical_path": length, "proven_optimal": False}


if __name__ == "__main__":
    n, nc, rf, rs, seed, out = sys.argv[1:]
    with open(out, "w", encoding="utf-8") as file:
        json.dump(project(int(n), float(nc), float(rf), float(rs), int(seed)), file)
