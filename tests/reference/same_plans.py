#!/usr/bin/env python3
"""The same problem, seed and budget give the same plan in every build. usage: same_plans.py BINARY OTHER_BINARY

Asks both (a debug and a release build: other code, overflow checks on and off) for plans of one problem of each kind the engine
searches in its own way, counted in decoded lists, and compares the plans by their hash, their value and the work done.
"""
import json
import pathlib
import subprocess
import sys
import tempfile

import projects
import shop_instances

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
SEEDS = ("1", "2", "7")


def plan(binary, path, decodes, seed):
    run = subprocess.run([binary, "plan", "--instance", path, "--decodes", decodes, "--seed", seed], capture_output=True, text=True)
    assert run.returncode == 0, run.stderr
    answer = json.loads(run.stdout)
    return answer["hash"], answer["objective"], answer["decodes"]


def main(first, second):
    plans = set()
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        made = {"shop": (shop_instances.shop(25, 1, "tight"), "400"), "easy": (shop_instances.shop(12, 2, "easy"), "600"),
                "project": (projects.project(30, 1.8, 0.75, 0.2, 1), "1500")}
        paths = [(ROOT / f"tests/vectors/plan/{n}.json", "3000") for n in ("ft06", "la01")]
        for kind, (instance, decodes) in made.items():
            (folder / f"{kind}.json").write_text(json.dumps(instance))
            paths.append((folder / f"{kind}.json", decodes))
        for path, decodes in paths:
            for seed in SEEDS:
                one, other = plan(first, path, decodes, seed), plan(second, path, decodes, seed)
                assert one == other, f"{path.name}, seed {seed}: {one} and {other}"
                plans.add(one[0])
    assert len(plans) > len(paths), "seeds that change nothing would make this test blind"
    print(f"{len(paths) * len(SEEDS)} plans are the same in both builds ({len(plans)} different ones)")


if __name__ == "__main__":
    main(*sys.argv[1:])
