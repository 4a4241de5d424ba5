"""Invented days of a barn, the same for the same kind and seed.

    days.py KIND SEED      prints one day file
Kinds: small, typical, busy, camp; with `-replan` behind it the same day at about noon, with work begun, a groom gone home
and the plan that people have seen. What a day file holds is described in daemon/barn/src/plan/file.rs. Only Python's own
library, and of its `random` only what gives the same numbers in every version (random(), by Mersenne Twister).
"""
import json
import random
import sys

LIMITS = {"ready_lead": 10, "walk_back": 5, "stand": 15, "girth_dry": 10, "stay_tacked": 20, "promise": 30}
COSTS = {"missed": 100000, "staff": 5000, "late": 400, "standing": 50, "back_wait": 2, "saddled_wait": 4,
         "brushed_wait": 1, "handover": 15, "reshuffle": 30, "busiest": 2}
# horses, grooms, rides, horses to a lesson at most
KINDS = {"small": (6, 2, 10, 2), "typical": (12, 4, 27, 4), "busy": (20, 7, 54, 7), "camp": (40, 14, 104, 14)}
JOBS = ("brush", "tack", "put_away")


class Dice:
    def __init__(self, *seed):
        self.random = random.Random(" ".join(map(str, seed)))

    def within(self, low, high):
        """A whole number from low to high, both included."""
        return low + int(self.random.random() * (high - low + 1))

    def chance(self, share):
        return self.random.random() < share

    def one_of(self, items):
        return items[self.within(0, len(items) - 1)]


