package quantity

import (
	"fmt"
	"maps"
	"strings"

	"gonum.org/v1/gonum/unit"
)

// Kind is a kind of field that a machine document has. It fixes the dimensions
// that the field's text must have and the unit in which its value is reported.
// The zero Kind is invalid.
type Kind uint8

// The kinds, each with the coherent SI unit of its values.
const (
	Length                 Kind = iota + 1 // [m]
	Area                                   // [m²]
	Mass                                   // [kg]
	Density                                // [kg/m³]
	MassPerLength                          // [kg/m], of a belt or rope
	Time                                   // [s]
	Frequency                              // [Hz], of anything but an angle
	Angle                                  // [rad]
	Speed                                  // [m/s]
	AngularSpeed                           // [rad/s]
	Accel                                  // [m/s²]
	AngularAccel                           // [rad/s²]
	Jerk                                   // [m/s³]
	AngularJerk                            // [rad/s³]
	Force                                  // [N]
	Torque                                 // [N·m], the same dimensions as Energy
	LinearStiffness                        // [N/m]
	TorsionalStiffness                     // [N·m/rad]
	Inertia                                // [kg·m²]
	Lead                                   // [m/rad], travel per angle of a screw, pinion or pulley
	ViscousLinear                          // [N·s/m], friction force per speed
	ViscousRotary                          // [N·m·s/rad], drag torque per speed
	QuadraticDrag                          // [N·m·s²/rad²], drag torque per squared speed
	Power                                  // [W]
	Energy                                 // [J]
	Voltage                                // [V]
	Current                                // [A]
	Charge                                 // [A·s]
	Resistance                             // [Ω]
	Capacitance                            // [F]
	Inductance                             // [H]
	TorqueConstant                         // [N·m/A]
	VoltageConstant                        // [V·s/rad]
	MotorConstant                          // [N·m/√W]
	Temperature                            // [°C]
	TemperatureDifference                  // [K]
	TemperatureCoefficient                 // [1/K], relative change per kelvin
	ThermalResistance                      // [K/W]
	ThermalConductance                     // [W/K]
	ThermalCapacitance                     // [J/K]
	HeatTransfer                           // [W/(m²·K)], heat transfer coefficient of a surface
	Pressure                               // [Pa], also stress and modulus of elasticity
	ForceConstant                          // [N/A], of a linear motor
	LinearVoltageConstant                  // [V·s/m], of a linear motor
	LinearMotorConstant                    // [N/√W], of a linear motor
	LinearQuadraticDrag                    // [N·s²/m²], drag force per squared speed
	ApparentPower                          // [V·A]
	SquareCurrentTime                      // [A²·s], melting integral of fuses
	VolumeFlow                             // [m³/s], of air
	Ratio                                  // [1], reported as a plain number: a gear ratio
	Fraction                               // [1], reported in %: an efficiency, a tolerance
)

// spec describes a kind. Its dimensions are those of its unit.
type spec struct {
	name    string  // for messages
	unit    string  // coherent SI unit; values are numbers of it
	example string  // text that Parse takes for this kind
	report  []shown // units for Format, smallest first
}

// shown is a unit that Format uses from a number of from upwards; 0 means 1.
// The from of a kind's first unit is not used.
type shown struct {
	unit string
	from float64
}

