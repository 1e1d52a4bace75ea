"""Integrates a diode rectifier with the bus behind it by solve_ivp: which diodes
conduct is a mode; a terminal event ends it.

Unknowns: the voltage x of the bank, the currents of three lines (with one phase
only the first, around the loop), and the integrals of each line's current
squared, of EMF times current, and of what load and resistors take.
"""
import bisect
import json
import math
import sys

import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.optimize import minimize_scalar


class Rectifier:
    def __init__(self, c):
        self.three = c["phases"] == 3
        self.crest = math.sqrt(2 / 3 if self.three else 2) * c["voltage"]
        self.omega, self.angle = 2 * math.pi * c["frequency"], c["angle"]
        self.period = 1 / c["frequency"]
        self.r, self.l, self.vd = c["resistance"] + (1 if self.three else 2) * c["diodeResistance"], c["inductance"], c["diodeThreshold"]
        self.c, self.rs, self.bleed, self.start = c["capacitance"], c["seriesResistance"], c["bleeder"], c["start"]
        self.loads = [c["power"], c["current"]]
        self.lines = 3 if self.three else 1
        self.on = [0] * self.lines  # 1: into the bus, -1: back from it (of one phase: the sign of the EMF)

    def breaks(self):
        return sorted(set(self.loads[0]["breaks"]) | set(self.loads[1]["breaks"]))

    def enter(self, t):
        self.now = []
        for l in self.loads:
            if not l["coefs"]:
                self.now.append((0, [0.0]))
                continue
            i = bisect.bisect_right(l["breaks"], t) - 1
            self.now.append((l["breaks"][i], l["coefs"][i][::-1]))

    def load(self, n, t):
        t0, coefs = self.now[n]
        p = 0.0
        for k in coefs:
            p = p * (t - t0) + k
        return p

    def emf(self, t):
        a = self.omega * t + self.angle
        return [self.crest * math.sin(a - 2 * math.pi / 3 * k) for k in range(self.lines)]

    def bus(self, t, y):
        """Voltage of the bus, current into it, and the currents of the lines."""
        p, draw = self.load(0, t), self.load(1, t)
        if self.l == 0:  # one phase: the current follows the voltages
            e = self.on[0] * self.emf(t)[0] - 2 * self.vd
            a, g = (e / self.r, 1 / self.r) if self.on[0] else (0.0, 0.0)
        else:
            a, g = (abs(y[1]) if not self.three else sum(i for i, on in zip(y[1:4], self.on) if on > 0)), 0.0
        v = y[0]
        if self.rs > 0:
            for _ in range(60):
                f = (v - y[0]) / self.rs + self.bleed * v + p / v + draw - a + g * v
                d = f / (1 / self.rs + self.bleed - p / v**2 + g)
                v -= d
                if abs(d) <= 4e-16 * v:
                    break
        i = a - g * v
        return v, i, list(y[1:4]) if self.l else [self.on[0] * i, 0.0, 0.0]

    def star(self, e, v):
        """Potential of the star point over the negative pole."""
        rails = [(v + self.vd if on > 0 else -self.vd) - u for u, on in zip(e, self.on) if on]
        return sum(rails) / len(rails)

    def slope(self, t, y):
        v, i, lines = self.bus(t, y)
        e = self.emf(t)
        needs = self.bleed * v + self.load(0, t) / v + self.load(1, t)
        d = [(i - needs) / self.c, 0.0, 0.0, 0.0]
        if self.l:
            if not self.three:
                if self.on[0]:
                    d[1] = (e[0] - self.on[0] * (v + 2 * self.vd) - self.r * y[1]) / self.l
            elif any(self.on):
                n = self.star(e, v)
                for k, on in enumerate(self.on):
                    if on:
                        d[1 + k] = (e[k] + n - (v + self.vd if on > 0 else -self.vd) - self.r * y[1 + k]) / self.l
        d += [j * j for j in lines]
        d.append(sum(u * j for u, j in zip(e, lines)))
        d.append(needs * v)
        return d

    def guards(self):
        found = []

        def level(f, then, direction=1):
            f.terminal, f.direction = True, direction
            found.append((f, then))

        if not self.three:
            if self.on[0] == 0:
                def begin(sign):
                    def then(y):
                        self.on[0] = sign
                    return then
                for sign in (1, -1):
                    level(lambda t, y, s=sign: s * self.emf(t)[0] - 2 * self.vd - self.bus(t, y)[0], begin(sign))
            else:
                def cease(y):
                    self.on[0], y[1] = 0, 0.0
                level(lambda t, y: self.bus(t, y)[2][0] * self.on[0], cease, -1)
            return found

        if not any(self.on):
            for j in range(3):
                for k in range(3):
                    if j == k:
                        continue

                    def then(y, j=j, k=k):
                        self.on[j], self.on[k] = 1, -1

                    def f(t, y, j=j, k=k):
                        e = self.emf(t)
                        return e[j] - e[k] - 2 * self.vd - self.bus(t, y)[0]
                    level(f, then)
            return found
        for k in range(3):
            if self.on[k]:
                def then(y, k=k):
                    self.on[k], y[1 + k] = 0, 0.0
                    left = [j for j in range(3) if self.on[j]]
                    if len(left) == 1 or self.on[left[0]] == self.on[left[1]]:
                        self.on = [0, 0, 0]
                        y[1:4] = 0.0
                    else:
                        y[1 + left[1]] = -y[1 + left[0]]
                level(lambda t, y, k=k: y[1 + k] * self.on[k], then, -1)
            else:
                for sign in (1, -1):
                    def then(y, k=k, sign=sign):
                        self.on[k] = sign

                    def f(t, y, k=k, sign=sign):
                        e, v = self.emf(t), self.bus(t, y)[0]
                        a = e[k] + self.star(e, v)
                        return a - v - self.vd if sign > 0 else -self.vd - a
                    level(f, then)
        return found


