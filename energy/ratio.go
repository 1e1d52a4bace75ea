package energy

import (
	"math"

	"example.com/headroom/profile"
)

// OptimumRatio returns the ratio, motor speed over load speed, at which a given
// torque of a motor with inertia Jm [kg·m²] accelerates a load of inertia Jl [kg·m²]
// most:
//
//	N = √(Jl/Jm)
//
// since the load's acceleration T N/(Jm N² + Jl) is highest where both terms below
// are equal: the load, seen from the motor, is then as heavy as the rotor (Khurmi and
// Gupta, Theory of Machines, ch. 3). It is also the ratio of least torque for a
// given acceleration. Without friction, weight or loss only; [Axis.BestRatio] takes
// them in. With a mass [kg] for Jl the result is in rad/m, the motor's turn per
// travel.
func OptimumRatio(motorInertia, loadInertia float64) (float64, error) {
	var f profile.Faults
	checkPositive(&f, "motorInertia", motorInertia, "kg·m²")
	checkPositive(&f, "loadInertia", loadInertia, "kg·m² or kg")
	if err := f.Err(); err != nil {
		return 0, err
	}
	return math.Sqrt(loadInertia / motorInertia), nil
}

// ReflectedInertia returns the moment of inertia [kg·m²] that the motor's shaft
// turns besides its own rotor: load, mechanism and stages, each over the square of
// the ratio between it and the motor. Efficiencies do not enter: it is what stores
// the kinetic energy.
func (a Axis) ReflectedInertia() (float64, error) {
	if err := a.Validate(); err != nil {
		return 0, err
	}
	j := a.Load.inert()
	through := func(s Stage) { j = s.Inertia + j/s.Ratio/s.Ratio }
	through(a.Mechanism.link())
	for i := len(a.Stages) - 1; i >= 0; i-- {
		through(a.Stages[i])
	}
	return j, nil // below 1e276 for the ranges that Validate allows
}

// InertiaRatio returns [Axis.ReflectedInertia] over the motor's rotor inertia. High
// ratios ask more of the control when shafts give and gears have play; up to 5 or 10
// is usual with ordinary couplings (common practice, no source). A motor without
// rotor inertia is refused.
func (a Axis) InertiaRatio() (float64, error) {
	j, err := a.ReflectedInertia()
	if err != nil {
		return 0, err
	}
	var f profile.Faults
	checkPositive(&f, "motor.rotorInertia", a.Motor.RotorInertia, "kg·m²")
	if err := f.Err(); err != nil {
		return 0, err
	}
	return j / a.Motor.RotorInertia, nil
}

// RatioChoice is what [Axis.BestRatio] finds.
type RatioChoice struct {
	Ratio     float64 // of the stage, input speed over output speed
	RMS       float64 // RMS of the rated torque at that ratio [N·m]
	Peak      float64 // highest magnitude of the rated torque at that ratio [N·m]
	Fastest   float64 // highest motor speed at that ratio [rad/s]
	SpeedEnds float64 // ratio at which the motor reaches its MaxSpeed; 0: none does, or no MaxSpeed is given
}