var specs = [...]spec{
	Length:        {"length", "m", "420 mm", []shown{{"um", 0}, {"mm", 0}, {"m", 0}}},
	Area:          {"area", "m^2", "2.5 mm^2", []shown{{"mm^2", 0}, {"m^2", 0.01}}},
	Mass:          {"mass", "kg", "1.2 kg", []shown{{"g", 0}, {"kg", 0}}},
	Density:       {"density", "kg/m^3", "7850 kg/m^3", []shown{{"kg/m^3", 0}}},
	MassPerLength: {"mass per length", "kg/m", "0.12 kg/m", []shown{{"g/m", 0}, {"kg/m", 0}}},
	Time:          {"time", "s", "250 ms", []shown{{"us", 0}, {"ms", 0}, {"s", 0}, {"h", 0}}},
	Frequency:     {"frequency", "Hz", "50 Hz", []shown{{"Hz", 0}, {"kHz", 0}, {"MHz", 0}}},
	Angle:         {"angle", "rad", "90 deg", []shown{{"deg", 0}}},

	Speed:        {"speed", "m/s", "1.5 m/s", []shown{{"mm/s", 0}, {"m/s", 0.01}}},
	AngularSpeed: {"angular speed", "rad/s", "3000 rpm", []shown{{"rpm", 0}}},
	Accel:        {"acceleration", "m/s^2", "12 m/s^2", []shown{{"m/s^2", 0}}},
	AngularAccel: {"angular acceleration", "rad/s^2", "4000 rad/s^2", []shown{{"rad/s^2", 0}}},
	Jerk:         {"jerk", "m/s^3", "300 m/s^3", []shown{{"m/s^3", 0}}},
	AngularJerk:  {"angular jerk", "rad/s^3", "2e5 rad/s^3", []shown{{"rad/s^3", 0}}},

	Force:              {"force", "N", "35 N", []shown{{"mN", 0}, {"N", 0.1}, {"kN", 0}}},
	Torque:             {"torque", "N m", "1.3 N m", []shown{{"mN m", 0}, {"N m", 0.1}, {"kN m", 0}}},
	LinearStiffness:    {"linear stiffness", "N/m", "50 N/mm", []shown{{"N/m", 0}, {"kN/m", 0}, {"MN/m", 0}}},
	TorsionalStiffness: {"torsional stiffness", "N m/rad", "4 kN m/rad", []shown{{"N m/rad", 0}, {"kN m/rad", 0}, {"MN m/rad", 0}}},
	Inertia:            {"moment of inertia", "kg m^2", "0.9 kg cm^2", []shown{{"kg cm^2", 0}, {"kg m^2", 0.1}}},
	Lead:               {"lead", "m/rad", "10 mm/rev", []shown{{"mm/rev", 0}}},
	ViscousLinear:      {"linear viscous friction coefficient", "N s/m", "20 N s/m", []shown{{"N s/m", 0}, {"kN s/m", 0}}},
	ViscousRotary: {"rotary viscous friction coefficient", "N m s/rad", "0.2 mN m s/rad",
		[]shown{{"uN m s/rad", 0}, {"mN m s/rad", 0}, {"N m s/rad", 0}}},
	QuadraticDrag: {"quadratic drag coefficient", "N m s^2/rad^2", "0.5 uN m s^2/rad^2",
		[]shown{{"nN m s^2/rad^2", 0}, {"uN m s^2/rad^2", 0}, {"mN m s^2/rad^2", 0}, {"N m s^2/rad^2", 0}}},

	Power:           {"power", "W", "400 W", []shown{{"mW", 0}, {"W", 0}, {"kW", 0}, {"MW", 0}}},
	Energy:          {"energy", "J", "150 J", []shown{{"mJ", 0}, {"J", 0}, {"kJ", 0}, {"kWh", 0}}},
	Voltage:         {"voltage", "V", "48 V", []shown{{"mV", 0}, {"V", 0}, {"kV", 0}}},
	Current:         {"current", "A", "10 A", []shown{{"uA", 0}, {"mA", 0}, {"A", 0}, {"kA", 0}}},
	Charge:          {"charge", "A s", "5 Ah", []shown{{"mAh", 0}, {"Ah", 0}}},
	Resistance:      {"resistance", "ohm", "0.35 ohm", []shown{{"uohm", 0}, {"mohm", 0}, {"ohm", 0}, {"kohm", 0}, {"Mohm", 0}}},
	Capacitance:     {"capacitance", "F", "4700 uF", []shown{{"pF", 0}, {"nF", 0}, {"uF", 0}, {"mF", 0}, {"F", 0}}},
	Inductance:      {"inductance", "H", "1.2 mH", []shown{{"nH", 0}, {"uH", 0}, {"mH", 0}, {"H", 0}}},
	TorqueConstant:  {"torque constant", "N m/A", "0.5 N m/A", []shown{{"mN m/A", 0}, {"N m/A", 0.1}}},
	VoltageConstant: {"voltage constant", "V s/rad", "12 V/krpm", []shown{{"V/krpm", 0}}},
	MotorConstant:   {"motor constant", "N m/sqrt(W)", "0.2 N m/sqrt(W)", []shown{{"mN m/sqrt(W)", 0}, {"N m/sqrt(W)", 0.1}}},

	Temperature:            {"temperature", "degC", "35 degC", []shown{{"degC", 0}}},
	TemperatureDifference:  {"temperature difference", "K", "20 K", []shown{{"K", 0}}},
	TemperatureCoefficient: {"temperature coefficient", "1/K", "0.39 %/K", []shown{{"%/K", 0}}},
	ThermalResistance:      {"thermal resistance", "K/W", "1.5 K/W", []shown{{"K/W", 0}}},
	ThermalConductance:     {"thermal conductance", "W/K", "5 W/K", []shown{{"W/K", 0}}},
	ThermalCapacitance:     {"thermal capacitance", "J/K", "450 J/K", []shown{{"J/K", 0}, {"kJ/K", 0}}},
	HeatTransfer:           {"heat transfer coefficient", "W/(m^2 K)", "5.5 W/(m^2 K)", []shown{{"W/(m^2 K)", 0}}},
	ForceConstant:          {"force constant", "N/A", "60 N/A", []shown{{"N/A", 0}}},
	LinearVoltageConstant:  {"voltage constant of a linear motor", "V s/m", "35 V s/m", []shown{{"V s/m", 0}}},
	LinearMotorConstant:    {"motor constant of a linear motor", "N/sqrt(W)", "12 N/sqrt(W)", []shown{{"N/sqrt(W)", 0}}},
	LinearQuadraticDrag:    {"drag force per squared speed", "N s^2/m^2", "0.4 N s^2/m^2", []shown{{"N s^2/m^2", 0}}},
	Pressure:               {"pressure or stress", "Pa", "60 MPa", []shown{{"Pa", 0}, {"kPa", 0}, {"MPa", 0}, {"GPa", 0}}},

	ApparentPower:     {"apparent power", "V A", "500 VA", []shown{{"VA", 0}, {"kVA", 0}}},
	SquareCurrentTime: {"melting integral", "A^2 s", "40 A^2 s", []shown{{"A^2 s", 0}, {"kA^2 s", 0}}},
	VolumeFlow:        {"volume flow", "m^3/s", "60 m^3/h", []shown{{"m^3/h", 0}}},
	Ratio:             {"ratio", "", "5", []shown{{"", 0}}},
	Fraction:          {"fraction", "", "90 %", []shown{{"%", 0}}},
}

