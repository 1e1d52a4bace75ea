package bus

// Between returns a source with its voltage somewhere within its tolerance: at the
// lowest for u = -1, at the nominal for 0, at the highest for 1, in a straight line
// between. A source that cannot be told in between, as a rectifier with its waveform, is
// at the end that u points to. u is taken within -1 to 1; supplies in parallel move
// together.
func Between(s Source, u float64) Source {
	u = max(-1, min(1, u))
	switch s := s.(type) {
	case Resistive:
		return Resistive{s.OpenCircuit * (1 + u*s.LineTolerance), s.Resistance, 0}
	case SwitchMode:
		return s.at(1 + u*s.Tolerance)
	case Battery:
		return s.at(1 + u*s.ChargeTolerance)
	case Parallel:
		return s.each(func(s Source) Source { return Between(s, u) })
	case nil:
		return nil
	}
	if u < 0 {
		return s.Low()
	}
	return s.High()
}
