#!/usr/bin/env python3
"""Invented collision repair shops in the portable format of `turnbuckle plan`. usage: shop_instances.py VEHICLES SEED tight|easy OUT.json

One unit of time is five minutes. Nothing is anybody's data: kinds of damage, minutes and crews are made up. What the shops have in
common with real ones is the coupling: while a vehicle is on the lift the body department works on it between two cards of the
mechanics; frame bench and lift nest both ways; filler, sealer and paint cure by the clock; some vehicles are in the middle of it.

A vehicle is in one place: cards outside holds and the outermost holds share `place:V`, cards inside a hold exclude each other by
`work:V`, loose parts use neither. A hold that has begun is opened by a task of no length at 0.
"""
import json
import random
import sys

CREWS = {"body": 9, "mechanics": 16, "paint": 10, "fitting": 14}  # vehicles in the shop per person
EQUIPMENT = {"lift": 22, "bench": 36, "stands": 40, "booth": 36, "bay": 18}  # and per piece
KINDS = {"cosmetic": 22, "panel": 34, "front end": 18, "frame": 16, "underbody": 10}  # how often, of 100
WEIGHTS = (1, 2, 2, 2, 4)
# Days between due date and shortest way through, as a share of what the fullest crew has to do.
SLACK = {"tight": (0.05, 0.55), "easy": (0.2, 0.9)}


class Vehicle:
    """Cards of one vehicle, in an order that precedence allows; `holds` as (equipment or None, opener, closer)."""

    def __init__(self, rng, name):
        self.rng, self.name, self.cards, self.holds, self.last = rng, name, [], [], []

    def card(self, title, crew, low, high, *needs, after=None, loose=False):
        """After the cards before it unless `after` says (card, lag) pairs; returns the card's title."""
        card = {"title": title, "crew": crew, "minutes": self.rng.randint(low, high), "needs": list(needs), "loose": loose,
                "after": self.last if after is None else after}
        self.cards.append(card)
        if not loose:
            self.last = [(title, 0)]
        return title

    def cure(self, low, high):
        self.last = [(title, lag + self.rng.randint(low, high)) for title, lag in self.last]

    def also_after(self, title, lag=0):
        self.last = self.last + [(title, lag)]

    def hold(self, equipment, opener, closer):
        self.holds.append((equipment, opener, closer))


def on_the_lift(v, inside=None):
    """The mechanics drop what hangs below, the body department seals, it cures, the mechanics refit."""
    drop = v.card("drop", "mechanics", 6, 20)
    if v.rng.random() < 0.4:
        # The cradle waits on stands until it goes back in, before the refit.
        out = v.card("cradle out", "mechanics", 3, 9)
        if v.rng.random() < 0.5:
            v.card("clean cradle", "mechanics", 2, 8, after=[(out, 0)], loose=True)
        (inside or seal)(v)
        back = v.card("cradle in", "mechanics", 4, 12)
        v.hold("stands", out, back)
    else:
        (inside or seal)(v)
    v.hold("lift", drop, v.card("refit", "mechanics", 8, 28))


def seal(v):
    v.card("weld patch", "body", 4, 24)
    v.card("seal seam", "body", 3, 10)
    v.cure(6, 36)


def on_the_bench(v, inside=None):
    mount = v.card("mount", "body", 4, 12)
    v.card("pull", "body", 10, 60)
    if inside:
        inside(v)
    v.card("measure", "body", 2, 8)
    v.hold("bench", mount, v.card("dismount", "body", 3, 8))


def paint(v, panels):
    if panels:
        v.card("prime parts", "paint", 3, 8, "bay", after=[(v.cards[0]["title"], v.rng.randint(0, 30))], loose=True)
        part = v.card("paint parts", "paint", 4, 9, "booth", after=[("prime parts", v.rng.randint(6, 14))], loose=True)
    v.card("fill and sand", "paint", 6, 22, "bay")
    v.cure(4, 12)
    v.card("mask", "paint", 3, 8)
    spray = v.card("spray", "paint", 5, 12)
    v.cure(8, 16)
    v.hold("booth", spray, v.card("unload", "paint", 1, 2))
    v.cure(2, 30)
    if panels:
        v.also_after(part, v.rng.randint(8, 16))


def finish(v, calibrate):
    v.card("refit trim", "fitting", 6, 36)
    if calibrate:
        v.card("calibrate", "mechanics", 4, 12)
    v.card("clean", "fitting", 3, 9)
    v.card("last look", "fitting", 2, 4)


def work_on(v, kind):
    v.card("take apart", "body", 3, 30)
    if kind == "panel":
        v.card("repair panel", "body", 8, 48)
    elif kind == "front end":
        v.card("straighten", "body", 6, 30)
        on_the_lift(v)
    elif kind == "frame":
        # Half of them go up while on the bench, the others onto the bench's fixture while up.
        nested = v.rng.random()
        if nested < 0.4:
            on_the_bench(v, on_the_lift)
        elif nested < 0.8:
            on_the_lift(v, on_the_bench)
        else:
            on_the_bench(v)
            on_the_lift(v)
    elif kind == "underbody":
        on_the_lift(v)
    if kind != "underbody":
        paint(v, panels=kind in ("panel", "front end") and v.rng.random() < 0.6)
    finish(v, calibrate=kind in ("front end", "frame") or v.rng.random() < 0.2)


def path(v):
    """Shortest way through, without waiting for anybody."""
    ready = {}
    for card in v.cards:
        ready[card["title"]] = max((ready[a] + lag for a, lag in card["after"]), default=0) + card["minutes"]
    return max(ready.values())


