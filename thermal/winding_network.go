package thermal

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// WindingNetwork is a motor as a heat network, with the copper of its winding at
// one node. With the torque held, as the motion asks for it, the copper loss
// follows the temperatures of winding and magnets:
//
//	P = P0 (k+T)/(k+T0) / (1 - α (Tm-Tm0))²
//
// P0 is the loss at T0 and Tm0; k as at [Conductor]; α is how much of the torque
// constant a kelvin takes, which the current makes up for. What the mounting
// does is in the network: its boundaries. The zero value is invalid;
// [TwoNodeMotor] makes one of usual data.
type WindingNetwork struct {
	Network   Network
	Winding   int       // node of the copper; it needs a heat capacity
	Max       float64   // highest permitted temperature there [°C]
	Conductor Conductor // metal of the winding; 0 = Copper
	Magnets   Magnets   // the zero value leaves their temperature out
}

// Magnets describes how the torque constant falls as they warm, reversibly.
type Magnets struct {
	Coefficient float64 // α, part of the torque constant lost per kelvin [1/K], >= 0; 0: none
	Node        int     // of the network that has their temperature; it needs a heat capacity
	At          float64 // temperature that the torque constant holds for [°C]
}

// WindingHeat is the heat that a cycle puts into a [WindingNetwork].
type WindingHeat struct {
	Copper profile.Curve // copper loss [W] if the winding were at At and the magnets at Magnets.At, >= 0
	At     float64       // winding temperature that Copper holds for [°C]

	// Other is heat that does not change with temperature [W], >= 0, such as
	// drag in bearings and iron: one curve for each node over the time of
	// Copper, empty where there is none. Nil: none anywhere.
	Other []profile.Curve
}

// Validate returns nil, or an error with every field outside its domain.
func (w WindingNetwork) Validate() error {
	var f profile.Faults
	w.check(&f)
	return f.Err()
}

func (w WindingNetwork) check(f *profile.Faults) Conductor {
	before := f.Err()
	f.Under("network", w.Network.Validate())
	k := w.Conductor.checked(f)
	k.temperature(f, "max", w.Max)
	storing := func(path string, node int) {
		if w.Network.checkNode(f, path, node); w.Network.has(node) && w.Network.Capacities[node] == 0 {
			f.Add(path, node, "a node with heat capacity > 0 J/K")
		}
	}
	storing("winding", w.Winding)
	f.NonNegative("magnets.coefficient", w.Magnets.Coefficient, "1/K")
	if w.Magnets.Coefficient != 0 {
		storing("magnets.node", w.Magnets.Node)
		checkTemperature(f, "magnets.at", w.Magnets.At)
	}
	if f.Err() != nil || before != nil {
		return k
	}
	var g profile.Faults
	w.Network.checkGrounded(&g)
	f.Under("network", g.Err())
	for i, b := range w.Network.Boundaries {
		k.temperature(f, fmt.Sprintf("network.boundaries[%d].temperature", i), b.Temperature)
	}
	return k
}

// weakening returns the factor 1/(1 - α (Tm-Tm0)) on the current; ok is false
// when the magnets would have nothing left.
func (w WindingNetwork) weakening(magnet float64) (factor float64, ok bool) {
	left := 1 - w.Magnets.Coefficient*(magnet-w.Magnets.At)
	return 1 / left, left > 0
}

// TwoNodeMotor is a motor with a winding inside a frame, as catalogues describe
// it: heat passes from the winding to the frame, from there to the ambient. The
// zero value is invalid.
type TwoNodeMotor struct {
	WindingCapacity float64 // heat capacity of the copper [J/K], > 0
	FrameCapacity   float64 // heat capacity of the rest [J/K], > 0
	Inner           float64 // thermal resistance from winding to frame [K/W], > 0
	Mounting        float64 // thermal resistance from frame to ambient, as mounted [K/W], > 0

	Max         float64   // highest permitted winding temperature [°C]
	Conductor   Conductor // metal of the winding; 0 = Copper
	MagnetLoss  float64   // part of the torque constant that a kelvin of the frame takes [1/K], >= 0
	MagnetsAtKm float64   // frame temperature that the torque constant holds for [°C]
}

// Nodes of the network of a [TwoNodeMotor].
const (
	WindingNode = 0
	FrameNode   = 1
)

