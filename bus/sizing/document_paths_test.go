package sizing_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus/sizing"
	"example.com/headroom/profile"
)

// variants are documents that between them have every field there is.
func variants(t testing.TB) map[string]string {
	angular := []string{linear, `"limits": { "speed": "1 rad/s", "accel": "2 rad/s^2", "decel": "3 rad/s^2", "jerk": "90 rad/s^3", "decelJerk": "80 rad/s^3" }`,
		`"to": { "a": "1 m" }`, `"to": { "a": "1 rad" }`, `"to": { "a": "0 m" }`, `"to": { "a": "0 rad" }`}
	mechanism := func(text string, pairs ...string) string {
		return replaced(t, append([]string{beltKind, `"mechanism": { ` + text + ` }`}, pairs...)...)
	}
	joint := func(text string) string {
		return replaced(t, linear, linear+`, "joint": { `+text+`, "shaftDiameter": "20 mm", "length": "20 mm", "serviceFactor": 2 }`)
	}
	return map[string]string{
		"demo": demo(t),
		"brake resistor": replaced(t, `"bleeder": "1 kohm",`, `"bleeder": "1 kohm", "bleederTolerance": "2 %", "brakeResistor": { "resistance": "10 ohm", "tolerance": "5 %", "onVoltage": "115 V", "offVoltage": "111 V",
			"thresholdTolerance": "1 %", "continuous": "60 W", "derating": "80 %", "pulse": "400 J" },`),
		"payload": replaced(t, massLoad, `"load": { "mass": "10 kg", "coulomb": "5 N", "frictionSpread": "30 %", "payloadSpread": "40 %" }`,
			`{ "dwell": "0.5 s" }`, `{ "dwell": "0.5 s", "payload": { "a": "5 kg" } }`, `{ "dwell": "0.5 s" } ]`, `{ "dwell": "0.5 s", "payload": { "a": "0 kg" } } ]`),
		"load": replaced(t, massLoad, `"load": { "mass": "10 kg", "coulomb": "5 N", "viscous": "2 N s/m", "plus": { "coulomb": "1 N", "viscous": "1 N s/m" },
			"minus": { "coulomb": "1 N", "viscous": "3 N s/m" }, "breakaway": "9 N", "external": "4 N", "incline": "30 deg",
			"externalByPosition": [ ["0 mm", "0 N"], ["500 mm", "20 N"] ],
			"counterbalance": { "mass": "2 kg", "ratio": 1, "stiffness": "100 N/m", "relaxed": "200 mm", "force": "6 N" } }`,
			linear, `"limits": { "speed": "1 m/s", "accel": "2 m/s^2", "decel": "3 m/s^2", "jerk": "90 m/s^3", "decelJerk": "80 m/s^3" }`),
		"screw": mechanism(`"kind": "screw", "lead": "5 mm/rev", "efficiency": "90 %", "backEfficiency": "85 %", "inertia": "0.2 kg cm^2", "drag": "20 mN m",
			"rod": { "rootDiameter": "8 mm", "bore": "2 mm", "density": "7850 kg/m^3", "elasticity": "206 GPa", "yield": "350 MPa",
			"whirling": { "length": "1.5 m", "ends": "fixed-pinned", "fraction": "80 %" }, "buckling": { "length": "1 m", "ends": "fixed-free", "fraction": "50 %" } }`),
		"thread":  mechanism(`"kind": "screw", "lead": "8 mm/rev", "thread": { "meanDiameter": "30 mm", "friction": 0.08, "flankAngle": "15 deg", "collarDiameter": "40 mm", "collarFriction": 0.1 }`),
		"rack":    mechanism(`"kind": "rack", "pitchDiameter": "80 mm", "efficiency": 0.95, "inertia": "3 kg cm^2", "drag": "1 mN m"`),
		"drum":    mechanism(`"kind": "drum", "diameter": "200 mm", "falls": 2, "efficiency": 0.9, "inertia": "3 kg cm^2", "drag": "1 mN m"`),
		"reeving": mechanism(`"kind": "drum", "diameter": "200 mm", "reeving": { "falls": 2, "guide": 1, "sheave": "98 %" }`),
		"rotary": mechanism(`"kind": "rotary", "efficiency": 1, "backEfficiency": 0.9, "drag": "0.1 N m", "inertia": "1 kg cm^2"`,
			append([]string{massLoad, `"load": { "inertia": [ { "shape": "sphere", "diameter": "10 cm", "mass": "1 kg" }, { "shape": "screw", "majorDiameter": "2 cm", "rootDiameter": "1 cm", "land": 0.5, "length": "1 m", "density": "7000 kg/m^3" },
			{ "shape": "block", "width": "1 cm", "depth": "1 cm", "mass": "1 kg" }, { "shape": "cylinder", "diameter": "3 cm", "bore": "1 cm", "mass": "1 kg" } ] }`}, angular...)...),
		"rotary load": mechanism(`"kind": "rotary", "efficiency": 1`, append([]string{massLoad, `"load": { "inertia": "0.1 kg m^2", "coulomb": "1 N m", "viscous": "1 N m s/rad", "frictionSpread": "30 %",
			"plus": { "coulomb": "1 N m", "viscous": "1 N m s/rad" }, "minus": { "coulomb": "1 N m" }, "breakaway": "3 N m", "external": "1 N m", "externalByPosition": [ ["0 deg", "0 N m"], ["90 deg", "2 N m"] ],
			"counterbalance": { "mass": "2 kg", "ratio": "100 mm/rad", "stiffness": "1 N m/rad", "relaxed": "20 deg", "force": "1 N m" } }`}, angular...)...),
		"crank": mechanism(`"kind": "crank", "radius": "50 mm", "connectingRod": "200 mm", "offset": "10 mm", "efficiency": 0.95, "inertia": "3 kg cm^2", "drag": "1 mN m"`, angular...),
		"key":   joint(`"kind": "key", "pressure": "100 MPa", "shear": "60 MPa", "setScrew": true`),
		"clamp": joint(`"kind": "clamp", "friction": 0.12, "force": "20 kN"`),
		"bond":  joint(`"kind": "bond", "shear": "15 MPa"`),
		"linear motor": mechanism(`"kind": "direct"`, `"rotorInertia": "0 kg m^2",
    "winding": { "torquePerDCAmpere": "1 N m/A", "resistanceLineToLine": "1 ohm", "temperature": "20 degC", "max": "140 degC" },
    "continuousTorque": "2 N m", "peakTorque": "4 N m", "maxSpeed": "100 rad/s"`, `"linear": true, "dragForce": "1 N", "dragPerSpeed": "1 N s/m", "dragPerSpeedSquared": "1 N s^2/m^2",
    "winding": { "forcePerRMSAmpere": "30 N/A", "resistanceLineToLine": "2 ohm", "inductanceLineToLine": "5 mH", "polePitch": "16 mm", "temperature": "20 degC", "max": "140 degC",
      "voltagePhasePeak": "14.14 V s/m", "stallForce": "60 N", "stallCurrentRMS": "2 A" },
    "continuousForce": "60 N", "peakForce": "150 N", "maxSpeed": "3 m/s"`),
		"sheet": replaced(t, `"winding": { "torquePerDCAmpere": "1 N m/A", "resistanceLineToLine": "1 ohm",`, `"winding": { "torquePerPeakAmpere": "1 N m/A", "resistancePerPhase": "1 ohm",
			"voltageLineToLinePeak": "1.1547 V s/rad", "inductancePerPhase": "2 mH", "polePairs": 4, "stallTorque": "2 N m", "stallCurrentPeak": "2 A",
			"ratedTorque": "2 N m", "ratedCurrentPeak": "2 A", "ratedSpeed": "50 rad/s", "ratedPower": "100 W", "motorConstant": "0.816 N m/sqrt(W)", "magnetCoefficient": "-0.1 %/K", "tolerance": "5 %",`),
		"shares":      replaced(t, linear, linear+`, "law": { "kind": "shares", "accel": "25 %", "decel": "25 %", "accelRounding": "10 %", "decelRounding": "10 %" }`),
		"unregulated": replaced(t, `"kind": "regulated", "voltage": "100 V", "tolerance": "0 %", "currentLimit": "10 A"`, `"kind": "unregulated", "openCircuit": "100 V", "resistance": "0.5 ohm", "lineTolerance": "10 %"`),
		"mains": replaced(t, `"efficiency": 0.8, "mains": { "voltage": "230 V", "tolerance": "10 %",`, `"efficiency": 0.8, "powerFactor": 0.9, "crestFactor": 2, "inputCapacitance": "470 uF", "inrushLimiter": "10 ohm",
			"mains": { "voltage": "230 V", "tolerance": "10 %", "phases": 1, "frequency": "50 Hz",`, `"bleeder": "1 kohm",`, `"bleeder": "1 kohm", "hoursPerYear": "4000 h", "split": false, "howMany": [ { "station": "s", "upTo": 2 } ],`, `"name": "s", "axes": ["a"],`, `"name": "s", "axes": ["a"], "partsPerCycle": 2.5,`),
		"mains of an unregulated supply": replaced(t, `"kind": "regulated", "voltage": "100 V", "tolerance": "0 %", "currentLimit": "10 A"`, `"kind": "unregulated", "openCircuit": "100 V", "resistance": "0.5 ohm", "lineTolerance": "10 %", "powerFactor": 0.6, "crestFactor": 2.5`,
			`"tolerance": "10 %", "inputLow"`, `"tolerance": "10 %", "phases": 3, "frequency": "50 Hz", "inputLow"`),
		"mains of several supplies": replaced(t, `"kind": "regulated", "voltage": "100 V", "tolerance": "0 %", "currentLimit": "10 A"`, `"kind": "parallel", "powerFactor": 0.9, "crestFactor": 2, "inputCapacitance": "470 uF", "inrushLimiter": "10 ohm",
			"supplies": [ { "kind": "regulated", "voltage": "100 V", "tolerance": "1 %", "currentLimit": "10 A" } ]`, `"tolerance": "10 %", "inputLow"`, `"tolerance": "10 %", "phases": 3, "frequency": "50 Hz", "inputLow"`),
		"rectified":       replaced(t, regulatedSupply, behindTransformer),
		"rectified mains": replaced(t, regulatedSupply, atTheMains),
		"foldback":        replaced(t, `"kind": "regulated", "voltage": "100 V", "tolerance": "0 %", "currentLimit": "10 A"`, `"kind": "regulated", "voltage": "100 V", "tolerance": "1 %", "currentLimit": "10 A", "overload": "foldback", "foldbackCurrent": "2 A", "diodeDrop": "0.7 V"`),
		"hiccup":          replaced(t, `"kind": "regulated", "voltage": "100 V", "tolerance": "0 %", "currentLimit": "10 A"`, `"kind": "regulated", "voltage": "100 V", "tolerance": "1 %", "currentLimit": "10 A", "overload": "hiccup", "endurance": "0.1 s", "pause": "1 s", "peakCurrent": "15 A", "peakTime": "0.2 s", "peakRecovery": "2 s"`),
		"latch":           replaced(t, `"kind": "regulated", "voltage": "100 V", "tolerance": "0 %", "currentLimit": "10 A"`, `"kind": "regulated", "voltage": "100 V", "tolerance": "1 %", "currentLimit": "10 A", "overload": "latch", "endurance": "0.1 s", "overVoltage": "125 V", "overVoltagePause": "1 s"`),
		"battery":         replaced(t, `"kind": "regulated", "voltage": "100 V", "tolerance": "0 %", "currentLimit": "10 A"`, `"kind": "battery", "openCircuit": "100 V", "resistance": "0.1 ohm", "chargeLimit": "5 A", "chargeTolerance": "5 %"`),
		"parallel": replaced(t, `"kind": "regulated", "voltage": "100 V", "tolerance": "0 %", "currentLimit": "10 A"`, `"kind": "parallel", "supplies": [ { "kind": "regulated", "voltage": "100 V", "tolerance": "1 %", "currentLimit": "10 A", "overload": "foldback", "foldbackCurrent": "2 A", "diodeDrop": "0.7 V" },
			{ "kind": "regulated", "voltage": "100 V", "tolerance": "1 %", "currentLimit": "10 A", "overload": "hiccup", "endurance": "0.1 s", "pause": "1 s", "peakCurrent": "15 A", "peakTime": "0.2 s", "peakRecovery": "2 s", "overVoltage": "125 V", "overVoltagePause": "1 s" },
			{ "kind": "regulated", "voltage": "100 V", "tolerance": "1 %", "currentLimit": "10 A", "overload": "latch", "endurance": "0.1 s" },
			{ "kind": "unregulated", "openCircuit": "100 V", "resistance": "0.5 ohm", "lineTolerance": "10 %" },
			{ "kind": "battery", "openCircuit": "100 V", "resistance": "0.1 ohm", "chargeLimit": "5 A", "chargeTolerance": "5 %" } ]`),
		"cables": replaced(t, linear, linear+`, "cable": { "section": "2.5 mm^2", "stranding": "solid", "parallel": 2, "length": "4 m", "temperature": "50 degC", "terminals": "1 mohm",
			"connector": { "ratedCurrent": "9 A", "peakCurrent": "20 A", "contacts": 2, "sharing": "80 %", "contactResistance": "1 mohm" },
			"fuse": { "ratedCurrent": "12 A", "derating": "90 %", "meltingI2t": "60 A^2 s", "clearingI2t": "150 A^2 s", "ratedVoltage": "160 V", "breakingCapacity": "20 kA", "pulseShare": "20 %" } }`, `"standby": "5 W"`, `"standby": "5 W", "linkCapacitance": "300 uF"`,
			`"ratedVoltage": "150 V" }`, `"ratedVoltage": "150 V", "rippleCurrent": "20 A", "coldSeriesResistance": 3, "endOfLife": { "capacitance": "80 %", "seriesResistance": 2 } }`),
		"switched loads": replaced(t, `"bleeder": "1 kohm",`, `"bleeder": "1 kohm", "switchedLoads": [ { "name": "lamp", "resistance": "100 ohm", "inrush": { "resistance": "20 ohm", "time": "50 ms" } } ],`,
			`{ "dwell": "0.5 s" } ]`, `{ "dwell": "0.5 s", "on": ["lamp"] } ]`, `{ "dwell": "0.5 s" }`, `{ "dwell": "0.5 s", "off": ["lamp"] }`),
		"rail": replaced(t, `"bleeder": "1 kohm",`, `"bleeder": "1 kohm", "rail": { "supply": { "voltage": "24 V", "tolerance": "2 %", "ratedCurrent": "5 A", "boostCurrent": "7 A", "boostTime": "1 s", "efficiency": "88 %", "store": { "capacitance": "100 uF", "from": "320 V", "to": "250 V" } },
			"fromBus": true, "mainsDip": "20 ms", "capacitance": "10 mF", "simultaneity": "50 %", "period": "2 s", "feed": { "section": "2.5 mm^2", "stranding": "solid", "parallel": 2, "length": "2 m", "temperature": "50 degC", "terminals": "2 mohm" }, "consumers": [
			{ "name": "logic", "count": 3, "kind": "constant power", "voltage": "24 V", "holding": "4 W", "minVoltage": "19 V", "maxVoltage": "30 V", "cable": { "gauge": 18, "length": "4 m", "temperature": "40 degC" } },
			{ "name": "valve", "count": 2, "kind": "resistance", "holding": "4 W", "pullIn": "9 W", "pullInTime": "50 ms", "duty": "50 %", "switchings": "1 Hz" },
			{ "name": "sensor", "kind": "constant current", "holding": "1 W", "on": [ ["0 s", "0.5 s"] ] } ] },`),
		"rail groups":      replaced(t, `"bleeder": "1 kohm",`, `"bleeder": "1 kohm", "rail": { "supply": { "voltage": "24 V", "tolerance": "2 %", "ratedCurrent": "5 A", "efficiency": "88 %", "holdUpTime": "30 ms" }, "consumers": [ { "name": "valve", "kind": "resistance", "holding": "4 W", "pullIn": "9 W", "pullInTime": "50 ms", "group": "a" } ] },`),
		"asked":            asked(t, `"anyPhase": { "windows": ["0.5 s", "5 s"], "exact": { "horizon": "8 s", "tolerance": "0.5 V" } }, "study": { "samples": 400, "seed": 7 }, "sensitivities": true`),
		"locked":           asked(t, `"lock": { "aim": "least sag", "every": "4 s" }`, `"strictlyPeriodic":true`, `"startDelay": { "earliest": "0.5 s", "latest": "3 s" }`),
		"locked, rise":     asked(t, `"lock": { "aim": "least rise" }`, `"strictlyPeriodic":true`, `"startDelay": { "latest": "3 s" }`),
		"locked, peak":     asked(t, `"lock": { "aim": "least peak power" }`, `"strictlyPeriodic":true`, `"startDelay": { "latest": "3 s" }`),
		"locked, resistor": asked(t, `"lock": { "aim": "least resistor energy" }`, `"strictlyPeriodic":true`, `"startDelay": { "latest": "3 s" }`),
		"buses":            busesOfAll(t),
		"resistors and clamp": replaced(t, `"bleeder": "1 kohm",`, `"bleeder": "1 kohm", "brakeResistors": [ { "resistance": "10 ohm", "onVoltage": "115 V", "offVoltage": "112 V", "delay": "1 ms", "switchCurrent": "20 A", "continuous": "60 W", "pulse": "400 J" },
			{ "resistance": "10 ohm", "onVoltage": "117 V", "offVoltage": "112 V", "continuous": "60 W", "pulse": "400 J" } ],
			"clamp": { "voltage": "116 V", "resistance": "1 ohm", "currentLimit": "9 A", "continuous": "90 W", "derating": "90 %", "pulse": "1 kJ" },`),
		"temperatures": heated(t),
		"temperatures, by time constants": replaced(t, `"m": { "rotorInertia"`, `"m": { "thermal": { "windingToHousing": "0.2 K/W", "housingToAmbient": "8 K/W", "windingTimeConstant": "20 s", "housingTimeConstant": "1200 s" }, "rotorInertia"`,
			`"motor": "m"`, `"motor": "m", "mounting": "6 K/W", "cable": { "gauge": 12, "length": "2 m", "temperature": "40 degC", "ampacity": { "circuits": 2 } }`,
			`"bleeder": "1 kohm",`, `"bleeder": "1 kohm", "altitude": "2000 m", "cabinet": { "surface": "1.2 m^2", "coefficient": "6 W/(m^2 K)", "flow": "20 m^3/h", "inside": ["drives"] },`,
			`"standby": "5 W"`, `"standby": "5 W", "thermal": { "max": "60 degC" }`),
		"drive": replaced(t, `"standby": "5 W"`, `"standby": "5 W", "lossPerAmp": "1 V", "lossPerAmpSquared": "10 mohm", "continuousCurrent": "7 A", "peakCurrent": "9 A", "modulationLimit": "95 %"`),
		"stops": replaced(t, `"motors":`, `"stops": { "category": 1, "stopsPerYear": 900, "brakeYears": 10, "mainsDip": "20 ms", "supplyHoldUp": "15 ms" }, "motors":`,
			linear, linear+`, "stopDecel": "4 m/s^2", "stopJerk": "90 m/s^3", "holdingBrake": { "torque": "3 N m", "at": "motor", "delay": "30 ms", "energyPerStop": "40 J", "totalEnergy": "9 kJ", "drop": "90 mm" }`,
			massLoad, `"load": { "mass": "10 kg", "coulomb": "5 N", "external": "4 N" }`),
		"stops, turning": mechanism(`"kind": "rotary", "efficiency": 1`, append([]string{massLoad, `"load": { "inertia": "0.1 kg m^2", "external": "1 N m" }`, `"motors":`, `"stops": { "category": 0 }, "motors":`}, append(angular,
			`"motor": "m"`, `"stopJerk": "90 rad/s^3", "holdingBrake": { "torque": "3 N m", "at": "mechanism", "delay": "30 ms", "drop": "9 deg" }, "motor": "m"`)...)...),
		"stops, brake on the load": replaced(t, `"motors":`, `"stops": { "category": 2 }, "motors":`,
			linear, linear+`, "holdingBrake": { "torque": "30 N", "at": "load", "delay": "0 s" }`),
		"ratings": replaced(t, linear, linear+`, "stopDecel": "8 m/s^2", "coupling": { "peak": "5 N m", "mean": "4 N m", "emergencyStop": "9 N m", "serviceFactor": 1.5 }`),
	}
}

