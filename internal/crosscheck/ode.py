"""Integrates a DC bus as internal/crosscheck describes it.

Reads {"circuit": ..., "times": [...], "method": ..., "rtol": ...} from standard
input and writes voltages, currents, switchings, extremes and energies as JSON.

Unknowns: the voltage x of the bank, the voltages u[k] of the ends of feeders, and
the energies in ENERGIES. The voltage v of the distribution point is x without
series resistance, the set point while a regulated source holds it, and otherwise
the root of  (v - x)/rs + needs(v) - gives(v)  nearest to the no-load side.
"""
import bisect
import json
import sys

import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.optimize import minimize_scalar

ENERGIES = ["source", "drawn", "returned", "switched", "resistor", "bleeder", "series", "cables"]
STRETCHES = 48  # least number of steps between two breaks


class Bus:
    def __init__(self, c, number):
        self.n = n = number
        self.c, self.rs = n(c["capacitance"]), n(c["seriesResistance"])
        self.bleed = n(c["bleeder"])
        s = c["source"]
        self.kind, self.e, self.limit = s["kind"], n(s["voltage"]), n(s["current"])
        self.g = 1 / n(s["resistance"]) if s["kind"] == "resistive" else n(0)
        self.brakes = [(1 / n(b["resistance"]), n(b["on"]), n(b["off"])) for b in c["brakes"]]
        self.on = [b["start"] for b in c["brakes"]]
        self.feeders = [(f["upstream"], n(f["resistance"]), n(f["capacitance"])) for f in c["feeders"]]
        self.nodes = 1 + len(self.feeders)
        self.children = [[k for k, f in enumerate(self.feeders, 1) if f[0] == j] for j in range(self.nodes)]
        self.loads, self.switched = c["loads"], c["switched"]
        self.start = n(c["start"])
        self.source = "off"
        self.eps = np.finfo(number).eps

    def breaks(self):
        """Times at which loads jump or change sign."""
        t = set()
        for l in self.loads + self.switched:
            t.update(l["breaks"])
        for l in self.loads:
            for a, b, k in zip(l["breaks"], l["breaks"][1:], l["coefs"]):
                k = np.trim_zeros(k, "b")
                for r in np.roots(k[::-1]) if len(k) > 1 else []:
                    if abs(r.imag) < 1e-9 and 0 < r.real < b - a:
                        t.add(a + float(r.real))
        t = sorted(t)
        return [t[0]] + [b for a, b in zip(t, t[1:]) if b - a > 1e-12]

    def enter(self, a, b):
        """Takes the pieces of loads that hold from a to b."""
        self.power = [[] for _ in range(self.nodes)]
        self.gs = [self.n(0)] * self.nodes
        mid = (a + b) / 2
        for l in self.loads:
            i = bisect.bisect_right(l["breaks"], mid) - 1
            self.power[l["node"]].append((self.n(l["breaks"][i]), [self.n(k) for k in reversed(l["coefs"][i])]))
        for s in self.switched:
            self.gs[s["node"]] += self.n(s["coefs"][bisect.bisect_right(s["breaks"], mid) - 1][0])

    def p(self, t, node):
        p = self.n(0)
        for t0, coefs in self.power[node]:
            q = self.n(0)
            for k in coefs:
                q = q * (t - t0) + k
            p += q
        return p

    def drain(self):
        return self.bleed + sum(b[0] for b, on in zip(self.brakes, self.on) if on)

    def needs(self, v, p, y):
        return (self.drain() + self.gs[0]) * v + p / v + sum((v - y[k]) / self.feeders[k - 1][1] for k in self.children[0])

    def gives(self, v):
        if self.source == "on":
            return self.g * (self.e - v) if self.kind == "resistive" else self.limit
        return self.n(0)

    def voltage(self, p, y):
        if self.source == "held":
            return self.e
        x = y[0]
        if self.rs == 0:
            return x
        slope = 1 / self.rs + self.drain() + self.gs[0] + sum(1 / self.feeders[k - 1][1] for k in self.children[0])
        if self.source == "on":
            slope += self.g
        v = x + self.rs * self.gives(x)
        for _ in range(60):
            f = (v - x) / self.rs + self.needs(v, p, y) - self.gives(v)
            d = f / (slope - p / (v * v))
            v -= d
            if abs(d) <= 2 * self.eps * v:
                return v
        return v

    def at(self, t, y):
        """Voltage, source current and current into the bank."""
        p = self.p(t, 0)
        v = self.voltage(p, y)
        needs = self.needs(v, p, y)
        if self.source != "held":
            i = self.gives(v)
            return v, i, i - needs
        into = (v - y[0]) / self.rs if self.rs > 0 else self.n(0)
        return v, needs + into, into

    def slope(self, t, y):
        v, i, into = self.at(t, y)
        u = [v] + [y[k] for k in range(1, self.nodes)]
        powers = [self.p(t, k) for k in range(self.nodes)]
        d = [into / self.c]
        for k, (up, r, c) in enumerate(self.feeders, 1):
            onwards = sum((u[k] - u[j]) / self.feeders[j - 1][1] for j in self.children[k])
            d.append(((u[up] - u[k]) / r - powers[k] / u[k] - self.gs[k] * u[k] - onwards) / c)
        d.append(v * i)
        d.append(sum(p for p in powers if p > 0))
        d.append(-sum(p for p in powers if p < 0))
        d.append(sum(g * w * w for g, w in zip(self.gs, u)))
        d.append((self.drain() - self.bleed) * v * v)
        d.append(self.bleed * v * v)
        d.append(self.rs * into * into)
        d.append(sum((u[up] - u[k]) ** 2 / r for k, (up, r, _) in enumerate(self.feeders, 1)))
        return d

    def settle(self, t, y):
        """Finds the mode after a jump of the load."""
        for _ in range(8):
            self.stand(t, y)
            v = self.at(t, y)[0]
            before = list(self.on)
            for k, (_, on, off) in enumerate(self.brakes):
                if not self.on[k] and v >= on:
                    self.on[k] = True
                elif self.on[k] and v <= off:
                    self.on[k] = False
            if before == self.on:
                return

    def stand(self, t, y):
        if self.kind == "none":
            return
        self.source = "off"
        v, _, _ = self.at(t, y)
        near = abs(v - self.e) <= 1e-12 * self.e
        if v > self.e and not near:
            return
        if self.kind == "resistive":
            if not near or self.at(t, y)[2] < 0:
                self.source = "on"
            return
        if self.rs == 0 and not near:
            self.source = "on"
            return
        self.hold(t, y)

    def hold(self, t, y):
        """The source at its set point, or beside it if it cannot hold that."""
        self.source = "held"
        i, rounding = self.at(t, y)[1], 1e-9 * self.limit
        if i > self.limit + rounding:
            self.source = "on"
        elif i < -rounding:
            self.source = "off"

    def guards(self):
        """What ends the present mode: function, direction, what then."""
        found = []

        def level(f, direction, then):
            f.terminal, f.direction = True, direction
            found.append((f, then))

        def to(mode):
            def then(t, y):
                self.source = mode
            return then

        if self.kind == "resistive":
            if self.source == "off":
                level(lambda t, y: self.at(t, y)[0] - self.e, -1, to("on"))
            else:
                level(lambda t, y: self.at(t, y)[0] - self.e, 1, to("off"))
        elif self.kind == "regulated":
            if self.source == "off":
                level(lambda t, y: self.at(t, y)[0] - self.e, -1, self.hold)
            elif self.source == "on":
                level(lambda t, y: self.at(t, y)[0] - self.e, 1, self.hold)
            else:
                level(lambda t, y: self.at(t, y)[1] - self.limit, 1, to("on"))
                level(lambda t, y: self.at(t, y)[1], -1, to("off"))
        for k, (_, on, off) in enumerate(self.brakes):
            def then(t, y, k=k):
                self.on[k] = not self.on[k]
                if self.rs > 0 or self.source == "held":
                    self.settle(t, y)  # the voltage jumps with the current
            if self.on[k]:
                level(lambda t, y, off=off: self.at(t, y)[0] - off, -1, then)
            else:
                level(lambda t, y, on=on: self.at(t, y)[0] - on, 1, then)
        return found

    def mode(self):
        return self.source, tuple(self.on)

    def changes(self, t, before):
        names = {"off": "source blocks", "held": "source conducts", "on": "source conducts" if self.kind == "resistive" else "source at its current limit"}
        out = []
        if before[0] != self.source:
            out.append([float(t), names[self.source], 0])
        for k, (was, on) in enumerate(zip(before[1], self.on)):
            if was != on:
                out.append([float(t), "brake resistor on" if on else "brake resistor off", k])
        return out


