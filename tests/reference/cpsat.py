"""The planning instance as a model for CP-SAT (OR-Tools, Apache-2.0): the opponent of the planning engine.

As its users' manual models scheduling: one start per task, intervals of fixed length, no-overlap where there is one of a resource,
cumulative where there are several; a hold is an interval of variable length between two tasks. Nothing is relaxed or added.
"""
import time

from ortools.sat.python import cp_model

# Branches of CP-SAT's own portfolio; the engine has one thread.
WORKERS = 2


class Model:
    def __init__(self, instance, horizon):
        self.instance, self.horizon = instance, horizon
        self.m = cp_model.CpModel()
        self.of = {t["id"]: t for t in instance["tasks"]}
        self.jobs = {j["id"]: j for j in instance.get("jobs") or []}
        # Every variable with how its value follows from starts: hints must be complete to be of use.
        self.derived = []
        self.start = {name: self.begin(task) for name, task in self.of.items()}
        for name, task in self.of.items():
            for after in task["successors"]:
                self.m.add(self.start[after["id"]] >= self.start[name] + task["duration"] + (after.get("min_lag") or 0))
        self.resources()
        self.objective()

    def begin(self, task):
        if task.get("fixed_start") is not None:
            return self.m.new_constant(task["fixed_start"])
        release = self.jobs[task["job"]].get("release", 0) if task.get("job") is not None else 0
        return self.m.new_int_var(release, max(release, self.horizon - task["duration"]), task["id"])

    def resources(self):
        used = {r["id"]: [] for r in self.instance["resources"]}
        for name, task in self.of.items():
            # What takes no time uses nothing, and no-overlap would still keep it out of what others use.
            if task["duration"] > 0:
                interval = self.m.new_fixed_size_interval_var(self.start[name], task["duration"], name)
                for resource, quantity in task["demands"].items():
                    used[resource].append((interval, quantity))
        sometimes_empty = set()
        for i, hold in enumerate(self.instance.get("holds") or []):
            opener, closer = hold["from_task"], hold["to_task"]
            tail = self.of[closer]["duration"] if hold.get("until", "end") == "end" else 0
            if self.of[opener]["duration"] + tail == 0:
                sometimes_empty.add(hold["resource"])
            length = self.m.new_int_var(0, self.horizon, f"hold {i}")
            end = self.start[closer] + tail
            self.derived.append((length, lambda s, o=opener, c=closer, t=tail: s[c] + t - s[o]))
            interval = self.m.new_interval_var(self.start[opener], length, end, f"hold {i}")
            used[hold["resource"]].append((interval, hold.get("qty", 1)))
        for resource in self.instance["resources"]:
            spans, capacity = used[resource["id"]], resource["capacity"]
            if capacity == 1 and all(q == 1 for _, q in spans) and resource["id"] not in sometimes_empty:
                self.m.add_no_overlap([i for i, _ in spans])
            elif sum(q for _, q in spans) > capacity:
                self.m.add_cumulative([i for i, _ in spans], [q for _, q in spans], capacity)

    def end(self, name):
        return self.start[name] + self.of[name]["duration"]

    def objective(self):
        if self.instance["objective"] == "makespan":
            last = self.m.new_int_var(0, self.horizon, "makespan")
            for name in self.of:
                self.m.add(last >= self.end(name))
            self.derived.append((last, lambda s: max(s[n] + t["duration"] for n, t in self.of.items())))
            self.m.minimize(last)
            return
        cost = []
        for job in self.jobs.values():
            mine = [n for n, t in self.of.items() if t.get("job") == job["id"]]
            if not mine or job.get("due") is None:
                continue
            late = self.m.new_int_var(0, max(0, self.horizon - job["due"]), f"late {job['id']}")
            for name in mine:
                self.m.add(late >= self.end(name) - job["due"])
            self.derived.append((late, lambda s, d=job["due"], mine=mine: max(0, max(s[n] + self.of[n]["duration"] for n in mine) - d)))
            cost.append(job.get("weight", 1) * late)
        self.m.minimize(sum(cost))

    def solve(self, seconds, hint=None, seed=1):
        """Starts (None: nothing found in time), what was proven, and the time the solver itself took."""
        self.m.clear_hints()
        if hint is not None:
            for name, variable in self.start.items():
                if self.of[name].get("fixed_start") is None:
                    self.m.add_hint(variable, hint[name])
            for variable, value in self.derived:
                self.m.add_hint(variable, value(hint))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = WORKERS
        solver.parameters.max_time_in_seconds = seconds
        solver.parameters.random_seed = seed
        began = time.monotonic()
        status = solver.solve(self.m)
        answer = {"starts": None, "proven": status == cp_model.OPTIMAL, "bound": None, "seconds": round(time.monotonic() - began, 2)}
        if status == cp_model.INFEASIBLE or status == cp_model.MODEL_INVALID:
            raise AssertionError(f"CP-SAT calls {self.instance['name']} {solver.status_name(status)}: the model is wrong")
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            answer["starts"] = {name: int(solver.value(v)) for name, v in self.start.items()}
        bound = solver.best_objective_bound
        # Bounds of whole-numbered objectives may be rounded up; without any CP-SAT says minus infinity.
        if bound > -1e15:
            answer["bound"] = int(-(-(bound - 1e-6) // 1))
        return answer


def horizon(instance, known):
    """No schedule that could win ends later: everything one after the other, or (tardiness) twice as long as a known schedule."""
    work = sum(t["duration"] + max([s.get("min_lag") or 0 for s in t["successors"]], default=0) for t in instance["tasks"])
    latest = max((j.get("release", 0) for j in instance.get("jobs") or []), default=0)
    end = max(known[t["id"]] + t["duration"] for t in instance["tasks"])
    return min(latest + work, end if instance["objective"] == "makespan" else 2 * end)
