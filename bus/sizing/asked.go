package sizing

// asksNothing drops what a machine asks for besides its assessment: for machines that are
// made of it to be assessed in turn.
func (m *Machine) asksNothing() {
	m.HowMany, m.Share, m.Lock, m.Study, m.Rank = nil, false, nil, nil, false
	if m.AnyPhase != nil {
		m.AnyPhase = &AnyPhase{Windows: m.AnyPhase.Windows}
	}
}
