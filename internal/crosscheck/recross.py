"""A bank under a load of linear or quadratic power, and one threshold, as
solve_ivp finds it by default: an event is looked for between the two ends of each
step. Prints for every setting whether the event was found, and the steps."""
import json
import sys

from scipy.integrate import solve_ivp

job = json.load(sys.stdin)
c, g, p = job["capacitance"], job["conductance"], job["power"]


def slope(t, y):
    return [-((p[0] + t * (p[1] + t * p[2])) / y[0] + g * y[0]) / c]


def threshold(t, y):
    return y[0] - job["threshold"]


threshold.terminal, threshold.direction = True, job["direction"]
out = []
for method, rtol, most in job["settings"]:
    s = solve_ivp(slope, (0, job["end"]), [job["start"]], method=method, rtol=rtol, atol=rtol * job["start"],
                  events=threshold, **({"max_step": most} if most else {}))
    out.append({"found": s.status == 1, "time": s.t[-1], "steps": len(s.t) - 1})
json.dump(out, sys.stdout)
