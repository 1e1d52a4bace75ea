package energy

import "math"

// claim is one figure of a sheet that implies a torque per ampere, as RMS or as direct
// current: value · scale.
type claim struct {
	path    string
	value   float64
	scale   float64
	voltage bool // it is a voltage constant
	rated   bool // it is the rated point, which has twice the tolerance
	others  []reading
}

func (c claim) means() float64 { return c.value * c.scale }

// reading is another way to read the figures of a claim, and by what it changes the
// torque per ampere that they imply.
type reading struct {
	says   string
	factor float64
}

// claims returns what the sheet says about the torque per ampere, in the order in which
// it is believed: torque constants, voltage constants, stall point, and then, when there
// is one of these, rated point and motor constant with resistance.
func (s Sheet) claims(dc bool) []claim {
	var out []claim
	add := func(c claim) {
		if c.value > 0 {
			out = append(out, c)
		}
	}
	if dc {
		add(claim{path: "torquePerDCAmpere", value: s.TorquePerDCAmpere, scale: 1})
		add(claim{path: "voltageDC", value: s.VoltageDC, scale: 1, voltage: true, others: append(speedReadings("voltageDC", s.PolePairs),
			reading{"voltageDC is that of one phase of two", 2},
			reading{"voltageDC is from crest to crest", 0.5})})
	} else {
		add(claim{path: "torquePerRMSAmpere", value: s.TorquePerRMSAmpere, scale: 1, others: torqueReadings("torquePerRMSAmpere", "crest", math.Sqrt2)})
		add(claim{path: "torquePerPeakAmpere", value: s.TorquePerPeakAmpere, scale: math.Sqrt2, others: torqueReadings("torquePerPeakAmpere", "RMS", 1/math.Sqrt2)})
		for i, v := range []float64{s.VoltageLineToLineRMS, s.VoltageLineToLinePeak, s.VoltagePhaseRMS, s.VoltagePhasePeak} {
			path := voltageKinds[i].path
			add(claim{path: path, value: v, scale: voltageKinds[i].scale, voltage: true, others: voltageReadings(i, s.PolePairs)})
		}
	}
	if dc {
		add(pointClaim("stall", s.StallTorque, s.StallCurrentDC, 1, nil))
	} else {
		add(pointClaim("stall", s.StallTorque, s.StallCurrentRMS, 1, []reading{{"stallCurrentRMS is the crest", math.Sqrt2}}))
		add(pointClaim("stall", s.StallTorque, s.StallCurrentPeak, math.Sqrt2, []reading{{"stallCurrentPeak is RMS", 1 / math.Sqrt2}}))
	}
	if len(out) == 0 {
		return nil
	}
	if dc {
		add(pointClaim("rated", s.RatedTorque, s.RatedCurrentDC, 1, nil))
	} else {
		add(pointClaim("rated", s.RatedTorque, s.RatedCurrentRMS, 1, []reading{{"ratedCurrentRMS is the crest", math.Sqrt2}}))
		add(pointClaim("rated", s.RatedTorque, s.RatedCurrentPeak, math.Sqrt2, []reading{{"ratedCurrentPeak is RMS", 1 / math.Sqrt2}}))
	}
	add(s.copperClaim(dc))
	return out
}

// voltageKinds are the ways to give the voltage constant of three phases, with what
// makes a torque per ampere RMS of them: 3 times the RMS of a phase.
var voltageKinds = [...]struct {
	path, says string
	scale      float64
}{
	{"voltageLineToLineRMS", "RMS line to line", 1.7320508075688772},       // √3
	{"voltageLineToLinePeak", "the crest line to line", 1.224744871391589}, // √(3/2)
	{"voltagePhaseRMS", "RMS of a phase", 3},
	{"voltagePhasePeak", "the crest of a phase", 2.1213203435596424}, // 3/√2
}

// voltageReadings returns the other readings of a voltage constant of kind i.
func voltageReadings(i, pairs int) []reading {
	var out []reading
	own := voltageKinds[i]
	for k, x := range voltageKinds {
		if k != i {
			out = append(out, reading{own.path + " is " + x.says, x.scale / own.scale})
		}
	}
	return append(append(out,
		reading{own.path + " is from crest to crest, line to line", voltageKinds[1].scale / 2 / own.scale}),
		speedReadings(own.path, pairs)...)
}

// speedReadings returns the other readings of the speed in a voltage constant.
func speedReadings(path string, pairs int) []reading {
	out := []reading{
		{path + " is per 1000 rpm", PerThousandRPM},
		{path + " is per rpm", 1000 * PerThousandRPM},
	}
	if pairs > 1 {
		out = append(out, reading{path + " is per electrical rad/s", float64(pairs)})
	}
	return out
}

// torqueReadings returns the other readings of a torque constant of three phases: the
// other ampere, and ways to take a voltage constant for it that leave out a factor of
// three phases, told as a change of what is claimed.
func torqueReadings(path, other string, factor float64) []reading {
	out := []reading{{path + " is per ampere " + other, factor}}
	if other == "RMS" { // so it was entered per ampere of the crest
		return append(out,
			reading{path + " is the crest voltage of a phase per speed, without the 3/2 of three phases", 1.5},
			reading{path + " is the crest voltage line to line per speed, as for direct current", math.Sqrt(3) / 2})
	}
	return append(out,
		reading{path + " is the RMS voltage line to line per speed, without √3", math.Sqrt(3)},
		reading{path + " is the crest voltage line to line per speed, as for direct current", math.Sqrt(1.5)})
}

// pointClaim is torque over current at the stall or rated point.
func pointClaim(point string, torque, current, scale float64, others []reading) claim {
	if !(torque > 0 && current > 0) {
		return claim{}
	}
	return claim{path: point + "Torque", value: torque, scale: scale / current, rated: point == "rated", others: others}
}

// copperClaim is the torque per ampere from motor constant and resistance.
func (s Sheet) copperClaim(dc bool) claim {
	c := claim{path: "motorConstant", value: s.MotorConstant}
	lineToLine := s.ResistanceLineToLine
	if lineToLine > 0 {
		c.others = append(c.others, reading{"resistanceLineToLine is per phase", math.Sqrt2})
	} else if s.ResistancePerPhase > 0 {
		lineToLine = 2 * s.ResistancePerPhase
		c.others = append(c.others, reading{"resistancePerPhase is line to line", 1 / math.Sqrt2})
	} else {
		return claim{}
	}
	c.scale = math.Sqrt(lineToLine)
	if dc {
		return c
	}
	c.scale *= math.Sqrt(1.5)
	c.others = append(c.others,
		reading{"motorConstant is torque per ampere RMS over the root of the resistance line to line", 1 / math.Sqrt(1.5)},
		reading{"motorConstant is torque per ampere RMS over the root of the resistance of a phase", 1 / math.Sqrt(3)},
		reading{"motorConstant is torque per ampere of the crest over the root of the resistance line to line", math.Sqrt(4. / 3)},
		reading{"motorConstant is torque per ampere of the crest over the root of the resistance of a phase", math.Sqrt(2. / 3)})
	return c
}