// BestRatio returns the ratio of the given stage, from lowest to highest, at which
// the motion needs the least RMS of the motor's shaft torque, [Trace.RatedTorque],
// which is what a continuous rating is for. Ratios that turn the motor faster than
// its MaxSpeed are left out; it is an error when none remains. Peak torque bounds
// nothing here: see [Motor.Loading].
//
// The motion is one cycle, waits included. All else of the stage, its inertia,
// efficiency and drag, stays as it is, though gears of another ratio have others; so
// the result says which gears to look at, and those are then entered as they are.
//
// The RMS has one minimum for loads of inertia, friction and weight alone, where its
// square is A N² + B + C/N²; in between, losses that depend on the direction of
// power can bend it. So the range is searched at 65 ratios in geometric sequence and
// then, around the best of them, by golden section down to 1e-8 of the ratio: about
// 110 traces. A golden section cannot tell ratios nearer than about 1e-8 apart
// because the RMS is flat there.
func (a Axis) BestRatio(m profile.Motion, stage int, lowest, highest float64) (RatioChoice, error) {
	var f profile.Faults
	f.Under("", a.Validate())
	if stage < 0 || stage >= len(a.Stages) {
		f.Add("stage", stage, "the index of a stage of the axis")
	}
	checkPositive(&f, "lowest", lowest, "")
	checkPositive(&f, "highest", highest, "")
	if f.Err() == nil && highest < lowest {
		f.Add("highest", highest, "at least the lowest ratio")
	}
	if m.Duration() == 0 {
		f.Add("motion", nil, "a motion that takes time")
	}
	if err := f.Err(); err != nil {
		return RatioChoice{}, err
	}

	s := ratioSearch{axis: a, motion: m, stage: stage}
	s.axis.Stages = append([]Stage(nil), a.Stages...)
	tr, err := s.at(1)
	if err != nil {
		return RatioChoice{}, err
	}
	ends := 0.0
	if fastest := math.Abs(tr.Speed.AbsMax().V); a.Motor.MaxSpeed > 0 && fastest > 0 {
		ends = a.Motor.MaxSpeed / fastest * (1 - relative) // rounding must not exceed it
		if !(lowest <= ends) {
			f.Add("lowest", lowest, "a ratio that keeps the motor within its highest speed")
			return RatioChoice{}, f.Err()
		}
		highest = math.Min(highest, ends)
		if ends > largest {
			ends = 0 // beyond all ratios
		}
	}
	best, err := s.minimum(lowest, highest)
	if err != nil {
		return RatioChoice{}, err
	}
	if tr, err = s.at(best); err != nil {
		return RatioChoice{}, err
	}
	return RatioChoice{
		Ratio:     best,
		RMS:       tr.RatedTorque.RMS(),
		Peak:      math.Abs(tr.RatedTorque.AbsMax().V),
		Fastest:   math.Abs(tr.Speed.AbsMax().V),
		SpeedEnds: ends,
	}, nil
}

// ratioSearch traces an axis at different ratios of one stage. It owns the axis's
// slice of stages.
type ratioSearch struct {
	axis   Axis
	motion profile.Motion
	stage  int
}

func (s *ratioSearch) at(ratio float64) (Trace, error) {
	s.axis.Stages[s.stage].Ratio = ratio
	return s.axis.Trace(s.motion)
}

func (s *ratioSearch) rms(ratio float64) (float64, error) {
	tr, err := s.at(ratio)
	return tr.RatedTorque.RMS(), err
}

// minimum returns the ratio of least RMS torque from lo to hi: an end of the range
// where it lies there.
func (s *ratioSearch) minimum(lo, hi float64) (float64, error) {
	const steps = 64
	grid := func(i int) float64 {
		switch {
		case i <= 0:
			return lo
		case i >= steps:
			return hi
		}
		return lo * math.Pow(hi/lo, float64(i)/steps)
	}
	best, least := 0, math.Inf(1)
	for i := range steps + 1 {
		v, err := s.rms(grid(i))
		if err != nil {
			return 0, err
		}
		if v < least {
			best, least = i, v
		}
	}
	ratio, v, err := s.goldenSection(grid(best-1), grid(best+1))
	if err != nil {
		return 0, err
	}
	if v < least {
		return ratio, nil
	}
	return grid(best), nil
}

// goldenSection narrows an interval around a minimum down to 1e-8 of its ends and
// returns the best ratio that it saw.
func (s *ratioSearch) goldenSection(lo, hi float64) (ratio, least float64, err error) {
	const share = 0.6180339887498949 // (√5-1)/2
	a, b := math.Log(lo), math.Log(hi)
	least = math.Inf(1)
	see := func(x float64) float64 {
		r := math.Exp(x)
		v, e := s.rms(r)
		if e != nil {
			err = e
		} else if v < least {
			ratio, least = r, v
		}
		return v
	}
	x1, x2 := b-share*(b-a), a+share*(b-a)
	v1, v2 := see(x1), see(x2)
	for err == nil && b-a > 1e-8 {
		if v1 < v2 {
			b, x2, v2 = x2, x1, v1
			x1 = b - share*(b-a)
			v1 = see(x1)
		} else {
			a, x1, v1 = x1, x2, v2
			x2 = a + share*(b-a)
			v2 = see(x2)
		}
	}
	return ratio, least, err
}
