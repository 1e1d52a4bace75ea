package bus

// EventKind says what happened on the bus.
type EventKind int

// Events, in the order of their constants.
const (
	SourceBlocks      EventKind = iota // the bus rose above the source, whose diode blocks
	SourceConducts                     // the source began to feed the bus within its limit
	SourceLimits                       // the source reached its current limit
	BrakeOn                            // the brake resistor was switched on
	BrakeOff                           // and off
	UnderVoltage                       // the bus fell below the under-voltage limit
	OverVoltage                        // the bus rose above the over-voltage limit
	Collapse                           // neither source nor bank could carry the load; the simulation ended
	PeakUsedUp                         // a supply's time above its continuous limit is used up
	PeakAvailable                      // and available again
	SupplyShutsDown                    // a supply shut down after too long at its limit
	SupplyOverVoltage                  // a supply shut down because the bus drove its output too high
	SupplyRestarts                     // a supply started again after its pause
	LoadsOff                           // the axes were switched off
	LoadsOn                            // and on
)

var eventNames = [...]string{
	"source blocks", "source conducts", "source at its current limit",
	"brake resistor on", "brake resistor off", "under-voltage", "over-voltage", "collapse",
	"peak rating used up", "peak rating available", "supply shuts down", "supply shuts down on over-voltage", "supply starts again",
	"axes off", "axes on",
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
	Voltage float64 // of the bus, or of the end of the feeder [V]
	Index   int     // which supply or brake resistor, counted from 0; for limits which feeder, 0: the bus itself
}