// kindDims holds the dimensions of each kind.
var kindDims = func() (dims [len(specs)]unit.Dimensions) {
	for k := 1; k < len(specs); k++ {
		dims[k] = mustUnit(specs[k].unit).dims
	}
	return dims
}()

// valid reports whether k is one of the constants of this package.
func (k Kind) valid() bool { return k > 0 && int(k) < len(specs) }

// String returns the name of k for messages, e.g. "angular speed".
func (k Kind) String() string {
	if !k.valid() {
		return fmt.Sprintf("Kind(%d)", uint8(k))
	}
	return specs[k].name
}

// Unit returns the coherent SI unit of the values of k, e.g. "rad/s", or "" if
// k is dimensionless or invalid.
func (k Kind) Unit() string {
	if !k.valid() {
		return ""
	}
	return specs[k].unit
}

// Example returns text that [Parse] takes for k, e.g. "3000 rpm", or "" if k is
// invalid.
func (k Kind) Example() string {
	if !k.valid() {
		return ""
	}
	return specs[k].example
}

// Want says what text is expected for k, e.g. `an angular speed such as "3000 rpm"`.
func (k Kind) Want() string {
	if !k.valid() {
		return "a kind that this package defines"
	}
	return fmt.Sprintf("%s such as %q", withArticle(k.String()), k.Example())
}

// Dimensions returns a copy of the dimensions of k, nil if k is invalid.
func (k Kind) Dimensions() unit.Dimensions {
	if !k.valid() {
		return nil
	}
	return maps.Clone(kindDims[k])
}

// kindsWith returns the names of the kinds that have the given dimensions, e.g.
// "a torque or an energy", or "" if there are none.
func kindsWith(dims unit.Dimensions) string {
	var names []string
	for k := 1; k < len(specs); k++ {
		if maps.Equal(kindDims[k], dims) {
			names = append(names, withArticle(specs[k].name))
		}
	}
	return strings.Join(names, " or ")
}

func withArticle(noun string) string {
	if strings.ContainsRune("aeiou", rune(noun[0])) {
		return "an " + noun
	}
	return "a " + noun
}
