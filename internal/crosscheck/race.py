"""How fast scipy integrates one bus: a bank without series resistance, a regulated
source, one brake resistor, a bleeder, one load.

As little as possible is done besides: in each mode the slope is one line, the
events are those of the mode alone, and while the source holds its set point
nothing is integrated, but the end of that is a root of a polynomial. Time is the
least of several runs without dense output; the voltages come from one more run.
"""
import json
import math
import sys
import time

import numpy as np
from scipy.integrate import solve_ivp


def first_root(k, lo, hi):
    """The first time in (lo, hi] at which the polynomial k rises through 0."""
    if len(k) == 1 or not any(k[1:]):
        return None
    if len(k) == 3 and k[2]:
        d = k[1] * k[1] - 4 * k[2] * k[0]
        if d <= 0:
            return None
        q = -0.5 * (k[1] + math.copysign(math.sqrt(d), k[1]))
        roots = (q / k[2], k[0] / q if q else 0.0)
    elif len(k) == 2 or not any(k[2:]):
        roots = (-k[0] / k[1],)
    else:
        roots = [r.real for r in np.roots(k[::-1]) if abs(r.imag) < 1e-12]
    slope = [n * a for n, a in enumerate(k)][1:]
    found = [r for r in roots if lo < r <= hi and sum(a * r**n for n, a in enumerate(slope)) > 0]
    return min(found, default=None)


class Race:
    def __init__(self, c):
        self.c, self.bleed = c["capacitance"], c["bleeder"]
        self.e, self.limit = c["source"]["voltage"], c["source"]["current"]
        b = c["brakes"][0]
        self.brake, self.on_at, self.off_at = 1 / b["resistance"], b["on"], b["off"]
        self.breaks, self.coefs = c["loads"][0]["breaks"], c["loads"][0]["coefs"]
        self.start = c["start"]
        e, on, off = self.e, self.on_at, self.off_at

        def event(level, direction):
            def g(t, y):
                return y[0] - level
            g.terminal, g.direction = True, direction
            return g

        # By mode: what ends it.
        self.events = {
            ("off", False): [event(e, -1), event(on, 1)],
            ("off", True): [event(e, -1), event(off, -1)],
            ("on", False): [event(e, 1)],
        }

    def slope(self, k, source, brake):
        c, g, i = 1 / self.c, self.bleed + (self.brake if brake else 0), self.limit if source == "on" else 0.0
        k = list(k) + [0.0] * (3 - len(k))
        if len(k) == 3:
            p0, p1, p2 = k

            def f(t, y):
                v = y[0]
                return ((i - g * v - (p0 + t * (p1 + t * p2)) / v) * c,)
        else:
            k = k[::-1]

            def f(t, y):
                p = 0.0
                for a in k:
                    p = p * t + a
                v = y[0]
                return ((i - g * v - p / v) * c,)
        return f

    def run(self, method, rtol, times=None):
        v, source, brake = self.start, "held", False
        switched, volts, slopes, steps, at = [], [], 0, 0, 0
        for a, b, k in zip(self.breaks, self.breaks[1:], self.coefs):
            t, end = 0.0, b - a
            if source == "held" or v == self.e:
                source = self.beside(k, t)
            while t < end:
                if source == "held":
                    needs = [k[0] + self.bleed * v * v] + list(k[1:])
                    over = first_root([needs[0] - self.limit * v] + needs[1:], t, end)
                    under = first_root([-n for n in needs], t, end)
                    t1 = min(x for x in (over, under, end) if x is not None)
                    source = "held" if t1 == end else "on" if t1 == over else "off"
                    sol = None
                    v1 = v
                else:
                    events = self.events[source, brake]
                    s = solve_ivp(self.slope(k, source, brake), (t, end), (v,), method=method, rtol=rtol, atol=rtol * self.e,
                                  events=events, dense_output=times is not None)
                    slopes += s.nfev
                    steps += len(s.t) - 1
                    sol, t1, v1 = s.sol, s.t[-1], s.y[0, -1]
                    if s.status == 1:
                        if len(s.t_events[0]):
                            v1 = self.e
                            source = self.beside(k, t1)
                        else:
                            brake = not brake
                            v1 = self.on_at if brake else self.off_at
                            switched.append(a + t1)
                while times is not None and at < len(times) and times[at] < a + t1:
                    volts.append(float(sol(times[at] - a)[0]) if sol else v)
                    at += 1
                t, v = t1, v1
        return {"voltages": volts, "switched": switched, "slopes": slopes, "steps": steps}

    def beside(self, k, t):
        i = sum(a * t**n for n, a in enumerate(k)) / self.e + self.bleed * self.e
        return "off" if i < 0 else "on" if i > self.limit else "held"


if __name__ == "__main__":
    job = json.load(sys.stdin)
    race = Race(job["circuit"])
    out = []
    for method, rtol in job["settings"]:
        least = float("inf")
        for _ in range(job["repeats"]):
            began = time.perf_counter()
            race.run(method, rtol)
            least = min(least, time.perf_counter() - began)
        out.append(dict(race.run(method, rtol, job["times"]), seconds=least))
    json.dump(out, sys.stdout)
