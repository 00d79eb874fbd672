#!/usr/bin/env python3
"""Every measure of `turnbuckle report`, computed again from the tables of `turnbuckle export --format csv` alone.

usage: recompute_measures.py [BINARY]            makes a demo shop, exports it, compares every measure
       recompute_measures.py CSV_DIR REPORT.json compares what is there

Shares no code with the product and computes in another way: where it adds up intervals, this looks at every moment at
which anything changed and asks each rule what is true there. What each measure is: server/domain/src/measure/MEASURES.md.
Percentiles are also compared with numpy's (its method "weibull" is the rule of NIST/SEMATECH e-Handbook 7.2.6.2), the
individuals charts with the formula of 6.3.2.2.
"""
import bisect
import csv
import datetime
import json
import math
import pathlib
import subprocess
import sys
import tempfile
import zoneinfo
from collections import defaultdict

import numpy

from exported_shop import DAY, FOREVER, HOUR, MINUTE, Shop, number

INSIDE = ["no_equipment", "nobody_qualified", "nobody_free", "taken_not_started", "no_reason"]


def covers(sorted_list, at):
    """Whether an instant lies in a sorted list of intervals that do not overlap."""
    place = bisect.bisect_right(sorted_list, (at, FOREVER)) - 1
    return place >= 0 and sorted_list[place][0] <= at < sorted_list[place][1]


def open_between(hours, a, b):
    near = hours[max(0, bisect.bisect_right(hours, (a, 0)) - 1) : bisect.bisect_left(hours, (b, 0))]
    return sum(max(0, min(y, b) - max(x, a)) for x, y in near)


def union(intervals):
    total, end = 0, None
    for a, b in sorted(i for i in intervals if i[0] < i[1]):
        if end is None or a > end:
            total, end = total + b - a, b
        elif b > end:
            total, end = total + b - end, b
    return total


def percentile(values, p):
    ordered = sorted(values)
    position = p * (len(ordered) + 1.0)
    below = math.floor(position)
    if below < 1:
        result = ordered[0]
    elif below >= len(ordered):
        result = ordered[-1]
    else:
        result = ordered[below - 1] + (position - below) * (ordered[below] - ordered[below - 1])
    assert math.isclose(result, numpy.percentile(ordered, p * 100, method="weibull"), rel_tol=1e-12, abs_tol=1e-12)
    return result


def added(values):
    total = 0.0
    for value in values:
        total += value
    return total


def individuals(days):
    """NIST/SEMATECH e-Handbook 6.3.2.2."""
    mean = float(numpy.mean(days))
    moving = float(numpy.mean(numpy.abs(numpy.diff(days))))
    return {"mean": mean, "moving_range": moving, "lower": mean - 3 * moving / 1.128, "upper": mean + 3 * moving / 1.128}


