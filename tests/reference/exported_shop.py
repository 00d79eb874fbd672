"""The tables of `turnbuckle export --format csv` as plain Python: who, what, when. Computes nothing."""
import csv
import datetime
import zoneinfo
from collections import defaultdict

MINUTE = 60_000
HOUR = 60 * MINUTE
DAY = 24 * HOUR
FOREVER = 1 << 62


def number(text):
    return int(text) if text else None


class Shop:
    def __init__(self, folder, now):
        self.now = now
        read = lambda name: list(csv.DictReader(open(folder / f"{name}.csv", encoding="utf-8", newline="")))
        self.about = {row["key"]: row["value"] for row in read("about")}
        self.zone = zoneinfo.ZoneInfo(self.about["time_zone"])
        self.orders = {row["order"]: row for row in read("orders")}
        self.stages = defaultdict(list)
        for row in sorted(read("stages"), key=lambda r: int(r["place"])):
            self.stages[row["order"]].append((int(row["at_utc_ms"]), row["stage"]))
        self.cards = {row["card"]: row for row in read("cards")}
        self.cards_of = defaultdict(list)
        for card in sorted(self.cards.values(), key=lambda c: int(c["place"])):
            self.cards_of[card["order"]].append(card)
        self.after = defaultdict(list)
        for row in read("links"):
            self.after[row["card"]].append(row["after_card"])
        self.spans = defaultdict(list)
        self.busy = defaultdict(list)
        for row in read("spans"):
            span = (int(row["from_utc_ms"]), number(row["to_utc_ms"]) or now, row)
            self.spans[row["card"]].append(span)
            if span[0] < span[1]:
                self.busy[row["person"]].append(span[:2])
        self.handoffs = read("handoffs")
        named = defaultdict(set)
        for row in read("hold_cards"):
            named[row["hold"]].add(row["card"])
        self.holds = defaultdict(list)
        for row in read("holds"):
            if row["blocks"] == "start":
                cards = None if row["all_cards"] == "true" else named[row["hold"]]
                hold = (int(row["since_utc_ms"]), number(row["ended_utc_ms"]) or FOREVER, row["what"], cards)
                self.holds[row["order"]].append(hold)
        self.stood = defaultdict(list)
        for row in read("stood"):
            self.stood[row["order"]].append((int(row["from_utc_ms"]), row["place"]))
        self.places = {row["place"]: row["equipment"] for row in read("places")}
        self.equipment = {row["equipment"]: row for row in read("equipment")}
        self.leads = {(row["order"], row["department"]): row["person"] for row in read("leads")}
        self.departments = {row["department"]: row for row in read("departments")}
        self.people = {row["person"]: row for row in read("people")}
        self.also = {(row["person"], row["department"]) for row in read("person_departments")}
        self.qualified = {(row["person"], row["qualification"]): number(row["until_utc_ms"]) or FOREVER for row in read("qualifications")}
        self.away = defaultdict(list)
        for row in read("away"):
            self.away[row["of"]].append((int(row["from_utc_ms"]), int(row["to_utc_ms"])))
        self.calendars = defaultdict(list)
        for row in read("calendar_hours"):
            self.calendars[row["calendar"]].append((int(row["from_utc_ms"]), int(row["to_utc_ms"])))
        self.visits = {order: Visit(self, order) for order in sorted(self.orders)}

    def month(self, at):
        return datetime.datetime.fromtimestamp(at / 1000, self.zone).strftime("%Y-%m")

    def calendar_of(self, person=None, department=None):
        own = person and self.people[person]["calendar"]
        department = department or (person and self.people[person]["department"])
        of_department = self.departments[department]["calendar"] if department in self.departments else ""
        return self.calendars[own or of_department or self.about["calendar"]]

    def shop_hours(self):
        return self.calendars[self.about["calendar"]]


class Visit:
    def __init__(self, shop, order):
        row = shop.orders[order]
        stages = shop.stages[order]
        at = lambda stage, which: next((t for t, s in stages[::which] if s == stage), None)
        self.order, self.row, self.stages = order, row, stages
        self.arrived, self.authorised = at("arrived", 1), at("authorised", 1)
        self.ready = at("ready", -1)
        self.left = at("delivered", -1) if row["stage"] == "delivered" else None
        self.stopped = at("stopped", 1)
        self.gone = self.stopped if self.stopped is not None else self.left
        self.over = self.left
        before = [(t, s) for t, s in stages if s != "delivered"]
        undone = [c for c in shop.cards_of[order] if c["life"] not in ("done", "cancelled", "proposed")]
        if row["stage"] in ("stopped", "delivered") and before and before[-1][1] == "stopped" and not undone:
            done = [int(c["done_at_utc_ms"]) for c in shop.cards_of[order] if c["life"] == "done" and c["done_at_utc_ms"]]
            put_back = max([before[-1][0]] + done)
            self.over = put_back if self.left is None else min(self.left, put_back)
        cards = [c for c in shop.cards_of[order] if c["life"] != "cancelled"]
        sold = number(row["sold_minutes"])
        if sold is None:
            sold = sum(int(c["sold_minutes"] or 0) for c in cards) or None
        self.sold = sold
        size = sold if sold is not None else sum(int(c["planned_minutes"]) for c in cards)
        self.classes = ("towed_in" if row["towed_in"] == "true" else "rolling", "small" if size < 600 else "medium" if size < 2400 else "large")
        self.departments = {c["department"] for c in cards}
