"""Runs CP-SAT on the days of days.py, has the checker price what it found, and stores the results beside this file.

    make.py [KIND ...]      all kinds where none is named; results that are there already are kept
"""
import json
import pathlib
import sys

import cp_sat
import days

HERE = pathlib.Path(__file__).parent
sys.path.append(str(HERE.parent))
import plan_check  # noqa: E402

# How many seeds, from 1 on, and how many seconds each.
SEEDS = {"small": (30, 60), "small-replan": (30, 60), "typical": (6, 60), "typical-replan": (6, 60),
         "busy": (3, 60), "busy-replan": (3, 60), "camp": (2, 60), "camp-replan": (2, 60)}


def main(kinds):
    for kind in kinds:
        path = HERE / f"{kind}.json"
        results = json.loads(path.read_text()) if path.exists() else {}
        count, seconds = SEEDS[kind]
        for seed in range(1, count + 1):
            if str(seed) in results:
                continue
            day = days.make(kind, seed)
            found = cp_sat.solve(day, seconds)
            if "cost" in found:
                plan = {o["ride"]: None if o["missed"] else o["jobs"] for o in found.pop("outings")}
                cost, parts, broken = plan_check.price(day, plan)
                # Short of the optimum the model's own sum may hold minutes that its plan does not need.
                assert not broken and cost <= found["cost"], (kind, seed, cost, found, broken)
                assert cost == found["cost"] or found["status"] != "OPTIMAL", (kind, seed, cost, found)
                found.update(cost=cost, parts=parts)
            results[str(seed)] = found
            lines = ",\n".join(f" {json.dumps(k)}: {json.dumps(v)}" for k, v in results.items())
            path.write_text("{\n" + lines + "\n}\n")
            print(kind, seed, found, flush=True)


if __name__ == "__main__":
    main(sys.argv[1:] or SEEDS)