class Measures:
    """All measures over [start, end), of one department or class if asked."""

    def __init__(self, shop, start, end, department=None, klass=None):
        self.shop, self.start, self.end = shop, start, min(end, shop.now)
        self.department, self.klass = department, klass
        self.found = {}
        began = min(stages[0][0] for stages in shop.stages.values() if stages)
        self.begin = max(start, began)
        self.hours = [(a, b) for a, b in shop.shop_hours() if a < self.end]
        self.busy = {p: [i for i in spans if i[1] > start and i[0] < self.end] for p, spans in shop.busy.items()}
        self.visited = [v for v in shop.visits.values() if self.inside(v.left) and v.stopped is None and self.wants(v)]
        self.here = [
            v for v in shop.visits.values()
            if v.row["stage"] != "expected" and v.stages and v.stages[0][0] < self.end and (v.over is None or v.over > start)
        ]
        self.uses()
        self.compute()

    def inside(self, at):
        return at is not None and self.start <= at < self.end

    def wants_class(self, visit):
        return self.klass is None or self.klass in visit.classes

    def wants(self, visit):
        return self.wants_class(visit) and (self.department is None or self.department in visit.departments)

    def wants_card(self, card):
        return self.department in (None, card["department"]) and self.wants_class(self.shop.visits[card["order"]])

    # figures

    def medians(self, name, cases):
        self.put(name, cases, lambda v: {"value": percentile(v, 0.5), "p90": percentile(v, 0.9)})

    def means(self, name, cases):
        self.put(name, cases, lambda v: {"value": added(v) / len(v)})

    def sums(self, name, cases, one):
        self.put(name, cases, lambda v: {"value": sum(v) / one})

    def put(self, name, cases, figure):
        """cases: (keys, value)."""
        by = defaultdict(list)
        for keys, value in cases:
            for key in keys:
                by[key].append(value)
        whole = [value for _, value in cases]
        entry = {"count": len(whole), **(figure(whole) if whole else {})}
        entry["by"] = {key: {"count": len(v), **figure(v)} for key, v in by.items()}
        self.found[name] = entry

    def compute(self):
        shop, visited = self.shop, self.visited
        for name, ends in {
            "keys_to_keys": lambda v: (v.arrived, v.left),
            "keys_to_authorised": lambda v: (v.arrived, v.authorised),
            "authorised_to_ready": lambda v: (v.authorised, v.ready),
            "ready_to_keys": lambda v: (v.ready, v.left),
        }.items():
            legs = [(v.classes, ends(v)) for v in visited if None not in ends(v)]
            self.medians(name, [(keys, max(0, b - a) / DAY) for keys, (a, b) in legs])
        came = [v for v in visited if v.arrived is not None]
        self.medians("keys_to_keys_working", [(v.classes, open_between(self.hours, v.arrived, v.left) / HOUR) for v in came])
        promised = [v for v in visited if v.row["first_promise_utc_ms"]]
        kept = lambda v, column: 1.0 if (v.ready or v.left) <= int(v.row[column] or v.row["first_promise_utc_ms"]) else 0.0
        self.means("promise_kept", [(v.classes, kept(v, "first_promise_utc_ms")) for v in promised])
        self.means("promise_last_kept", [(v.classes, kept(v, "promise_utc_ms")) for v in promised])
        self.means("promise_moves", [(v.classes, float(v.row["promise_moves"])) for v in promised])
        self.touch([v for v in came if v.arrived < v.left])
        self.latencies()
        self.clocked()
        self.waits()
        self.equipment()
        self.sums("throughput", [(v.classes, 1) for v in visited], 1)
        self.sums("throughput_sold", [(v.classes, v.sold * MINUTE) for v in visited if v.sold is not None], HOUR)
        inside = [v for v in shop.visits.values() if v.arrived is not None and self.wants(v)]
        gone = lambda v: v.gone if v.gone is not None else FOREVER
        stays = [(v.classes, min(gone(v), self.end) - max(v.arrived, self.start)) for v in inside]
        self.sums("in_process", [(keys, stay) for keys, stay in stays if stay > 0], self.end - self.start)
        still = [v for v in inside if v.arrived < self.end <= gone(v)]
        self.sums("in_shop", [(v.classes, 1) for v in still], 1)
        self.medians("age", [(v.classes, (self.end - v.arrived) / DAY) for v in still])
        self.quality()

    def touch(self, visited):
        sold, clocked, flow = [], [], []
        for v in visited:
            days = (v.left - v.arrived) / DAY
            if v.sold is not None:
                sold.append((v.classes, v.sold / 60 / days))
            spans = [s[:2] for c in self.shop.cards_of[v.order] for s in self.shop.spans[c["card"]] if s[0] < s[1]]
            clocked.append((v.classes, sum(b - a for a, b in spans) / HOUR / days))
            hours = open_between(self.hours, v.arrived, v.left)
            if hours > 0:
                inside = [(max(a, v.arrived, x), min(b, v.left, y)) for a, b in spans for x, y in self.hours]
                flow.append((v.classes, union(inside) / hours))
        self.means("touch_sold", sold)
        self.means("touch_clocked_per_day", clocked)
        self.medians("flow_efficiency", flow)

    def latencies(self):
        asked = [h for h in self.shop.handoffs if self.department in (None, h["to_department"]) and self.wants_class(self.shop.visits[h["order"]])]
        for name, column in (("asked_to_taken", "taken_at_utc_ms"), ("asked_to_started", "started_at_utc_ms"), ("asked_to_handed_back", "handed_back_at_utc_ms")):
            cases = []
            for h in asked:
                end = number(h[column])
                if self.inside(end):
                    begin = max(int(h["asked_at_utc_ms"]), int(h["ready_at_utc_ms"] or 0))
                    cases.append(((h["to_department"],), max(0, end - begin) / HOUR))
            self.medians(name, cases)

    def clocked(self):
        hours, doubtful, planned, worked, waited = [], [], [], [], []
        for card in filter(self.wants_card, self.shop.cards.values()):
            spans, department = self.shop.spans[card["card"]], card["department"]
            for a, b, row in spans:
                part = min(b, self.end) - max(a, self.start)
                if part > 0:
                    hours.append(((department,), part))
                    if row["corrected"] == "true" or row["uncertain"] == "true":
                        doubtful.append((("corrected" if row["corrected"] == "true" else "uncertain",), part))
            if card["life"] == "done" and spans and self.inside(number(card["done_at_utc_ms"])):
                keys = [department] + ([f"{department}/{card['routing']}"] if card["routing"] else [])
                planned.append((keys, int(card["planned_minutes"]) * MINUTE))
                worked.append((keys, sum(max(0, b - a) for a, b, _ in spans)))
            first = min((a for a, _, _ in spans), default=None)
            if card["ready_at_utc_ms"] and self.inside(first):
                waited.append(((department,), max(0, first - int(card["ready_at_utc_ms"])) / HOUR))
        self.sums("touch_clocked", hours, HOUR)
        self.sums("clocked_doubtful", doubtful, HOUR)
        self.sums("planned_done", planned, HOUR)
        self.sums("clocked_done", worked, HOUR)
        self.medians("waited", waited)
        over, under = self.found["clocked_done"], self.found["planned_done"]
        ratio = lambda a, b: {"count": a["count"], "value": a["value"] / b["value"]} if b.get("value") else {"count": 0}
        self.found["clocked_to_planned"] = {**ratio(over, under), "by": {key: ratio(over["by"][key], under["by"][key]) for key in over["by"]}}

    # equipment

    def held(self, card, left):
        if not card["opens"] or not self.shop.spans[card["card"]]:
            return None
        begin = min(a for a, _, _ in self.shop.spans[card["card"]])
        ends = [int(c["done_at_utc_ms"]) for c in self.shop.cards_of[card["order"]] if c["closes"] == card["opens"] and c["done_at_utc_ms"]]
        return begin, min(min((e for e in ends if e >= begin), default=left), left)

    def uses(self):
        """Who was on which piece: by standing there, by work that names it, by what was opened there."""
        self.on, self.worked_on = defaultdict(list), defaultdict(list)
        for v in self.here:
            left = v.over if v.over is not None else self.shop.now
            uses = []
            stood = self.shop.stood[v.order]
            for (a, place), b in zip(stood, [a for a, _ in stood[1:]] + [left]):
                uses.append((self.shop.places.get(place), a, b))
            for card in self.shop.cards_of[v.order]:
                piece = card["used_equipment"]
                for a, b, _ in self.shop.spans[card["card"]]:
                    uses.append((piece, a, b))
                    a, b = max(a, self.start), min(b, self.end)
                    if piece in self.shop.equipment and a < b:
                        self.worked_on[piece].append((a, b, v.order))
                held = self.held(card, left)
                if held:
                    uses.append((piece, *held))
            for piece, a, b in uses:
                a, b = max(a, self.start), min(b, self.end)
                if piece in self.shop.equipment and a < b:
                    self.on[piece].append((a, b, v.order))
        self.edges_on = {piece: sorted({t for a, b, _ in uses for t in (a, b)} | {t for i in self.shop.away[piece] for t in i}) for piece, uses in self.on.items()}

    def pieces(self, kind):
        return [e for e, row in self.shop.equipment.items() if row["kind"] == kind and row["retired"] == "false"]

    def all_taken(self, kind, order, at):
        """No piece of the kind is left for this vehicle."""
        pieces = self.pieces(kind)
        on = {p: [o for a, b, o in self.on[p] if a <= at < b] for p in pieces}
        out = lambda p: any(a <= at < b for a, b in self.shop.away[p])
        mine = [p for p, row in self.shop.equipment.items() if row["kind"] == kind and any(o == order for a, b, o in self.on[p] if a <= at < b)]
        return bool(pieces) and not mine and all(on[p] or out(p) for p in pieces)

    # people

    def pool(self, department):
        return [
            p for p, row in self.shop.people.items()
            if row["role"] in ("technician", "parts", "planner") and (row["retired"] == "false" or row["retired_at_utc_ms"])
            and (row["department"] == department or (p, department) in self.shop.also)
        ]

    def is_free(self, person, at):
        row = self.shop.people[person]
        if row["retired"] == "true" and at >= int(row["retired_at_utc_ms"] or 0):
            return False
        return (
            covers(self.shop.calendar_of(person=person), at)
            and not any(a <= at < b for a, b in self.shop.away[person])
            and not any(a <= at < b for a, b in self.busy.get(person, []))
        )

    def person_edges(self, person):
        """Every moment at which a person begins or ends being free, perhaps."""
        if not hasattr(self, "known_edges"):
            self.known_edges = {}
        if person not in self.known_edges:
            lists = (self.shop.calendar_of(person=person), self.shop.away[person], self.busy.get(person, []))
            edges = {t for one in lists for i in one for t in i} | {until for (p, _), until in self.shop.qualified.items() if p == person}
            retired = number(self.shop.people[person]["retired_at_utc_ms"])
            self.known_edges[person] = sorted(edges | ({retired} if retired else set()))
        return self.known_edges[person]

    # what every vehicle was doing

    def stretches(self, visit):
        """(from, to, doing, on a loose part, card) of one vehicle; doing is worked, ready or a reason."""
        shop, order = self.shop, visit.order
        cards = shop.cards_of[order]
        done = lambda c: int(c["done_at_utc_ms"] or c["created_at_utc_ms"]) if c["life"] == "done" else FOREVER
        due = {}
        for c in cards:
            before = [shop.cards[b] for b in shop.after[c["card"]] if b in shop.cards]
            before = [b for b in before if b["life"] != "cancelled"]
            due[c["card"]] = FOREVER if any(b["life"] != "done" for b in before) else max([int(c["created_at_utc_ms"])] + [done(b) for b in before])
        edges = {t for t, _ in visit.stages} | {t for h in shop.holds[order] for t in h[:2]}
        for c in cards:
            edges |= {due[c["card"]], done(c), int(c["ready_at_utc_ms"] or 0), int(c["taken_at_utc_ms"] or 0)}
            edges |= {t for a, b, _ in shop.spans[c["card"]] for t in (a, b)}
        end = min(visit.over if visit.over is not None else shop.now, shop.now, self.end)
        start = max(self.start, int(shop.orders[order]["created_at_utc_ms"]))
        moments = sorted({t for t in edges if start < t < end} | {min(start, end), end})
        found = []
        for a, b in zip(moments, moments[1:]):
            stage = next((s for t, s in reversed(visit.stages) if t <= a), "expected")
            if stage in ("expected", "delivered"):
                continue
            runs = [c for c in cards if any(x <= a < y for x, y, _ in shop.spans[c["card"]])]
            loose = any(c["off_vehicle"] == "true" for c in runs)
            if any(c["off_vehicle"] == "false" for c in runs):
                found.append((a, b, "worked", loose, None))
            elif stage in ("ready", "stopped", "away"):
                found.append((a, b, stage, loose, None))
            else:
                found += [(x, y, why, loose, card) for x, y, why, card in self.why(visit, stage, cards, due, done, runs, a, b)]
        return found

    def closed_meanwhile(self, cards, closer):
        """Closed so that it rolls, and opened again: a hold of the whole vehicle does not keep that."""
        def follows(card):
            return closer["card"] in self.shop.after[card] or any(follows(before) for before in self.shop.after[card] if before in self.shop.cards)
        again = [c for c in cards if closer["closes"] and c["opens"] == closer["closes"] and c["life"] != "cancelled"]
        return any(follows(c["card"]) for c in again)

    def why(self, visit, stage, cards, due, done, runs, a, b):
        shop, order = self.shop, visit.order
        standing = [c for c in cards if c["life"] != "cancelled" and due[c["card"]] <= a < done(c) and c not in runs]
        keeps = {}
        for c in standing:
            whole = not self.closed_meanwhile(cards, c)
            holds = [what for since, ended, what, named in shop.holds[order] if since <= a < ended and (whole if named is None else c["card"] in named)]
            dry = c["ready_at_utc_ms"] and int(c["ready_at_utc_ms"]) <= a
            keeps[c["card"]] = next((why for applies, why in (
                ("sublet" in holds, "away"),
                ("approval" in holds or c["life"] == "proposed", "approval"),
                ("parts" in holds, "parts"),
                ("customer" in holds, "customer"),
                ("other" in holds, "other"),
                (not dry, "curing"),
            ) if applies), None)
        begun_next = lambda c: (min((x for x, y, _ in shop.spans[c["card"]] if a < x < y), default=FOREVER), int(c["place"]))
        free = [c for c in standing if keeps[c["card"]] is None]
        if not free:
            if standing:
                card = min(standing, key=begun_next)
                return [(a, b, keeps[card["card"]], card)]
            return [(a, b, "approval" if stage == "arrived" else "no_reason", None)]
        card = min(free, key=begun_next)
        taken = card["taken_by"] and int(card["taken_at_utc_ms"]) <= a
        begun = any(x <= a for x, y, _ in shop.spans[card["card"]] if x < y)
        department, needed, kind = card["department"], card["qualification"], card["needs_equipment"]
        lead = shop.leads.get((order, department)) if shop.departments.get(department, {}).get("working") == "lead" else None
        whose = card["taken_by"] if taken else lead
        people = [whose] if whose else self.pool(department)
        people = [p for p in people if p in shop.people]
        pool = self.pool(department)
        edges = {t for p in set(people) | set(pool) for t in self.person_edges(p)[bisect.bisect_right(self.person_edges(p), a):bisect.bisect_left(self.person_edges(p), b)]}
        if kind:
            edges |= {t for p in self.shop.equipment if self.shop.equipment[p]["kind"] == kind for t in self.edges_on.get(p, []) if a < t < b}
        nobody_there = not whose and not pool
        if nobody_there:
            edges |= {t for i in shop.calendar_of(department=department) for t in i if a < t < b}
        moments = sorted(edges | {a, b})
        found = []
        for x, y in zip(moments, moments[1:]):
            if kind and self.all_taken(kind, order, x):
                why = "no_equipment"
            elif needed and not any(x < shop.qualified.get((p, needed), 0) for p in pool):
                why = "nobody_qualified"
            else:
                can = people if whose else [p for p in people if not needed or x < shop.qualified.get((p, needed), 0)]
                there = covers(shop.calendar_of(department=department), x) if nobody_there else any(self.is_free(p, x) for p in can)
                why = "nobody_free" if not there else "taken_not_started" if taken and not begun else "no_reason"
            found.append((x, y, why, card))
        return found

    def waits(self):
        self.doing = {v.order: self.stretches(v) for v in self.here}
        tables = {"wait_by_reason": {}, "wait_by_department": {}, "wait_by_reason_working": {}, "wait_by_department_working": {}}
        for v in filter(self.wants_class, self.here):
            for a, b, why, loose, card in self.doing[v.order]:
                department = card["department"] if card else "no_department"
                if why in ("worked", "ready") or loose or self.department not in (None, department):
                    continue
                for end, length in (("", b - a), ("_working", open_between(self.hours, a, b))):
                    if length > 0:
                        for name, keys in (("wait_by_reason", [why]), ("wait_by_department", [department, f"{department}/{why}"])):
                            table = tables[name + end]
                            for key in [None] + keys:
                                table.setdefault(key, {}).setdefault(v.order, 0)
                                table[key][v.order] += length
        for name, table in tables.items():
            figure = lambda by_order: {"count": len(by_order), "value": sum(by_order.values()) / HOUR}
            whole = table.pop(None, None)
            entry = figure(whole) if whole else {"count": 0}
            self.found[name] = {**entry, "by": {key: figure(by_order) for key, by_order in table.items()}}

    def equipment(self):
        if self.klass is None:
            self.equipment_time()
        held, blocked = [], []
        for v in filter(self.wants_class, self.here):
            for card in self.shop.cards_of[v.order]:
                piece = card["used_equipment"]
                of = self.shop.equipment.get(piece, {}).get("department")
                found = self.held(card, v.over if v.over is not None else self.shop.now) if piece else None
                if not found or self.department not in (None, of):
                    continue
                a, b = max(found[0], self.start), min(found[1], self.end)
                if a < b:
                    spans = [s[:2] for c in self.shop.cards_of[v.order] for s in self.shop.spans[c["card"]]]
                    held.append(((piece,), b - a))
                    worked = union((max(x, s, a), min(y, t, b)) for x, y in self.hours for s, t in spans)
                    blocked.append(((piece,), open_between(self.hours, a, b) - worked))
        self.sums("equipment_held", held, HOUR)
        self.sums("equipment_blocked", blocked, HOUR)

    def equipment_time(self):
        by, whole, count = {}, 0, 0
        for piece, row in sorted(self.shop.equipment.items()):
            uses = sorted(self.on.get(piece, []), key=lambda u: u[:2])
            if self.department not in (None, row["department"]) or (row["retired"] == "true" and not uses):
                continue
            hours = [(max(a, self.begin), min(b, self.end)) for a, b in self.shop.calendar_of(department=row["department"])]
            hours = [(a, b) for a, b in hours if a < b]
            out = self.shop.away[piece]
            worked_on = sorted(self.worked_on.get(piece, []), key=lambda u: u[:2])
            edges = {t for i in hours + out for t in i} | {t for a, b, _ in uses for t in (a, b)}
            for order in {o for _, _, o in uses}:
                edges |= {t for s in self.doing.get(order, []) for t in s[:2]}
            turns = lambda uses: self.turns(uses)
            turn, work = turns(uses), turns(worked_on)
            moments = sorted(t for t in edges if self.begin <= t <= self.end)
            starts = {order: [s[0] for s in self.doing.get(order, [])] for order in {o for _, _, o in uses}}
            total = 0
            for a, b in zip(moments, moments[1:]):
                if not covers(hours, a) or any(x <= a < y for x, y in out):
                    continue
                total += b - a
                worker, occupant = self.holder(work, a), self.holder(turn, a)
                if worker:
                    what, order = "worked", worker
                elif occupant:
                    order = occupant
                    place = bisect.bisect_right(starts[order], a) - 1
                    stretch = self.doing[order][place] if place >= 0 and self.doing[order][place][1] > a else None
                    if not stretch:
                        what = "no_reason"
                    elif stretch[2] in INSIDE and stretch[4]:
                        what = f"for:{stretch[4]['department']}"
                    else:
                        what = stretch[2]
                else:
                    what, order = "empty", None
                length, orders = by.setdefault(f"{piece}/{what}", [0, set()])
                by[f"{piece}/{what}"][0] += b - a
                if order:
                    orders.add(order)
            if total:
                by[piece] = [total, {piece}]
                whole, count = whole + total, count + 1
        entry = {"count": count, "value": whole / HOUR} if count else {"count": 0}
        self.found["equipment_time"] = {**entry, "by": {key: {"count": len(orders), "value": length / HOUR} for key, (length, orders) in by.items()}}

    @staticmethod
    def turns(uses):
        """Two vehicles on one piece are a mistake of somebody: who came first has it until that use ends."""
        found, at = [], 0
        for a, b, order in uses:
            a, at = max(a, at), max(at, b)
            if a < b:
                found.append((a, b, order))
        return found

    @staticmethod
    def holder(turns, at):
        place = bisect.bisect_right([a for a, _, _ in turns], at) - 1
        return turns[place][2] if place >= 0 and at < turns[place][1] else None

    # what came back

    def quality(self):
        shop = self.shop
        back = defaultdict(list)
        for row in shop.orders.values():
            card = shop.cards.get(row["comeback_of_card"])
            if card:
                came = next((t for t, s in shop.stages[row["order"]] if s == "arrived"), int(row["created_at_utc_ms"]))
                back[card["order"]].append((came, card))
        share, caused = [], []
        for v in shop.visits.values():
            if v.left is not None and v.stopped is None and self.wants(v) and self.inside(v.left + 90 * DAY):
                cards = [card for came, card in back[v.order] if v.left <= came < v.left + 90 * DAY]
                share.append(((shop.month(v.left),), 1.0 if cards else 0.0))
                caused += [((card["department"],), 1) for card in cards]
        self.means("comebacks", share)
        self.sums("comebacks_caused", caused, 1)
        share, clocked = [], []
        for v in self.visited:
            cards = [c for c in shop.cards_of[v.order] if not c["handoff"] and c["life"] != "cancelled" and c["routing"] and c["step"]]
            again = [
                c for c in cards
                if any(
                    (o["routing"], o["step"]) == (c["routing"], c["step"]) and o is not c and o["done_at_utc_ms"]
                    and int(o["created_at_utc_ms"]) <= int(c["created_at_utc_ms"]) and int(o["done_at_utc_ms"]) <= int(c["created_at_utc_ms"])
                    for o in cards
                )
            ]
            share.append((v.classes, 1.0 if again else 0.0))
            clocked += [((c["department"],), sum(max(0, b - a) for a, b, _ in shop.spans[c["card"]])) for c in again]
        self.means("rework", share)
        self.sums("rework_clocked", clocked, HOUR)