def by_scipy(b, t, end, y, scale, guards, job, counts):
    """One stretch by solve_ivp: its end, the state there, the guard, and the state in between."""
    s = solve_ivp(b.slope, (t, end), y, method=job["method"], rtol=job["rtol"], atol=job["rtol"] * scale,
                  events=[g for g, _ in guards] or None, dense_output=True, max_step=(end - t) / STRETCHES)
    if s.status < 0:
        raise RuntimeError(s.message)
    counts["slopes"] += s.nfev
    counts["steps"] += len(s.t) - 1
    fired = None
    if s.status == 1:
        fired = next(i for i, e in enumerate(s.t_events) if len(e))
    return s.t[-1], s.y[:, -1], fired, s.sol


COLUMNS = 10


def midpoint(b, t, y, h, scale):
    """One step by Gragg's midpoint rule, extrapolated in h² to order 20."""
    rows = []
    for j in range(1, COLUMNS + 1):
        n = 2 * j
        d = h / n
        z0, z1 = y, y + d * np.array(b.slope(t, y), dtype=y.dtype)
        for m in range(1, n):
            z0, z1 = z1, z0 + 2 * d * np.array(b.slope(t + m * d, z1), dtype=y.dtype)
        row = [(z0 + z1 + d * np.array(b.slope(t + h, z1), dtype=y.dtype)) / 2]
        for k, above in enumerate(rows[-1] if rows else []):
            row.append(row[k] + (row[k] - above) / (y.dtype.type(j) ** 2 / y.dtype.type(j - k - 1) ** 2 - 1))
        rows.append(row)
    return rows[-1][-1], np.max(np.abs(rows[-1][-1] - rows[-1][-2]) / scale)


