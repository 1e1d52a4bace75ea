package thermal

import (
	"fmt"
	"math"

	"example.com/headroom/profile"
)

// Adiabatic is a metal that keeps all heat of a short circuit, for up to 5 s:
//
//	I² t = k² S²        k² = Qc (β+20)/ρ20 · ln( (β+Tf)/(β+Ti) )
//
// with S the cross-section, Ti and Tf the temperatures before and after. IEC
// 60364-5-54 Annex A, IEC 60949 (constants read in a secondary place).
type Adiabatic struct {
	Beta        float64 // where the line through the resistance reaches zero, turned positive, as in [Conductor] [K], > 0
	Capacity    float64 // volumetric heat capacity Qc at 20 °C [J/(K m³)], > 0
	Resistivity float64 // ρ20 [Ω m], > 0
}

// Metals of conductors.
var (
	AdiabaticCopper    = Adiabatic{Beta: 234.5, Capacity: 3.45e6, Resistivity: 17.241e-9}
	AdiabaticAluminium = Adiabatic{Beta: 228, Capacity: 2.5e6, Resistivity: 28.264e-9}
)

// K returns k [A √s/m²] from an initial to a final temperature [°C]: 1e6 times
// the figure in A √s/mm².
func (a Adiabatic) K(initial, final float64) (float64, error) {
	var f profile.Faults
	if a.check(&f) {
		from, to := a.temperature(&f, "initial", initial), a.temperature(&f, "final", final)
		if from && to && !(final >= initial) {
			f.Add("final", final, fmt.Sprintf("at least the initial %g °C", initial))
		}
	}
	if err := f.Err(); err != nil {
		return 0, err
	}
	k := math.Sqrt(a.Capacity * (a.Beta + 20) / a.Resistivity * math.Log1p((final-initial)/(a.Beta+initial)))
	needFinite(&f, "capacity", a.Capacity, k)
	if err := f.Err(); err != nil {
		return 0, err
	}
	return k, nil
}

// Section returns the least cross-section [m²] that a short circuit with the
// Joule integral I²t [A²s] brings from initial to final temperature [°C].
func (a Adiabatic) Section(joule, initial, final float64) (float64, error) {
	var f profile.Faults
	f.NonNegative("joule", joule, "A²s")
	k, err := a.K(initial, final)
	f.Under("", err)
	if err == nil && !(k > 0) {
		f.Add("final", final, fmt.Sprintf("above the initial %g °C", initial))
	}
	if err := f.Err(); err != nil {
		return 0, err
	}
	s := math.Sqrt(joule) / k
	needFinite(&f, "joule", joule, s)
	if err := f.Err(); err != nil {
		return 0, err
	}
	return s, nil
}

// Final returns the temperature [°C] after a short circuit with the Joule
// integral I²t [A²s] in a cross-section [m²].
func (a Adiabatic) Final(joule, section, initial float64) (float64, error) {
	var f profile.Faults
	f.NonNegative("joule", joule, "A²s")
	f.Positive("section", section, "m²")
	if a.check(&f) {
		a.temperature(&f, "initial", initial)
	}
	if err := f.Err(); err != nil {
		return 0, err
	}
	x := math.Sqrt(joule) / section
	t := initial + (a.Beta+initial)*math.Expm1(x*x*a.Resistivity/(a.Capacity*(a.Beta+20)))
	needFinite(&f, "joule", joule, t)
	if err := f.Err(); err != nil {
		return 0, err
	}
	return t, nil
}

func (a Adiabatic) check(f *profile.Faults) bool {
	beta := f.Positive("beta", a.Beta, "K")
	capacity := f.Positive("capacity", a.Capacity, "J/(K m³)")
	return f.Positive("resistivity", a.Resistivity, "Ω m") && beta && capacity
}

func (a Adiabatic) temperature(f *profile.Faults, path string, t float64) bool {
	if t > -a.Beta && t <= maxFinite {
		return true
	}
	f.Add(path, t, fmt.Sprintf("finite and > %g °C", -a.Beta))
	return false
}