def fresh(kind, seed):
    horse_count, groom_count, ride_count, most = KINDS[kind]
    dice = Dice(kind, seed)
    grooms = []
    for i in range(groom_count):
        on, off = dice.one_of([(420, 1080), (420, 960), (480, 1080), (420, 780), (720, 1140)] if i > 1 else
                              [(420, 1080), (420, 1110)])
        away = []
        if dice.chance(0.6):
            lunch = dice.within(46, 54) * 15
            away = [[lunch, lunch + 30]] if on < lunch and lunch + 30 < off else []
        grooms.append({"id": f"g{i + 1}", "on": on, "off": off, "away": away,
                       "grade": 3 if i == 0 else dice.one_of([1, 2, 2, 3, 3])})
    gear, horses, sets = [], [], {}
    shared = [f"s{k + 1}" for k in range(max(1, horse_count // 4))]
    girths = [f"c{k + 1}" for k in range(max(2, horse_count // 3))]
    gear += shared + girths
    for i in range(horse_count):
        horse = {"id": f"h{i + 1}", "grade": dice.one_of([1, 1, 1, 2, 2, 3]), "away": []}
        if dice.chance(0.15):
            vet = dice.within(30, 64) * 15
            horse["away"] = [[vet, vet + dice.one_of([30, 45])]]
        horses.append(horse)
        saddle = dice.one_of(shared) if dice.chance(0.5) else f"own{i + 1}"
        girth = dice.one_of(girths) if dice.chance(0.3) else f"girth{i + 1}"
        for item in (saddle, girth):
            if item not in gear:
                gear.append(item)
        sets[horse["id"]] = [saddle, girth]
    rides, last = [], {}
    mount = 510
    while len(rides) < ride_count and mount < 1075:
        minutes = dice.one_of([30, 45, 45, 60])
        for _ in range(dice.within((most + 1) // 2, most)):
            # A horse goes again at once, under the same tack, or after a good rest.
            free = [h["id"] for h in horses if not 15 < mount - last.get(h["id"], -1000) < 80
                    and last.get(h["id"], -1000) + (0 if dice.chance(0.25) else 80) <= mount
                    and not any(mount - 45 < hi and lo < mount + minutes + 30 for lo, hi in h["away"])]
            # Who wrote the lessons looked at the tack too, most of the time.
            apart = 45 if dice.chance(0.95) else 15
            free = [h for h in free if not any(set(r["gear"]) & set(sets[h]) and r["horse"] != h
                                               and mount < r["mount"] + r["minutes"] + apart for r in rides)]
            if not free or len(rides) >= ride_count:
                break
            horse = dice.one_of(free)
            last[horse] = mount + minutes
            rides.append({"id": f"r{len(rides) + 1:02}", "horse": horse, "mount": mount, "minutes": minutes,
                          "gear": sets[horse], "brush": dice.within(10, 18), "tack": dice.within(8, 14),
                          "put_away": dice.within(12, 20), "weight": dice.one_of([1, 1, 1, 2, 3])})
        mount += dice.one_of([45, 60, 60, 60])
    return {"kind": kind, "seed": seed, "limits": LIMITS, "costs": COSTS, "grooms": grooms, "horses": horses,
            "gear": gear, "rides": rides}


def outings(day):
    """As in the model: rides of a horse join the outing before them where it stays tacked."""
    stay, made = day["limits"]["stay_tacked"], []
    for horse in [h["id"] for h in day["horses"]]:
        current = None
        for ride in sorted((r for r in day["rides"] if r["horse"] == horse), key=lambda r: (r["mount"], r["id"])):
            if current and sorted(current["gear"]) == sorted(ride["gear"]) and ride["mount"] - current["off"] <= stay:
                current.update(off=ride["mount"] + ride["minutes"], put_away=ride["put_away"],
                               weight=max(current["weight"], ride["weight"]))
                continue
            current = dict(ride, off=ride["mount"] + ride["minutes"])
            made.append(current)
    for o in made:
        o["ready"] = o["mount"] - day["limits"]["ready_lead"]
        o["back"] = o["off"] + day["limits"]["walk_back"]
    return sorted(made, key=lambda o: (o["ready"], o["id"]))


def by_hand(day):
    """A plan as a barn writes it on a board: for each horse whoever is free first. Good enough to have been published."""
    busy = {g["id"]: [list(a) for a in g["away"]] for g in day["grooms"]}
    grade = {h["id"]: h["grade"] for h in day["horses"]}
    plan = {}

    def free(groom, start, stop):
        return groom["on"] <= start and stop <= groom["off"] and \
            all(stop <= lo or hi <= start for lo, hi in busy[groom["id"]])

    for o in outings(day):
        able = [g for g in day["grooms"] if g["grade"] >= grade[o["horse"]]]
        front, rear = o["brush"] + o["tack"], o["put_away"]
        for early in range(0, 120, 3):
            start = o["ready"] - front - early
            who = next((g for g in able if free(g, start, start + front)), None)
            if who:
                break
        else:
            continue
        for late in range(0, 90, 3):
            end = o["back"] + late
            keeper = next((g for g in able if free(g, end, end + rear)), None)
            if keeper:
                break
        else:
            continue
        busy[who["id"]].append([start, start + front])
        busy[keeper["id"]].append([end, end + rear])
        plan[o["id"]] = {"brush": {"groom": who["id"], "start": start},
                         "tack": {"groom": who["id"], "start": start + o["brush"]},
                         "put_away": {"groom": keeper["id"], "start": end}}
    return plan


def replan(kind, seed):
    day = fresh(kind, seed)
    dice = Dice("replan", kind, seed)
    now = dice.within(640, 760)
    plan = by_hand(day)
    made = {o["id"]: o for o in outings(day)}
    jobs = sorted((p["start"], ride, JOBS.index(job), p["groom"]) for ride, ps in plan.items() for job, p in ps.items())
    free, done, progress = {}, {}, []
    for start, ride, k, groom in jobs:
        before = done.get((ride, k - 1), 0) if k else 0
        if before is None or free.get(groom, 0) is None:
            continue
        begin = max(start + dice.one_of([0, 0, 0, 1, 3]), free.get(groom, 0), before)
        if begin >= now:
            done[ride, k] = None
            continue
        end = begin + max(1, made[ride][JOBS[k]] + dice.within(-2, 4))
        done[ride, k] = free[groom] = end if end <= now else None
        progress.append({"ride": ride, "job": JOBS[k], "groom": groom, "from": begin,
                         "to": end if end <= now else None})
    gone = dice.one_of([g for g in day["grooms"] if g["on"] < now < g["off"]])
    gone["off"] = now
    gone["away"] = [a for a in gone["away"] if a[1] <= now]
    day.update(now=now, progress=progress, published=plan)
    return day


def make(kind, seed):
    return replan(kind[:-len("-replan")], seed) if kind.endswith("-replan") else fresh(kind, seed)


if __name__ == "__main__":
    print(json.dumps(make(sys.argv[1], int(sys.argv[2]))))
