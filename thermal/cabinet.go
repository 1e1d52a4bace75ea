package thermal

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// PaintedSteel is how much heat an enclosure of painted sheet steel gives off per
// m² and kelvin, inside and outside air at rest [W/(m²K)]: common practice, no
// source.
const PaintedSteel = 5.5

// Cabinet is an enclosure with supplies, drives and what else gives off heat. It
// is cooled through its surface, by air from outside, or both:
//
//	P = ( k A + ρ cp V ) ( Tinside - Toutside )
//
// with ρ the density of the outside air at its temperature and altitude. The
// temperature inside is a mean: it is lower at the bottom and higher under the
// top.
type Cabinet struct {
	Surface     float64 // effective cooling surface A [m²], >= 0; see [Enclosure]
	Coefficient float64 // k of the surface [W/(m²K)], >= 0; 0: [PaintedSteel]
	Flow        float64 // V, of outside air drawn through [m³/s], >= 0; what the fan moves against the filter, not its free delivery
	Altitude    float64 // above sea level [m], -500 to 11000
	Ambient     float64 // temperature outside [°C]
}

// CabinetLoad is something in the cabinet that gives off heat.
type CabinetLoad struct {
	Name  string
	Power float64 // mean heat that stays inside [W], >= 0

	// Factor is by how much Power is to be multiplied when the cabinet has a
	// temperature inside [°C]; nil: 1. A factor that grows with it, as the
	// resistance of copper does ([Conductor.Ratio]), can make the heat run away.
	Factor func(inside float64) float64
}

// CabinetBalance is the state in which a cabinet gives off what it gets. Inside
// is the ambient of supplies, drives and capacitors.
type CabinetBalance struct {
	Inside     float64   // [°C]
	Rise       float64   // over the ambient [K]
	Heat       float64   // of all loads at that temperature [W]
	BySurface  float64   // leaving through the surface [W]
	ByAir      float64   // leaving with the air [W]
	Gain       float64   // heat that a kelvin more inside adds, over what it carries away [1], < 1
	Loads      []float64 // heat of each load [W]
	AirDensity float64   // of the air outside [kg/m³]
}

// CabinetRunawayError reports loads whose heat grows faster with temperature
// than the cabinet gives it off, or is beyond it altogether.
type CabinetRunawayError struct {
	Inside  float64 // highest temperature tried [°C]
	Heat    float64 // of the loads there [W]
	Carried float64 // what the cabinet gives off there [W]
}

// Error names the heat and what is carried away.
func (e *CabinetRunawayError) Error() string {
	return fmt.Sprintf("no heat balance in the cabinet: at %.4g °C inside the loads give off %.4g W and the cabinet %.4g W, with no balance below", e.Inside, e.Heat, e.Carried)
}

const (
	hottestCabinet = 1000.   // [°C], no balance is looked for above
	airHeat        = 1006.   // specific heat of air at constant pressure [J/(kg K)], usual table value, from memory
	airConstant    = 287.053 // specific gas constant of dry air [J/(kg K)], ISO 2533, from memory
	freezing       = 273.15
)

// AirPressure returns the pressure of the standard atmosphere [Pa] at an altitude
// above sea level [m], -500 to 11000:
//
//	p = 101325 (1 - 2.25577e-5 h)^5.25588
//
// ISO 2533 (from memory).
func AirPressure(altitude float64) (float64, error) {
	var f profile.Faults
	f.Within("altitude", altitude, -500, 11000, "m")
	if err := f.Err(); err != nil {
		return 0, err
	}
	return airPressure(altitude), nil
}

func airPressure(altitude float64) float64 {
	return 101325 * math.Pow(1-2.25577e-5*altitude, 5.25588)
}

// Validate returns nil, or an error with every field outside its domain.
func (c Cabinet) Validate() error {
	var f profile.Faults
	c.check(&f)
	return f.Err()
}

func (c Cabinet) check(f *profile.Faults) {
	ok := f.NonNegative("surface", c.Surface, "m²")
	f.NonNegative("coefficient", c.Coefficient, "W/(m²K)")
	ok = f.NonNegative("flow", c.Flow, "m³/s") && ok
	f.Within("altitude", c.Altitude, -500, 11000, "m")
	f.Within("ambient", c.Ambient, -90, 200, "°C")
	if ok && !(c.Surface+c.Flow > 0) {
		f.Add("surface", c.Surface, "> 0 m², or a flow > 0 m³/s")
	}
}