// In returns the motor as a network in an ambient [°C]. Its magnets, if their
// temperature counts, have that of the frame.
func (m TwoNodeMotor) In(ambient float64) (WindingNetwork, error) {
	var f profile.Faults
	f.Positive("windingCapacity", m.WindingCapacity, "J/K")
	f.Positive("frameCapacity", m.FrameCapacity, "J/K")
	f.Positive("inner", m.Inner, "K/W")
	f.Positive("mounting", m.Mounting, "K/W")
	checkTemperature(&f, "ambient", ambient)
	k := m.Conductor.checked(&f)
	k.temperature(&f, "max", m.Max)
	f.NonNegative("magnetLoss", m.MagnetLoss, "1/K")
	if m.MagnetLoss != 0 {
		checkTemperature(&f, "magnetsAtKm", m.MagnetsAtKm)
	}
	if err := f.Err(); err != nil {
		return WindingNetwork{}, err
	}
	w := WindingNetwork{
		Network: Network{
			Capacities: []float64{m.WindingCapacity, m.FrameCapacity},
			Links:      []Link{{A: WindingNode, B: FrameNode, Conductance: 1 / m.Inner}},
			Boundaries: []Boundary{{Node: FrameNode, Conductance: 1 / m.Mounting, Temperature: ambient}},
		},
		Winding: WindingNode, Max: m.Max, Conductor: m.Conductor,
	}
	if m.MagnetLoss > 0 {
		w.Magnets = Magnets{Coefficient: m.MagnetLoss, Node: FrameNode, At: m.MagnetsAtKm}
	}
	needFinite(&f, "inner", m.Inner, 1/m.Inner)
	needFinite(&f, "mounting", m.Mounting, 1/m.Mounting)
	if err := f.Err(); err != nil {
		return WindingNetwork{}, err
	}
	return w, nil
}

// ContinuousTorque returns the electromagnetic torque [N·m] that holds the
// winding at Max for ever, in the surroundings of the network and with other
// heat [W] at each node (nil: none). At that point winding and copper loss are
// known to each other, so the network is linear: with the rise R [K/W] of the
// winding and Rm of the magnets per watt of copper, and the temperatures T' and
// Tm' without it,
//
//	P = (Max - T')/R      M = Km √( P (k+T0)/(k+Max) ) (1 - α (Tm' + Rm P - Tm0))
//
// Subtract the drag for the torque at the shaft. Other heat that alone brings
// the winding above Max is refused.
func (w WindingNetwork) ContinuousTorque(m MotorConstant, other []float64) (float64, error) {
	var f profile.Faults
	k := w.check(&f)
	f.Positive("constant.km", m.Km, "N·m/√W")
	k.temperature(&f, "constant.at", m.At)
	nodes := len(w.Network.Capacities)
	if other == nil {
		other = make([]float64, nodes)
	}
	if len(other) != nodes {
		f.Add("other", fmt.Sprintf("%d values", len(other)), fmt.Sprintf("one for each of the %d nodes", nodes))
	}
	for i, p := range other {
		f.NonNegative(fmt.Sprintf("other[%d]", i), p, "W")
	}
	if err := f.Err(); err != nil {
		return 0, err
	}
	idle, err := w.Network.Steady(other)
	if err != nil {
		f.Under("other", err)
		return 0, f.Err()
	}
	lone := w.Network
	lone.Boundaries = append([]Boundary(nil), lone.Boundaries...)
	for i := range lone.Boundaries {
		lone.Boundaries[i].Temperature = 0
	}
	unit := make([]float64, nodes)
	unit[w.Winding] = 1
	rise, err := lone.Steady(unit)
	if err != nil {
		f.Under("network", err)
		return 0, f.Err()
	}
	copper := (w.Max - idle[w.Winding]) / rise[w.Winding]
	if !(copper >= 0) {
		f.Add("max", w.Max, fmt.Sprintf("at least %g °C, to which surroundings and other heat alone bring the winding", idle[w.Winding]))
		return 0, f.Err()
	}
	torque := m.Km * math.Sqrt(copper/k.ratio(w.Max, m.At))
	if w.Magnets.Coefficient > 0 {
		factor, ok := w.weakening(idle[w.Magnets.Node] + rise[w.Magnets.Node]*copper)
		if !ok {
			f.Add("magnets.coefficient", w.Magnets.Coefficient, "a coefficient that leaves a torque constant > 0 with the winding at max")
			return 0, f.Err()
		}
		torque /= factor
	}
	needFinite(&f, "constant.km", m.Km, torque)
	if err := f.Err(); err != nil {
		return 0, err
	}
	return torque, nil
}
