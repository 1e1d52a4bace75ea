package sizing

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"example.com/headroom/profile"
	"example.com/headroom/thermal"
)

// Ampacity says how a cable lies, from which the current that it carries follows.
type Ampacity struct {
	Method       thermal.InstallationMethod // not used for a gauge
	Circuits     int                        // that run bunched, itself included, 1 to 20
	AboveAmbient float64                    // by how much it is warmer around it than the highest ambient [K], >= 0
	TimeConstant float64                    // of the conductor in its insulation [s], 0: not given
}

// CableHeat is a cable held against its ampacity.
type CableHeat struct {
	Current     float64 // RMS in one conductor [A]
	Permitted   float64 // in its ambient, bunched [A]
	Temperature float64 // of the conductor [°C]; +Inf: the loss grows faster than the heat leaves
	Limit       float64 // [°C]; 0: the table names no temperatures
	Settling    float64 // time to 95 % of the rise [s]; 0: not known
	Table       thermal.AmpacityTable
}

func (c Cable) validateAmpacity(f *profile.Faults, path string, ambient float64) {
	x := c.Ampacity
	if x == nil {
		return
	}
	f.NonNegative(path+".ampacity.timeConstant", x.TimeConstant, "s")
	warm := f.Within(path+".ampacity.aboveAmbient", x.AboveAmbient, 0, 100, "K")
	if _, err := c.bunched(); c.Parallel >= 1 && c.Parallel <= 1000 && (x.Circuits > 1000 || err != nil) {
		f.Add(path+".ampacity.circuits", x.Circuits, fmt.Sprintf("1 or more, and with %d conductors in parallel no more than 20 circuits in all (IEC), or 1000 conductors (NEC)", c.Parallel))
	}
	if !c.gauge {
		if _, err := thermal.IEC60204(x.Method); err != nil {
			f.Add(path+".ampacity.method", string(x.Method), "B1, B2, C or E")
			return
		}
	}
	table, alone, err := c.permitted()
	if err != nil {
		if c.gauge {
			f.Add(path+".gauge", c.Conductor, "a gauge from 24 to 8, or no ampacity")
		} else {
			f.Add(path+".section", c.Conductor, "a cross-section from 0.75 to 16 mm², those of "+table.Title+", or no ampacity")
		}
		return
	}
	if t := ambient + x.AboveAmbient; warm && alone.Max > 0 && !(t < alone.Max) {
		at, v := path+".ampacity.aboveAmbient", x.AboveAmbient
		if v == 0 {
			at, v = "ambient.high", ambient
		}
		f.Add(at, v, "surroundings of the cable below the "+strconv.FormatFloat(alone.Max, 'g', -1, 64)+" °C that the insulation stands")
	}
}

// permitted returns the table that has the conductor of a cable, and what it permits there:
// for a cross-section that of IEC 60204-1, for a gauge those of NFPA 79 and NEC. That of the
// small gauges names no temperatures, which are then 0.
func (c Cable) permitted() (t thermal.AmpacityTable, a thermal.Ampacity, err error) {
	if !c.gauge {
		if t, err = thermal.IEC60204(c.Ampacity.Method); err != nil {
			return t, a, err
		}
		a, err = t.Ampacity(strconv.FormatFloat(math.Round(c.Wire.Section*1e10)/1e4, 'g', -1, 64))
		return t, a, err
	}
	size := strings.TrimPrefix(c.Conductor, "gauge ")
	t = thermal.NFPA79()
	if a.Current, err = t.Current(size); err == nil {
		return t, a, nil
	}
	if t, err = thermal.NEC310(thermal.NEC2011, 60); err != nil {
		return t, a, err
	}
	a, err = t.Ampacity(size)
	return t, a, err
}

// bunched returns the factor for conductors that run together.
func (c Cable) bunched() (float64, error) {
	if c.gauge {
		return thermal.BundlingNEC(2 * c.Ampacity.Circuits * c.Parallel)
	}
	return thermal.BundlingIEC(c.Ampacity.Circuits * c.Parallel)
}

// heatCables finds the temperature of every cable with an ampacity.
func (a *Assessment) heatCables() {
	m := a.Machine
	for _, ax := range m.Axes {
		c := ax.Cable
		if c == nil || c.Ampacity == nil {
			continue
		}
		x := c.Ampacity
		table, may, err := c.permitted()
		if err != nil {
			continue // validated
		}
		factor, err := c.bunched()
		if err != nil {
			continue
		}
		h := CableHeat{Current: a.cableRMS(ax.Name) / float64(c.Parallel), Permitted: may.Current * factor, Table: table}
		if may.Max > 0 {
			may.TimeConstant = x.TimeConstant
			if may, err = may.In(m.AmbientHigh+x.AboveAmbient, factor); err != nil {
				continue
			}
			h.Permitted, h.Limit = may.Current, may.Max
			if h.Temperature, err = may.Temperature(h.Current); err != nil {
				h.Temperature = math.Inf(1)
			} else if x.TimeConstant > 0 {
				if o, err := may.Response(h.Current); err == nil {
					h.Settling = settledAfter * o.TimeConstant
				}
			}
		}
		a.Heat.Cables[ax.Name] = h
	}
}
