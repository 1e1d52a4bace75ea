package bus

// EventKind says what happened on the bus.
type EventKind int

// Events, in the order of their constants.
const (
	SourceBlocks   EventKind = iota // the bus rose above the source, whose diode blocks
	SourceConducts                  // the source began to feed the bus within its limit
	SourceLimits                    // the source reached its current limit
	BrakeOn                         // the brake resistor was switched on
	BrakeOff                        // and off
	UnderVoltage                    // the bus fell below the under-voltage limit
	OverVoltage                     // the bus rose above the over-voltage limit
	Collapse                        // neither source nor bank could carry the load; the simulation ended
)

var eventNames = [...]string{
	"source blocks", "source conducts", "source at its current limit",
	"brake resistor on", "brake resistor off", "under-voltage", "over-voltage", "collapse",
}

// String returns the event in words.
func (k EventKind) String() string {
	if k < 0 || int(k) >= len(eventNames) {
		return "unknown event"
	}
	return eventNames[k]
}

// Event is something that switched or tripped.
type Event struct {
	Time    float64 // [s]
	Kind    EventKind
	Voltage float64 // of the bus [V]
}

// sourceEvent names the change from one segment of a characteristic to another.
func sourceEvent(segments []segment, from, to int) EventKind {
	switch {
	case to == 0:
		return SourceBlocks
	case to > from && !segments[to].upright && segments[to].g == 0:
		return SourceLimits
	}
	return SourceConducts
}