def compare(shop, report):
    """Raises at the first figure that differs; returns how many were the same, and how many to the last bit."""
    own = Measures(shop, report["from"], report["to"], report.get("department"), report.get("class"))
    said = {m["id"]: m for m in report["measures"]}
    assert own.found.keys() == said.keys(), own.found.keys() ^ said.keys()
    figures = exact = 0
    for name, mine in own.found.items():
        theirs = said[name]
        assert mine["by"].keys() == theirs["by"].keys(), (name, mine["by"].keys() ^ theirs["by"].keys())
        for key, a, b in [("", mine, theirs)] + [(key, mine["by"][key], theirs["by"][key]) for key in mine["by"]]:
            assert a["count"] == b["count"], (name, key, a, b)
            for word in ("value", "p90"):
                x, y = a.get(word), b.get(word)
                assert (x is None) == (y is None), (name, key, word, x, y)
                if x is not None:
                    assert math.isclose(x, y, rel_tol=1e-12, abs_tol=1e-12), (name, key, word, x, y)
                    figures, exact = figures + 1, exact + (x == y)
    charts(own, report["control"])
    return len(own.found), figures, exact


def charts(own, control):
    for chart in control["charts"]:
        visits = sorted((v for v in own.visited if chart["class"] in v.classes and v.arrived is not None), key=lambda v: (v.arrived, v.row["number"]))
        assert [p["number"] for p in chart["points"]] == [v.row["number"] for v in visits]
        days = [max(0, v.left - v.arrived) / DAY for v in visits]
        if len(days) > 1:
            for word, value in individuals(days).items():
                assert math.isclose(chart["limits"][word], value, rel_tol=1e-9), (chart["class"], word)
        beyond = [p["number"] for p in chart["points"] if "beyond" in p.get("signals", [])]
        assert beyond == [v.row["number"] for v, d in zip(visits, days) if len(days) > 1 and not chart["limits"]["lower"] <= d <= chart["limits"]["upper"]]


