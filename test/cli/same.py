#!/usr/bin/env python3
"""The same problem by a bulletin with readings and by a problem file: every member of the answer must be the same. Where the bulletin's
guard is a risk, its plans aim closer (core/advise.h): they must be those of the file with the risk of each reading that Sidak's
formula gives (1967, JASA 62, 626, from memory), worked out here.
The problem file is written here from the YAML's words, apart from the program. Prints TAP.

usage: same.py PROGRAM
"""
import json
import pathlib
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
from run import ROOT, Tap, load_json  # noqa: E402


def call(program, *args, text=None):
    done = subprocess.run([program, "true", *args, "--json"], input=text, capture_output=True, text=True, timeout=120)
    return done.returncode, load_json(done.stdout) if done.stdout else {"stderr": done.stderr}


PLAN_RISK = 0.01  # of all readings together; a plan's


def both(tap, name, by_file, by_bulletin, apart=()):
    (code_a, a), (code_b, b) = by_file, by_bulletin
    tap.ok(code_a == code_b, f"{name}: same exit code", f"file {code_a}, bulletin {code_b}", b)
    for member in (m for m in a if m not in apart):
        tap.ok(member in b and a[member] == b[member], f"{name}: same {member}", f"file {a[member]}",
               f"bulletin {b.get(member)}")
    tap.ok(b.get("judged") == [] and b.get("missing") == [], f"{name}: nothing is judged apart, nothing is missing")


def aimed(tap, name, by_file, by_closer_file, by_bulletin):
    """What is apart above: plans by the closer risk, the search of both."""
    a, closer, b = by_file[1], by_closer_file[1], by_bulletin[1]
    told = [[{m: plan[m] for m in ("moves", "cost_s", "predicted")} for plan in answer["plans"]] for answer in (closer, b)]
    tap.ok(told[0] == told[1] and len(told[0]) > 0, f"{name}: the plans are those of the risk {1 - (1 - PLAN_RISK) ** (1 / len(a['points'])):.8f} a reading",
           f"file {told[0]}", f"bulletin {told[1]}")
    tap.ok(told[0] != [{m: plan[m] for m in ("moves", "cost_s", "predicted")} for plan in a["plans"]], f"{name}: which are others than those of the bulletin's own risk")
    tap.ok((a["aimed"], b["aimed"]) == (False, True), f"{name}: and the answer says that they aim closer")
    tap.ok(b["nodes"] == a["nodes"] + closer["nodes"], f"{name}: both searches are counted", f"{a['nodes']} + {closer['nodes']}", f"{b['nodes']}")


RAMP = {"left-hinge": "2 17/32 in", "left-free": "2 43/64 in", "right-hinge": "2 15/32 in", "right-free": "2 21/64 in",
        "left-hinge-down": "2 17/32 in", "right-hinge-down": "2 15/32 in", "latch": "1/8 in"}


def ramp_problem():
    """Bulletin FR-26-11 as its YAML says, typed again."""
    gap = {"nominal": "2 1/2 in", "low": "2 3/8 in", "high": "2 5/8 in"}
    points = [{"id": i, **gap, "reading": r, "u": 0.01} for i, r in RAMP.items()]
    points[-1].update({"nominal": "1/8 in", "low": "1/16 in", "high": "3/16 in"})
    for i, factors in enumerate([(1, -1), (1, 1), (-1, -1), (-1, 1)]):
        points[i]["factors"] = dict(zip(("side", "height"), factors))
    up, down = "1/32 in", "-1/32 in"
    adjusters = [
        {"id": "washers", "min": -4, "max": 4, "setup_s": 720, "step_s": 120,
         "effect": {"left-hinge": up, "left-free": up, "left-hinge-down": up,
                    "right-hinge": down, "right-free": down, "right-hinge-down": down}},
        {"id": "left-packing", "min": -3, "max": 3, "setup_s": 900, "step_s": 120,
         "effect": {"left-free": up, "right-free": down}},
        {"id": "right-packing", "min": -3, "max": 3, "setup_s": 900, "step_s": 120,
         "effect": {"left-free": down, "right-free": up}},
        {"id": "latch-plate", "min": -4, "max": 4, "setup_s": 300, "step_s": 60, "effect": {"latch": up}}]
    for a in adjusters:
        a["step"] = up
    return {"unit": "in", "points": points, "adjusters": adjusters, "rule": {"guard": "none"}, "plans": 3}


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    tap = Tap()
    gaps = ROOT / "examples/problems/wall-gaps.json"
    words = []
    for point in json.loads(gaps.read_text())["points"]:
        words += ["--reading", f"{point['id']}={point['reading']}", "--u", f"{point['id']}={point['u']}"]
    own, by_bulletin = call(program, str(gaps)), call(program, str(ROOT / "examples/OV-26-03.yaml"), *words)
    problem = json.loads(gaps.read_text())
    problem["rule"] = {**problem["rule"], "risk": 1 - (1 - PLAN_RISK) ** (1 / len(problem["points"]))}
    both(tap, "wall gaps", own, by_bulletin, apart=("plans", "aimed", "nodes"))
    aimed(tap, "wall gaps", own, call(program, "-", text=json.dumps(problem)), by_bulletin)
    both(tap, "ramp", call(program, "-", text=json.dumps(ramp_problem())),
         call(program, str(ROOT / "examples/FR-26-11.yaml"), "--readings", "-",
              *[w for i in RAMP for w in ("--u", f"{i}=0.01")],
              text="".join(f"{i} = {r}\n" for i, r in RAMP.items())))
    return tap.done()


if __name__ == "__main__":
    sys.exit(main())
