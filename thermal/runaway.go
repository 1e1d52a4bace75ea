package thermal

import "fmt"

// RunawayError reports a winding that has no settled temperature: each kelvin
// of heating adds more copper loss than the thermal resistance carries away for
// that kelvin, so that the winding heats until something fails.
type RunawayError struct {
	Gain              float64 // copper loss added by a kelvin of heating over heat carried away by it [1], >= 1
	Copper            float64 // mean copper loss [W] if the winding were at At
	At                float64 // winding temperature [°C] that Copper holds for
	ThermalResistance float64 // from winding to ambient [K/W]
	Limit             float64 // copper loss [W] at At that just no longer settles
}

// Error names the loss, the cooling, and the loss that would still settle.
func (e *RunawayError) Error() string {
	return fmt.Sprintf("thermal runaway: a mean copper loss of %.4g W at %.4g °C with %.4g K/W to ambient"+
		" has feedback gain %.4g and no settled temperature: want a gain < 1, a loss < %.4g W",
		e.Copper, e.At, e.ThermalResistance, e.Gain, e.Limit)
}
