#!/usr/bin/env python3
"""Outside checks that need other people's libraries. usage: run.py [BINARY]

- Critical path: `turnbuckle plan` on random activity graphs without resources must give what networkx'
  longest path gives (networkx, BSD; algorithm: Kelley & Walker 1959).
- ft06 (Fisher & Thompson 1963) and la01 (Lawrence 1984): every schedule passes the referee, ft06 reaches its
  optimum 55 and la01 its optimum 666.
"""
import json
import pathlib
import random
import subprocess
import sys
import tempfile

import networkx

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
BINARY = sys.argv[1] if len(sys.argv) > 1 else str(ROOT / "target/release/turnbuckle")


def solve(path, *more):
    out = subprocess.run([BINARY, "plan", "--instance", str(path), *more], capture_output=True, text=True)
    assert out.returncode == 0, out.stderr
    return json.loads(out.stdout)


def critical_paths(folder):
    for seed in range(25):
        rng = random.Random(seed)
        n = rng.randint(5, 60)
        tasks = [{"id": f"t{i}", "duration": rng.randint(0, 40), "demands": {}, "successors": []} for i in range(n)]
        graph = networkx.DiGraph()
        graph.add_nodes_from(range(n))
        for a in range(n):
            for b in rng.sample(range(a + 1, n), k=min(n - a - 1, rng.randint(0, 3))):
                lag = rng.choice([0, 0, 5, 30])
                tasks[a]["successors"].append({"id": f"t{b}", "min_lag": lag})
                graph.add_edge(a, b, weight=tasks[a]["duration"] + lag)
        instance = {"name": f"graph{seed}", "class": "graph", "resources": [], "tasks": tasks, "jobs": [], "holds": [],
                    "objective": "makespan", "best_known": None, "proven_optimal": False}
        path = folder / f"graph{seed}.json"
        path.write_text(json.dumps(instance))
        answer = solve(path, "--decodes", "10")
        earliest = {node: 0 for node in graph}
        for node in networkx.topological_sort(graph):
            for _, after, data in graph.out_edges(node, data=True):
                earliest[after] = max(earliest[after], earliest[node] + data["weight"])
        length = max(earliest[i] + tasks[i]["duration"] for i in range(n))
        # networkx' own longest path over an added end must be as long.
        graph.add_edges_from((i, "end", {"weight": tasks[i]["duration"]}) for i in range(n))
        assert networkx.dag_longest_path_length(graph) == length
        assert answer["objective"] == length, (seed, answer["objective"], length)
        assert all(answer["starts"][f"t{i}"] == earliest[i] for i in range(n)), seed
    return 25


def job_shops(folder):
    for name, optimum in (("ft06", 55), ("la01", 666)):
        instance = ROOT / f"tests/vectors/plan/{name}.json"
        answer = solve(instance, "--budget-ms", "3000")
        schedule = folder / f"{name}.json"
        schedule.write_text(json.dumps(answer))
        referee = subprocess.run([sys.executable, str(HERE / "referee.py"), str(instance), str(schedule)], capture_output=True, text=True)
        assert referee.returncode == 0, referee.stdout + referee.stderr
        assert answer["objective"] == optimum, (name, answer["objective"])
        worse = {"starts": {task: 0 for task in answer["starts"]}}
        schedule.write_text(json.dumps(worse))
        refused = subprocess.run([sys.executable, str(HERE / "referee.py"), str(instance), str(schedule)], capture_output=True)
        assert refused.returncode != 0, "the referee accepts anything"
    return 2


with tempfile.TemporaryDirectory() as name:
    passed = critical_paths(pathlib.Path(name)) + job_shops(pathlib.Path(name))
print(f"{passed} passed, 0 failed")