def by_extrapolation(b, t, end, y, scale, guards, job, counts):
    tol = 64 * b.eps
    t0, nodes, states = t, [t], [y]
    h = (end - t) / STRETCHES
    fired = None
    while t < end and fired is None:
        step = min(h, end - t)
        z, err = midpoint(b, t, y, step, scale)
        if err > tol and step > 1e-9:
            h = step / 2
            continue
        hit = []
        for i, (g, _) in enumerate(guards):
            d = g.direction
            if (t > t0 or d * g(t, y) < -1e-15 * abs(b.e + b.start)) and d * g(t, y) < 0 <= d * g(t + step, z):
                hit.append(i)
        best = None
        for i in hit:
            g = guards[i][0]
            lo, hi, glo, ghi = b.n(0), step, g(t, y), g(t + step, z)
            for n in range(100):  # regula falsi, the Illinois way
                m = hi - ghi * (hi - lo) / (ghi - glo)
                w, _ = midpoint(b, t, y, m, scale)
                gm = g(t + m, w)
                if (gm > 0) == (ghi > 0):
                    hi, ghi, glo = m, gm, glo / 2 if n else glo
                else:
                    lo, glo, hi, ghi = hi, ghi, m, gm
                if abs(gm) <= 4 * b.eps * abs(b.e + b.start) or abs(hi - lo) <= b.eps * step:
                    break
            if best is None or m < best[0]:
                best = m, w, i
        if best:
            step, z, fired = best
        t, y = t + step, z
        if fired is None and end - t < 1e-15:
            t = end
        nodes.append(t)
        states.append(y)
        counts["steps"] += 1

    def between(s):
        i = min(max(bisect.bisect_right(nodes, s) - 1, 0), len(nodes) - 2)
        return midpoint(b, nodes[i], states[i], s - nodes[i], scale)[0] if s > nodes[i] else states[i]

    return t, y, fired, between


def run(job):
    extended = job["method"] == "extended"
    number = np.longdouble if extended else float
    if extended and np.finfo(number).eps > 1.2e-19:
        raise RuntimeError("no arithmetic of 80 bits on this machine")
    stretch = by_extrapolation if extended else by_scipy
    b = Bus(job["circuit"], number)
    n = b.nodes
    y = np.array([b.start] * n + [number(0)] * len(ENERGIES), dtype=number)
    scale = np.array([float(b.start)] * n + [float(b.c * b.start**2)] * len(ENERGIES))
    times = job["times"]
    out = {"voltages": [], "currents": [], "ends": [[] for _ in range(n - 1)], "events": []}
    low, high = float("inf"), -float("inf")
    counts = {"slopes": 0, "steps": 0}
    breaks, at = b.breaks(), 0
    for i, (a, end) in enumerate(zip(breaks, breaks[1:])):
        b.enter(a, end)
        t, end = number(a), number(end)
        before = b.mode()
        b.settle(t, y)
        if i > 0:
            out["events"] += b.changes(t, before)
        while t < end:
            guards = b.guards()
            t1, y1, fired, sol = stretch(b, t, end, y, scale, guards, job, counts)
            while at < len(times) and times[at] < t1:
                z = sol(number(times[at]))
                v, amps, _ = b.at(times[at], z)
                out["voltages"].append(float(v))
                out["currents"].append(float(amps))
                for k in range(1, n):
                    out["ends"][k - 1].append(float(z[k]))
                at += 1
            if not extended:
                grid = np.linspace(t, t1, 65)
                vs = [b.at(s, sol(s))[0] for s in grid]
                vs[-1] = b.at(t1, y1)[0]
                for sign, k in ((1, int(np.argmin(vs))), (-1, int(np.argmax(vs)))):
                    best = sign * vs[k]
                    m = minimize_scalar(lambda s: sign * b.at(s, sol(s))[0], bounds=(grid[max(k - 1, 0)], grid[min(k + 1, 64)]),
                                        method="bounded", options={"xatol": 1e-10 * (t1 - t)})
                    best = min(best, m.fun)
                    if sign > 0:
                        low = min(low, best)
                    else:
                        high = max(high, -best)
            t, y = t1, y1
            if fired is not None:
                before = b.mode()
                guards[fired][1](t, y)
                out["events"] += b.changes(t, before)
                if len(out["events"]) > 1000:
                    raise RuntimeError("switching without end: %s" % out["events"][-3:])
    out["energies"] = dict(zip(ENERGIES, (float(e) for e in y[n:])))
    out["end"] = [float(v) for v in y[:n]]
    if not extended:
        out["lowest"], out["highest"] = float(low), float(high)
    out.update(counts)
    out["version"] = "scipy %s, numpy %s, python %s" % (scipy.__version__, np.__version__, sys.version.split()[0])
    return out


if __name__ == "__main__":
    json.dump(run(json.load(sys.stdin)), sys.stdout)
