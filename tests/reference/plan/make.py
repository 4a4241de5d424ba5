"""Runs CP-SAT on the days of days.py, has the checker price what it found, and stores the results beside this file.

    make.py [KIND ...]      all kinds where none is named
    make.py --count         only says how many days of each kind are solved, and how many of these to the optimum
Seeds 1 to 30 of each kind. It goes round the kinds, a day of each at a time, so that they grow evenly, and writes each
result as it comes: stopped at any moment, it goes on where it was. A result is kept where it is proved the optimum or had
all of its core-seconds; any other is made again.
"""
import json
import os
import pathlib
import sys

import cp_sat
import days

HERE = pathlib.Path(__file__).parent
sys.path.append(str(HERE.parent))
import plan_check  # noqa: E402

KINDS = [kind + again for kind in days.KINDS for again in ("", "-replan")]
SEEDS = range(1, 31)


def stored(kind):
    path = HERE / f"{kind}.json"
    return json.loads(path.read_text()) if path.exists() else {}


def store(kind, seed, found):
    """Adds a result. The file is whole at every moment, and is read again first: two of these may run side by side."""
    results = stored(kind)
    results[str(seed)] = found
    lines = (f" {json.dumps(k)}: {json.dumps(v)}" for k, v in sorted(results.items(), key=lambda item: int(item[0])))
    half = HERE / f".{kind}.{os.getpid()}"
    half.write_text("{\n" + ",\n".join(lines) + "\n}\n")
    half.replace(HERE / f"{kind}.json")


def good(found):
    return found is not None and (found["status"] == "OPTIMAL" or found.get("core_seconds", 0) >= cp_sat.CORE_SECONDS)


def solve(kind, seed):
    day = days.make(kind, seed)
    found = cp_sat.solve(day)
    if "cost" in found:
        plan = {o["ride"]: None if o["missed"] else o["jobs"] for o in found.pop("outings")}
        cost, parts, broken = plan_check.price(day, plan)
        # Short of the optimum the model's own sum may hold minutes that its plan does not need.
        assert not broken and cost <= found["cost"], (kind, seed, cost, found, broken)
        assert cost == found["cost"] or found["status"] != "OPTIMAL", (kind, seed, cost, found)
        found.update(cost=cost, parts=parts)
    return found


def main(kinds):
    for seed in SEEDS:
        for kind in kinds:
            if not good(stored(kind).get(str(seed))):
                found = solve(kind, seed)
                store(kind, seed, found)
                print(kind, seed, found, flush=True)


def count():
    for kind in KINDS:
        found = [result for seed, result in stored(kind).items() if good(result)]
        optimal = sum(result["status"] == "OPTIMAL" for result in found)
        print(f"{kind}: {len(found)} of {len(SEEDS)} days, {optimal} to the optimum")


if __name__ == "__main__":
    if sys.argv[1:] == ["--count"]:
        count()
    else:
        main(sys.argv[1:] or KINDS)