def run(job):
    b = Rectifier(job["circuit"])
    amps = b.crest / math.hypot(b.r, b.omega * b.l)
    y = np.zeros(9)
    y[0] = b.start
    scale = np.array([b.start] + [amps / 100] * 3 + [amps**2 * b.period / 100] * 3 + [b.c * b.start**2] * 2)
    times, at = job["times"], 0
    out = {"voltages": [], "lines": [[] for _ in range(b.lines)], "conductions": 0}
    low, high, peak = math.inf, -math.inf, 0.0
    breaks = b.breaks()
    for a, end in zip(breaks, breaks[1:]):
        t = a
        b.enter((a + end) / 2)
        if not any(b.on):  # the EMF may stand above the bus at the start
            begins = [then for g, then in b.guards() if g(t, y) > 0]
            if begins:
                begins[0](y)
                out["conductions"] += sum(1 for z in b.on if z)
        while t < end:
            guards = b.guards()
            s = solve_ivp(b.slope, (t, end), y, method=job["method"], rtol=job["rtol"], atol=job["rtol"] * scale,
                          events=[g for g, _ in guards], dense_output=True, max_step=b.period / 640)
            if s.status < 0:
                raise RuntimeError(s.message)
            t1, y1 = s.t[-1], s.y[:, -1].copy()
            while at < len(times) and times[at] < t1:
                v, _, lines = b.bus(times[at], s.sol(times[at]))
                out["voltages"].append(float(v))
                for k in range(b.lines):
                    out["lines"][k].append(float(lines[k]))
                at += 1
            n = max(8, int(400 * (t1 - t) / b.period))
            grid = np.linspace(t, t1, n + 1)

            def extreme(f):
                vs = [f(u) for u in grid]
                k = int(np.argmin(vs))
                m = minimize_scalar(f, bounds=(grid[max(k - 1, 0)], grid[min(k + 1, n)]), method="bounded",
                                    options={"xatol": 1e-10 * (t1 - t)})
                return min(vs[k], m.fun)

            low = min(low, extreme(lambda u: b.bus(u, s.sol(u))[0]))
            high = max(high, -extreme(lambda u: -b.bus(u, s.sol(u))[0]))
            peak = max(peak, -extreme(lambda u: -max(abs(i) for i in b.bus(u, s.sol(u))[2])))
            t, y = t1, y1
            if s.status == 1:
                was = list(b.on)
                guards[next(i for i, e in enumerate(s.t_events) if len(e))][1](y)
                out["conductions"] += sum(1 for x, z in zip(was, b.on) if z and not x)
    span = breaks[-1] - breaks[0]
    out.update({
        "lowest": float(low), "highest": float(high), "peak": float(peak),
        "rms": math.sqrt(max(y[4:7]) / span), "mains": float(y[7]), "taken": float(y[8]), "end": float(y[0]),
        "version": "scipy %s, numpy %s, python %s" % (scipy.__version__, np.__version__, sys.version.split()[0]),
    })
    return out


if __name__ == "__main__":
    json.dump(run(json.load(sys.stdin)), sys.stdout)