// Settle returns the state in which the cabinet gives off the heat of all loads.
//
// It is looked for from the ambient upward, T <- Tambient + P(T)/G, which cannot
// pass the lowest balance as long as no load gives off less when it is warmer;
// longer strides are tried, in which a balance shows by its sign. No balance below 1000
// °C is a [*CabinetRunawayError].
func (c Cabinet) Settle(loads []CabinetLoad) (CabinetBalance, error) {
	var f profile.Faults
	c.check(&f)
	for i, l := range loads {
		f.NonNegative(fmt.Sprintf("loads[%d].power", i), l.Power, "W")
	}
	if err := f.Err(); err != nil {
		return CabinetBalance{}, err
	}
	k := c.Coefficient
	if k == 0 {
		k = PaintedSteel
	}
	density := airPressure(c.Altitude) / (airConstant * (c.Ambient + freezing))
	surface, air := k*c.Surface, density*airHeat*c.Flow
	g := surface + air
	needFinite(&f, "surface", c.Surface, surface)
	needFinite(&f, "flow", c.Flow, air)
	if f.Err() == nil && !(g > 0 && g <= maxFinite) {
		f.Add("surface", c.Surface, "a size that gives a finite conductance > 0 W/K")
	}
	if err := f.Err(); err != nil {
		return CabinetBalance{}, err
	}
	each := make([]float64, len(loads))
	heat := func(t float64) float64 {
		sum := 0.0
		for i, l := range loads {
			each[i] = l.Power
			if l.Factor != nil {
				factor := l.Factor(t)
				if !(factor >= 0) || math.IsInf(factor, 0) {
					if f.Err() == nil {
						f.Add(fmt.Sprintf("loads[%d].factor", i), factor, fmt.Sprintf("finite and >= 0 at %g °C", t))
					}
					factor = 0
				}
				each[i] *= factor
			}
			sum += each[i]
		}
		return sum
	}
	// short is by how much t falls short of where its own heat would bring it.
	short := func(t float64) float64 { return c.Ambient + heat(t)/g - t }
	t, found := climb(short, c.Ambient, hottestCabinet)
	if err := f.Err(); err != nil {
		return CabinetBalance{}, err
	}
	if !found {
		t = math.Min(t, hottestCabinet)
		p := heat(t)
		needFinite(&f, "loads", float64(len(loads)), p, g*(t-c.Ambient))
		if err := f.Err(); err != nil {
			return CabinetBalance{}, err
		}
		return CabinetBalance{}, &CabinetRunawayError{Inside: t, Heat: p, Carried: g * (t - c.Ambient)}
	}
	const d = 1e-3 // K
	b := CabinetBalance{
		Inside: t, Rise: t - c.Ambient, BySurface: surface * (t - c.Ambient), ByAir: air * (t - c.Ambient),
		Gain: (heat(t+d) - heat(t-d)) / (2 * d * g), AirDensity: density,
	}
	b.Heat = heat(t)
	b.Loads = each
	needFinite(&f, "loads", float64(len(loads)), b.Heat, b.Rise, b.Gain, b.BySurface, b.ByAir)
	if err := f.Err(); err != nil {
		return CabinetBalance{}, err
	}
	return b, nil
}

// climb returns the lowest t >= from at which short(t) is zero, where t +
// short(t) grows with t; found is false when there is none up to top.
func climb(short func(float64) float64, from, top float64) (t float64, found bool) {
	t = from
	s := short(t)
	tiny := func(t float64) float64 { return 1e-13 * (math.Abs(t) + math.Abs(from) + 1) }
	for range 20000 {
		if math.Abs(s) <= tiny(t) {
			return t, true
		}
		if s < 0 { // loads that give off less when warmer: the balance is below
			return bisect(short, from, t), true
		}
		if !(t < top) {
			return t, false
		}
		// Strides of twice the length each: one of them ends between this balance
		// and the next above once t is nearer to it than they are apart.
		for far := t + 2*s; far <= top; far = t + 2*(far-t) {
			if short(far) < 0 {
				return bisect(short, t, far), true
			}
		}
		t = math.Min(t+s, top)
		s = short(t)
	}
	return t, false
}

// bisect halves an interval with short(a) >= 0 > short(b).
func bisect(short func(float64) float64, a, b float64) float64 {
	for range 200 {
		m := a + (b-a)/2
		if m == a || m == b {
			break
		}
		if short(m) >= 0 {
			a = m
		} else {
			b = m
		}
	}
	return a
}

// Standing is how an enclosure stands, for its [Enclosure.Surface].
type Standing int

// The ways of standing that IEC 60890 tells apart for a single enclosure.
const (
	Free Standing = iota // exposed on all sides
	Wall                 // its rear against a wall
)

// Enclosure is a box of sheet metal.
type Enclosure struct {
	Width, Height, Depth float64 // [m], > 0
	Standing             Standing
	CoveredTop           bool // something stands on it
}

// Surface returns the effective cooling surface [m²]: each face times its factor
// 1.4 for an exposed top, .7 for a covered one, .9 for an exposed side, .5 for
// one against a wall, none for the floor, as in IEC 60890 (factors from memory).
func (e Enclosure) Surface() (float64, error) {
	var f profile.Faults
	f.Positive("width", e.Width, "m")
	f.Positive("height", e.Height, "m")
	f.Positive("depth", e.Depth, "m")
	if e.Standing != Free && e.Standing != Wall {
		f.Add("standing", int(e.Standing), "Free or Wall")
	}
	if err := f.Err(); err != nil {
		return 0, err
	}
	top, rear := 1.4, .9
	if e.CoveredTop {
		top = .7
	}
	if e.Standing == Wall {
		rear = .5
	}
	a := top*e.Width*e.Depth + (.9+rear)*e.Width*e.Height + 2*.9*e.Depth*e.Height
	needFinite(&f, "width", e.Width, a)
	if err := f.Err(); err != nil {
		return 0, err
	}
	return a, nil
}