class InWork:
    """How far the vehicles are that are in the shop already, and what they keep."""

    def __init__(self, rng, size):
        self.rng, self.free, self.needy = rng, dict(size), False

    def begin(self, v):
        """Takes out what is done, opens the holds that have begun, and starts a card if somebody is free for it."""
        cut = self.rng.randrange(1, len(v.cards) - 2)
        at = {c["title"]: i for i, c in enumerate(v.cards)}
        open_holds = [h for h in v.holds if at[h[1]] < cut <= at[h[2]]]
        # One vehicle at most may hold something and want more: two could wait for each other for good.
        last = max((at[h[2]] for h in open_holds), default=0)
        wanting = any(cut <= at[h[1]] <= last for h in v.holds) or any(c["needs"] for c in v.cards[cut:last + 1])
        kept = [h[0] for h in open_holds]
        if any(self.free[e] < 1 for e in kept) or (open_holds and wanting and self.needy):
            return
        self.needy |= bool(open_holds) and wanting
        for e in kept:
            self.free[e] -= 1
        done = {c["title"] for c in v.cards[:cut]}
        v.cards = v.cards[cut:]
        for card in v.cards:
            card["after"] = [(a, lag) for a, lag in card["after"] if a not in done]
        v.holds = [h if h[1] not in done else (h[0], None, h[2]) for h in v.holds if h[2] not in done]
        first = v.cards[0]
        opens = any(h[1] == first["title"] for h in v.holds)
        if not first["loose"] and not first["needs"] and not opens and self.free[first["crew"]] > 0 and self.rng.random() < 0.6:
            self.free[first["crew"]] -= 1
            first["started"] = True
            first["minutes"] = max(1, first["minutes"] // 2)


def tasks_of(v):
    """The vehicle's part of the instance: tasks and holds."""
    place, work = f"place:{v.name}", f"work:{v.name}"
    index = {c["title"]: i for i, c in enumerate(v.cards)}
    spans = [(-1 if opener is None else index[opener], index[closer]) for _, opener, closer in v.holds]
    tasks, holds = {}, []
    for i, card in enumerate(v.cards):
        demands = {card["crew"]: 1} | {e: 1 for e in card["needs"]}
        if not card["loose"]:
            demands[work if any(a <= i <= b for a, b in spans) else place] = 1
        tasks[card["title"]] = {"id": f"{v.name}.{card['title']}", "duration": card["minutes"], "demands": demands, "successors": [],
                                "job": v.name} | ({"fixed_start": 0} if card.get("started") else {})
    for card in v.cards:
        for before, lag in card["after"]:
            tasks[before]["successors"].append({"id": f"{v.name}.{card['title']}"} | ({"min_lag": lag} if lag else {}))
    for (equipment, opener, closer), (a, b) in zip(v.holds, spans):
        if opener is None:
            opener = f"held {equipment}"
            tasks[opener] = {"id": f"{v.name}.{opener}", "duration": 0, "demands": {}, "job": v.name, "fixed_start": 0,
                             "successors": [{"id": f"{v.name}.{closer}"}]}
        outermost = not any((c <= a and b <= d) and (c, d) != (a, b) for c, d in spans)
        for resource in [equipment] + [place] * outermost:
            holds.append({"resource": resource, "from_task": f"{v.name}.{opener}", "to_task": f"{v.name}.{closer}"})
    return list(tasks.values()), holds


def shop(vehicles, seed, mood):
    rng = random.Random(f"{vehicles} {seed} {mood}")
    size = {name: max(1, round(vehicles / per)) for name, per in (CREWS | EQUIPMENT).items()}
    fleet, kinds = [], {}
    for i in range(vehicles):
        v = Vehicle(rng, f"W{i:03}")
        kinds[v.name] = rng.choices(list(KINDS), KINDS.values())[0]
        work_on(v, kinds[v.name])
        fleet.append(v)
    load = {crew: sum(c["minutes"] for v in fleet for c in v.cards if c["crew"] == crew) / size[crew] for crew in CREWS}
    fullest = max(load.values())
    in_work, instance = InWork(rng, size), {"resources": [{"id": name, "capacity": n} for name, n in size.items()]}
    tasks, jobs, holds = [], [], []
    for v in fleet:
        way = path(v)
        release = 0 if rng.random() < 0.45 else rng.randint(1, max(1, int(fullest * 0.7)))
        low, high = SLACK[mood]
        due = release + way + int(fullest * rng.uniform(low, high))
        if release == 0 and rng.random() < 0.5:
            in_work.begin(v)
            due = max(way // 3, due - way // 2)
        jobs.append({"id": v.name, "due": due, "weight": rng.choice(WEIGHTS), "release": release, "kind": kinds[v.name]})
        instance["resources"] += [{"id": f"place:{v.name}", "capacity": 1}, {"id": f"work:{v.name}", "capacity": 1}]
        more, spans = tasks_of(v)
        tasks += more
        holds += spans
    return {"name": f"shop_{mood}_{vehicles}_{seed}", "class": f"shop, {mood}", "time_unit_minutes": 5} | instance | {
        "tasks": tasks, "jobs": jobs, "holds": holds, "objective": "weighted_tardiness", "best_known": None, "proven_optimal": False}


if __name__ == "__main__":
    many, number, mood, out = sys.argv[1:]
    with open(out, "w", encoding="utf-8") as file:
        json.dump(shop(int(many), int(number), mood), file)