// paths lists the paths of everything in a document.
func paths(v any, path string, into map[string]bool) {
	into[path] = true
	switch v := v.(type) {
	case map[string]any:
		for k, child := range v {
			paths(child, profile.JoinPath(path, k), into)
		}
	case []any:
		for i, child := range v {
			paths(child, fmt.Sprintf("%s[%d]", path, i), into)
		}
	}
}

// Whatever value is spoilt, the fault names a place that the document has: its own
// names, and not those of the types behind it. A value that is not accepted in one
// field may be reported at another that it contradicts.
func TestFaultsPointIntoTheDocument(t *testing.T) {
	long(t)
	for name, doc := range variants(t) {
		t.Run(name, func(t *testing.T) {
			var root any
			require.NoError(t, json.Unmarshal([]byte(doc), &root))
			parse(t, doc)
			known := map[string]bool{}
			paths(root, "", known)
			accepted := 0
			spoil := func(path string, set func(any), old any) {
				defer set(old)
				for _, spoilt := range spoilt(old) {
					set(spoilt)
					text, err := json.Marshal(root)
					require.NoError(t, err)
					_, err = sizing.Parse(bytes.NewReader(text))
					if err == nil {
						accepted++
					}
					for _, e := range profile.InputErrors(err) {
						parent := e.Path[:max(0, strings.LastIndexAny(e.Path, ".["))]
						missing := e.Value == nil && known[parent]
						if !known[e.Path] && !missing {
							t.Errorf("%s = %v: %s", path, spoilt, e)
						}
					}
				}
			}
			var walk func(v any, path string, set func(any))
			walk = func(v any, path string, set func(any)) {
				switch v := v.(type) {
				case map[string]any:
					for k, child := range v {
						walk(child, profile.JoinPath(path, k), func(x any) { v[k] = x })
					}
				case []any:
					for i, child := range v {
						walk(child, fmt.Sprintf("%s[%d]", path, i), func(x any) { v[i] = x })
					}
				default:
					spoil(path, set, v)
				}
			}
			walk(root, "", nil)
		})
	}
}

// spoilt returns values of the right form that are mostly out of range: the number
// negative, zero and huge.
func spoilt(v any) []any {
	switch v := v.(type) {
	case float64:
		return []any{-v, 0.0, 1e300}
	case string:
		_, unit, ok := strings.Cut(v, " ")
		if !ok || !strings.ContainsAny(v[:1], "0123456789-") {
			return nil
		}
		return []any{"-1 " + unit, "0 " + unit, "1e300 " + unit}
	}
	return nil
}