def demo(binary, folder, *more):
    """The invented shop's data directory: the demo writes it before it says that it is open."""
    # What runs in it runs until now, when it is measured: over no break and past no shift, which are not computed here.
    now = datetime.datetime.now(zoneinfo.ZoneInfo("America/Chicago"))
    more = [*more, "--date", now.strftime("%Y-%m-%d"), "--at", now.strftime("%H:%M")]
    server = subprocess.Popen([binary, "demo", "--data", str(folder), "--listen", "127.0.0.1:0", "--plain", *more], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    try:
        for line in server.stdout:
            if "is open on" in line:
                return
        raise AssertionError("the demo did not open")
    finally:
        server.terminate()
        server.wait()
        server.stdout.close()


def command(binary, *arguments):
    out = subprocess.run([binary, *arguments], capture_output=True, text=True)
    assert out.returncode == 0, (arguments, out.stderr)
    return out.stdout


def tampered(folder, report):
    """A comparison that cannot fail shows nothing: a column moved by a minute must be noticed."""
    for table, column in (("spans", "to_utc_ms"), ("stages", "at_utc_ms"), ("handoffs", "taken_at_utc_ms"), ("stood", "from_utc_ms")):
        path = folder / "csv" / f"{table}.csv"
        kept = path.read_text(encoding="utf-8")
        rows = list(csv.DictReader(kept.splitlines()))
        for row in rows:
            if row[column] and report["from"] < int(row[column]) < report["to"]:
                row[column] = str(int(row[column]) + MINUTE)
        with open(path, "w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, rows[0].keys())
            writer.writeheader()
            writer.writerows(rows)
        try:
            compare(Shop(folder / "csv", report["now"]), report)
        except AssertionError:
            path.write_text(kept, encoding="utf-8")
        else:
            raise SystemExit(f"a changed {table}.csv gave the same figures")
    return 4


def main(arguments):
    if len(arguments) == 2:
        report = json.loads(pathlib.Path(arguments[1]).read_text(encoding="utf-8"))
        print("%d measures, %d figures the same, %d to the last bit" % compare(Shop(pathlib.Path(arguments[0]), report["now"]), report))
        return
    root = pathlib.Path(__file__).resolve().parent.parent.parent
    binary = arguments[0] if arguments else str(root / "target/release/turnbuckle")
    today = datetime.date.today()
    before = lambda days: str(today - datetime.timedelta(days=days))
    questions = [
        ["--from", before(35), "--to", before(0)],
        ["--from", before(60), "--to", before(2), "--department", "refinish"],
        ["--from", before(50), "--to", before(20), "--class", "large"],
    ]
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        demo(binary, folder / "data", "--days", "150", "--seed", "3")
        reports = []
        for question in questions:
            report = json.loads(command(binary, "report", "--json", "--data", str(folder / "data"), *question))
            reports.append(report)
            if not (folder / "csv").exists():
                command(binary, "export", "--format", "csv", "--data", str(folder / "data"), "--out", str(folder / "csv"))
            shop = Shop(folder / "csv", report["now"])
            print(" ".join(question) + ": %d measures, %d figures the same, %d to the last bit" % compare(shop, report))
        print(f"{tampered(folder, reports[0])} tampered exports noticed")
    print(f"{len(questions)} passed, 0 failed")


if __name__ == "__main__":
    main(sys.argv[1:])
