package quantity_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/unit"

	"example.com/headroom/internal/quantity"
)

// The dimensions of each kind as powers of m, kg, s, A, K and rad. Those of the
// named units are from SI Brochure, 9th edition, table 4 (from memory); the
// others follow from the definition of the quantity. The motor
// constant and the Celsius temperature have a dimension of their own.
func TestKindDimensions(t *testing.T) {
	base := []unit.Dimension{unit.LengthDim, unit.MassDim, unit.TimeDim, unit.CurrentDim, unit.TemperatureDim, unit.AngleDim}
	want := map[quantity.Kind][6]int{
		quantity.Length:                 {1},
		quantity.Area:                   {2},
		quantity.Mass:                   {0, 1},
		quantity.Density:                {-3, 1},
		quantity.MassPerLength:          {-1, 1},
		quantity.Time:                   {0, 0, 1},
		quantity.Frequency:              {0, 0, -1},
		quantity.Angle:                  {0, 0, 0, 0, 0, 1},
		quantity.Speed:                  {1, 0, -1},
		quantity.AngularSpeed:           {0, 0, -1, 0, 0, 1},
		quantity.Accel:                  {1, 0, -2},
		quantity.AngularAccel:           {0, 0, -2, 0, 0, 1},
		quantity.Jerk:                   {1, 0, -3},
		quantity.AngularJerk:            {0, 0, -3, 0, 0, 1},
		quantity.Force:                  {1, 1, -2},
		quantity.Torque:                 {2, 1, -2},
		quantity.LinearStiffness:        {0, 1, -2},
		quantity.TorsionalStiffness:     {2, 1, -2, 0, 0, -1},
		quantity.Inertia:                {2, 1},
		quantity.Lead:                   {1, 0, 0, 0, 0, -1},
		quantity.ViscousLinear:          {0, 1, -1},
		quantity.ViscousRotary:          {2, 1, -1, 0, 0, -1},
		quantity.QuadraticDrag:          {2, 1, 0, 0, 0, -2},
		quantity.Power:                  {2, 1, -3},
		quantity.ApparentPower:          {2, 1, -3},
		quantity.SquareCurrentTime:      {0, 0, 1, 2},
		quantity.VolumeFlow:             {3, 0, -1},
		quantity.Energy:                 {2, 1, -2},
		quantity.Voltage:                {2, 1, -3, -1},
		quantity.Current:                {0, 0, 0, 1},
		quantity.Charge:                 {0, 0, 1, 1},
		quantity.Resistance:             {2, 1, -3, -2},
		quantity.Capacitance:            {-2, -1, 4, 2},
		quantity.Inductance:             {2, 1, -2, -2},
		quantity.TorqueConstant:         {2, 1, -2, -1},
		quantity.VoltageConstant:        {2, 1, -2, -1, 0, -1},
		quantity.TemperatureDifference:  {0, 0, 0, 0, 1},
		quantity.TemperatureCoefficient: {0, 0, 0, 0, -1},
		quantity.ThermalResistance:      {-2, -1, 3, 0, 1},
		quantity.ThermalConductance:     {2, 1, -3, 0, -1},
		quantity.ThermalCapacitance:     {2, 1, -2, 0, -1},
		quantity.HeatTransfer:           {0, 1, -3, 0, -1},
		quantity.Pressure:               {-1, 1, -2, 0, 0},
		quantity.ForceConstant:          {1, 1, -2, -1},
		quantity.LinearVoltageConstant:  {1, 1, -2, -1},
		quantity.LinearQuadraticDrag:    {-1, 1},
		quantity.Ratio:                  {},
		quantity.Fraction:               {},
	}
	for k := quantity.Length; k <= quantity.Fraction; k++ {
		switch k {
		case quantity.MotorConstant:
			assert.Equal(t, "kg m^2 s^-2 sqrt(W)^-1", k.Dimensions().String())
			continue
		case quantity.LinearMotorConstant:
			assert.Equal(t, "kg m s^-2 sqrt(W)^-1", k.Dimensions().String())
			continue
		case quantity.Temperature:
			assert.Equal(t, "degC", k.Dimensions().String())
			continue
		}
		powers, ok := want[k]
		require.True(t, ok, "no powers for %v", k)
		dims := unit.Dimensions{}
		for i, p := range powers {
			if p != 0 {
				dims[base[i]] = p
			}
		}
		assert.Equal(t, dims, k.Dimensions(), k.String())
	}
}

func TestDimensionsIsACopy(t *testing.T) {
	quantity.Length.Dimensions()[unit.LengthDim] = 7
	assert.Equal(t, unit.Dimensions{unit.LengthDim: 1}, quantity.Length.Dimensions())
}

// Every kind has a name of its own, an example that is read, and a coherent
// unit that is read as 1.
func TestKindTexts(t *testing.T) {
	names := map[string]bool{}
	for k := quantity.Length; k <= quantity.Fraction; k++ {
		assert.False(t, names[k.String()], k.String())
		names[k.String()] = true

		_, err := quantity.Parse(k.Example(), k)
		assert.NoError(t, err)
		one, err := quantity.Parse("1 "+k.Unit(), k)
		assert.NoError(t, err)
		assert.Equal(t, 1.0, one, k.Unit())
	}
	assert.Equal(t, `an angular speed such as "3000 rpm"`, quantity.AngularSpeed.Want())
	assert.Equal(t, `a lead such as "10 mm/rev"`, quantity.Lead.Want())
}

func TestInvalidKind(t *testing.T) {
	for _, k := range []quantity.Kind{0, quantity.Fraction + 1, 255} {
		assert.Contains(t, k.String(), "Kind(")
		assert.Empty(t, k.Unit())
		assert.Empty(t, k.Example())
		assert.Nil(t, k.Dimensions())
		assert.NotEmpty(t, k.Want())
	}
}
