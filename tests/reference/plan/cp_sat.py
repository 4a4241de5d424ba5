"""The prep plan as a model for OR-Tools CP-SAT, made apart from the planner of bellmare-barn.

    cp_sat.py DAY.json [CORE_SECONDS]     prints {"status", "cost", "bound", "core_seconds", "seconds", "outings"}
Everything is one model: starts as integers, a literal for each job and hand, no-overlap by groom and by piece of gear. Two
workers. The search is stopped by the processor time that this process has used, not by the clock on the wall, so that a
machine with other work to do does not make it weaker: 120 core-seconds are 60 s of two cores.
"""
import json
import sys
import threading
import time

from ortools.sat.python import cp_model

import days

JOBS = days.JOBS
STAFF = "staff"
END = 2 * 1440 + 600
CORE_SECONDS = 120.0
WORKERS = 2


def stop_after(solver, core_seconds):
    """Stops the solver once the process has used so many core-seconds from now on. Returns what ends the watch."""
    end, done = time.process_time() + core_seconds, threading.Event()

    def watch():
        while not done.wait(0.1):
            if time.process_time() >= end:
                solver.stop_search()  # asked again each time: it is lost where the search has not begun yet

    threading.Thread(target=watch, daemon=True).start()
    return done.set


def solve(day, core_seconds=CORE_SECONDS):
    began, used = time.monotonic(), time.process_time()
    m = cp_model.CpModel()
    limits, costs, now = day["limits"], day["costs"], day.get("now")
    low = now if now is not None else 0
    horses = {h["id"]: h for h in day["horses"]}
    started = {(p["ride"], p["job"]): p for p in day.get("progress", [])}
    grooms = {g["id"]: [] for g in day["grooms"]}  # intervals of jobs that are planned
    work = {g["id"]: [] for g in day["grooms"]}    # minutes, as linear terms
    until = {g["id"]: [] for g in day["grooms"]}   # ends of begun jobs, with the literal that makes them count
    planned = {g["id"]: [] for g in day["grooms"]}
    gear, terms, seen = {}, [], {}
    all_outings = days.outings(day)
    for o in all_outings:
        name = o["id"]
        here = m.NewBoolVar(f"{name} here")
        tack_begun = (name, "tack") in started
        if tack_begun:
            m.Add(here == 1)
        terms.append(costs["missed"] * o["weight"] * (1 - here))
        start, stop, hand = {}, {}, {}
        for job in JOBS:
            fixed, length = started.get((name, job)), o[job]
            if fixed:
                start[job] = fixed["from"]
                stop[job] = fixed["to"] if fixed["to"] is not None else max(now + 1, fixed["from"] + length)
                hand[job] = {fixed["groom"]: here}
                if fixed["groom"] != STAFF:
                    work[fixed["groom"]].append((stop[job] - start[job]) * here)
                    if stop[job] > low:
                        until[fixed["groom"]].append((stop[job], here))
                continue
            start[job] = m.NewIntVar(low, END, f"{name} {job}")
            stop[job] = start[job] + length
            hand[job] = {STAFF: m.NewBoolVar(f"{name} {job} staff")}
            terms.append(costs["staff"] * o["weight"] * hand[job][STAFF])
            for g in day["grooms"]:
                if g["grade"] < horses[o["horse"]]["grade"]:
                    continue
                lit = hand[job][g["id"]] = m.NewBoolVar(f"{name} {job} {g['id']}")
                grooms[g["id"]].append(m.NewOptionalFixedSizeIntervalVar(start[job], length, lit, ""))
                planned[g["id"]].append((start[job], lit))
                work[g["id"]].append(length * lit)
                m.Add(start[job] >= g["on"]).OnlyEnforceIf(lit)
                m.Add(stop[job] <= g["off"]).OnlyEnforceIf(lit)
            m.Add(sum(hand[job].values()) == here)
            for a, b in horses[o["horse"]]["away"]:
                before = m.NewBoolVar("")
                m.Add(stop[job] <= a).OnlyEnforceIf([before, here])
                m.Add(start[job] >= b).OnlyEnforceIf([before.Not(), here])
            promise = day.get("published", {}).get(name, {}).get(job)
            if promise and promise["start"] < now + limits["promise"]:
                terms.append(costs["reshuffle"] * (here - hand[job].get(promise["groom"], 0)))
        if not tack_begun:
            m.Add(start["tack"] >= stop["brush"]).OnlyEnforceIf(here)
            m.Add(stop["tack"] <= o["mount"]).OnlyEnforceIf(here)
        if (name, "put_away") not in started:
            m.Add(start["put_away"] >= o["back"]).OnlyEnforceIf(here)
            m.Add(start["put_away"] >= stop["tack"]).OnlyEnforceIf(here)

        def minutes(what, cost):
            """At least `what` minutes where the outing is not missed, at least none in any case."""
            if cost:
                extra = m.NewIntVar(0, END, "")
                m.Add(extra >= what).OnlyEnforceIf(here)
                terms.append(cost * extra)

        minutes(stop["tack"] - o["ready"], costs["late"] * o["weight"])
        minutes(o["ready"] - stop["tack"], costs["saddled_wait"])
        minutes(start["tack"] - stop["brush"], costs["brushed_wait"])
        minutes(start["put_away"] - o["back"], costs["back_wait"])
        minutes(start["put_away"] - o["back"] - limits["stand"], costs["standing"])
        same = m.NewBoolVar(f"{name} same hands")
        for who in {**hand["brush"], **hand["tack"]}:
            for job in ("brush", "tack"):
                other = hand["tack" if job == "brush" else "brush"].get(who, 0)
                if who in hand[job]:
                    m.Add(other >= hand[job][who]).OnlyEnforceIf(same)
        terms.append(costs["handover"] * here)
        both = m.NewBoolVar("")
        m.AddImplication(both, same)
        m.AddImplication(both, here)
        terms.append(-costs["handover"] * both)
        for piece in o["gear"]:
            gear.setdefault(piece, []).append((start["tack"], stop["put_away"] + limits["girth_dry"], here, tack_begun))
        for other, a_here, end in seen.get(o["horse"], []):
            if (name, "brush") not in started:
                m.Add(start["brush"] >= end).OnlyEnforceIf([here, a_here])
        seen.setdefault(o["horse"], []).append((name, here, stop["put_away"]))
        o.update(here=here, start=start, hand=hand)
    for g in day["grooms"]:
        away = [m.NewFixedSizeIntervalVar(a, b - a, "") for a, b in g["away"]]
        m.AddNoOverlap(grooms[g["id"]])
        for block in away:
            for interval in grooms[g["id"]]:
                m.AddNoOverlap([block, interval])
        for end, lit in until[g["id"]]:
            for begin, chosen in planned[g["id"]]:
                m.Add(begin >= end).OnlyEnforceIf([lit, chosen])
    for uses in gear.values():
        fresh = [u for u in uses if not u[3]]
        m.AddNoOverlap([m.NewOptionalIntervalVar(a, m.NewIntVar(0, 2 * END, ""), b, h, "") for a, b, h, _ in fresh])
        for _, end, _, _ in (u for u in uses if u[3]):
            for begin, _, here, _ in fresh:
                m.Add(begin >= end).OnlyEnforceIf(here)
    busiest = m.NewIntVar(0, 10 * END, "busiest")
    for load in work.values():
        m.Add(busiest >= sum(load))
    terms.append(costs["busiest"] * busiest)
    m.Minimize(sum(terms))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.random_seed = 1
    end_watch = stop_after(solver, core_seconds)
    status = solver.StatusName(solver.Solve(m))
    end_watch()
    result = {"status": status, "core_seconds": round(time.process_time() - used, 1),
              "seconds": round(time.monotonic() - began, 1)}
    if status in ("OPTIMAL", "FEASIBLE"):
        result.update(cost=round(solver.ObjectiveValue()), bound=round(solver.BestObjectiveBound()), outings=[])
        for o in all_outings:
            if not solver.Value(o["here"]):
                result["outings"].append({"ride": o["id"], "missed": True})
                continue
            jobs = {job: {"groom": next(who for who, lit in o["hand"][job].items() if solver.Value(lit)),
                          "start": solver.Value(o["start"][job])} for job in JOBS}
            result["outings"].append({"ride": o["id"], "missed": False, "jobs": jobs})
    return result


if __name__ == "__main__":
    with open(sys.argv[1]) as file:
        print(json.dumps(solve(json.load(file), float(sys.argv[2]) if len(sys.argv) > 2 else CORE_SECONDS)))
