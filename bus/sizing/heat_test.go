package sizing_test

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.com/headroom/bus/sizing"
	"example.com/headroom/profile"
)

// heated is the machine worked out by hand with all that has a temperature.
func heated(t testing.TB, pairs ...string) string {
	return edited(t, replaced(t,
		`"m": { "rotorInertia"`, `"m": { "thermal": { "windingToHousing": "0.5 K/W", "windingCapacity": "40 J/K", "housingCapacity": "400 J/K" }, "rotorInertia"`,
		`"standby": "5 W"`, `"standby": "5 W", "thermal": { "fullUpTo": "40 degC", "lossPerKelvin": "1 %/K", "max": "60 degC" }, "continuousCurrent": "7 A"`,
		`"efficiency": 0.8,`, `"efficiency": 0.8, "thermal": { "fullUpTo": "45 degC", "lossPerKelvin": "2.5 %/K", "max": "70 degC", "standby": "3 W", "overload": [ ["0.2 s", "1.2 kW"], ["2 s", "950 W"] ] },`,
		`"ratedVoltage": "150 V" }`, `"ratedVoltage": "150 V", "seriesResistance": "20 mohm", "thermal": { "thermalResistance": "8 K/W", "parallel": 2, "series": 1, "ratedLife": "5000 h", "ratedCore": "105 degC",
			"voltage": "150 V", "activation": 0.94, "voltageExponent": 2, "switchingRipple": "3 A", "neededLife": "20000 h" } }`,
		`"bleeder": "1 kohm",`, `"bleeder": "1 kohm", "hoursPerYear": "4000 h", "altitude": "0 m", "brakeResistor": { "resistance": "10 ohm", "onVoltage": "115 V", "offVoltage": "111 V", "continuous": "60 W", "pulse": "400 J",
			"thermal": { "ratedAmbient": "25 degC", "noPowerAt": "275 degC", "timeConstant": "100 s", "pulses": [ ["1 ms", "20 J"], ["1 s", "400 J"] ] } },
			"cabinet": { "width": "500 mm", "height": "600 mm", "depth": "200 mm", "standing": "wall", "coveredTop": true, "aboveAmbient": "2 K", "heatSinkOutside": "50 %", "otherHeat": "10 W", "max": "65 degC",
			"inside": [ "supply", "drives", "brake resistor", "bank", "rail supply" ] },`,
		`"motor": "m"`, `"motor": "m", "cable": { "section": "1.5 mm^2", "length": "2 m", "temperature": "40 degC", "ampacity": { "method": "C", "circuits": 2, "aboveAmbient": "5 K", "timeConstant": "60 s" } }`,
	), pairs...)
}

// edited replaces pieces of a document.
func edited(t testing.TB, doc string, pairs ...string) string {
	t.Helper()
	for i := 0; i < len(pairs); i += 2 {
		require.Contains(t, doc, pairs[i])
		doc = strings.Replace(doc, pairs[i], pairs[i+1], 1)
	}
	return doc
}

// The motor by hand: 2 N·m in blocks of 0.5 s with pauses of 0.5 s make 4 W and 0 W of copper
// loss at 20 °C. The rating, 2 N·m from 40 to 140 °C, gives 100 K/(4 W x 374.5/254.5) =
// 16.989 K/W. With the gain g = 16.989 x 2/254.5 = 0.13351 the mean settles at
// 40 + 0.13351 x 274.5/0.86649 = 82.30 °C and a mean loss of 2 x 316.80/254.5 = 2.4896 W; the
// housing, behind 16.489 K/W, at 40 + 41.05 = 81.05 °C. Around the mean the winding swings
// as an RC of 0.5 K/W and 4 J/K under a square wave of 2 x 2.4896 W with halves of 0.5 s:
// R ΔP/2 tanh(t/2τ) = 0.5 x 2.4896 x tanh(0.125) = 0.1548 K.
func TestWindingOfTwoNodes(t *testing.T) {
	a := assess(t, heated(t, `"windingCapacity": "40 J/K"`, `"windingCapacity": "4 J/K"`))
	r := a.Heat.Windings["a"]
	require.InDelta(t, 82.30, figureOf(t, a, "heat", "a", "winding, mean").Value, 0.01)
	require.InDelta(t, 81.05, r.Housing, 0.02)
	peak := find(t, a, "heat", "a", "winding, peak")
	require.InDelta(t, 0.1548, peak.Value-figureOf(t, a, "heat", "a", "winding, mean").Value, 0.003)
	require.Equal(t, 140., peak.Limit)
	// Slowest time constant: 16.489 K/W x 404 J/K = 6661 s, and what the 4 J/K have behind 0.5
	// K/W; with the feedback, 3 of 6661/0.86649 s.
	require.Equal(t, "time to get there", peak.More[0].Name)
	require.InEpsilon(t, 2.99573*6661/0.86649, peak.More[0].Value, 2e-3)
	require.Zero(t, r.ToLimit)
	// At 4 N·m 16 W x (234.5 + T)/254.5 heat 4 J/K from 82.4 °C: 57.6 K at 20 to 23.5 W less up
	// to 58 K/0.5 K/W. It settles at (R P0/254.5 = 0.0314) 81.05 + 0.0314 x 315.6/0.9686 =
	// 91.3 °C above a housing that hardly warms, so it lasts as the housing does: 400 J/K x
	// about 48 K/(20 W - 2.5...5.5 W), above 1000 s.
	require.InDelta(t, 1200, r.AtPeak, 200)

	// Bolted to what carries nothing away it runs away: 100.5 K/W x 2 W/254.5 K = 0.79 is
	// still below 1, and 200.5 K/W is above. To 140 °C it takes longer than with the loss that it
	// has there all the time and none carried away, 404 J/K x 100 K/2.943 W = 13727 s.
	a = assess(t, heated(t, `"windingCapacity": "40 J/K"`, `"windingCapacity": "4 J/K"`, `"motor": "m"`, `"motor": "m", "mounting": "200 K/W"`))
	peak = find(t, a, "heat", "a", "winding, peak")
	require.True(t, math.IsInf(peak.Value, 1))
	require.NotEmpty(t, peak.Reason)
	require.NotNil(t, a.Heat.Windings["a"].Runaway)
	require.False(t, a.Fits)
	require.Greater(t, peak.More[0].Value, 13727.)
	require.Less(t, peak.More[0].Value, 2*13727.)
	var b bytes.Buffer
	require.NoError(t, a.WriteText(&b))
	require.Contains(t, b.String(), "no settled temperature")
}

// At 2000 m the permitted rise is 10 % less: as if of 16.989/0.9 = 18.877 K/W. With g =
// 0.14834 the winding settles at 40 + 0.14834 x 274.5/0.85166 = 87.81 °C.
func TestAltitude(t *testing.T) {
	high := func(m string) *sizing.Assessment {
		return assess(t, replaced(t, `"bleeder": "1 kohm",`, `"bleeder": "1 kohm", "altitude": "`+m+`",`))
	}
	require.InDelta(t, 82.30, find(t, high("1000 m"), "heat", "a", "winding, mean").Value, 0.01)
	a := high("2000 m")
	require.InDelta(t, 87.81, find(t, a, "heat", "a", "winding, mean").Value, 0.01)
	require.InDelta(t, 0.9, figureOf(t, a, "heat", "", "permitted rise of windings at the altitude").Value, 1e-12)
	// The continuous torque falls with the root: 2 N·m √0.9.
	require.InDelta(t, 2*math.Sqrt(0.9), find(t, a, "motors", "a", "RMS motor torque").Limit, 1e-9)
}

// A mounting is that of one axis, and time constants are those of the sheet: 0.2 K/W and
// 20 s are 100 J/K, 8 K/W and 1200 s 150 J/K. At 2000 m (0.2 + 6)/0.9 = 6.889 K/W are left.
func TestMounting(t *testing.T) {
	n := parse(t, variants(t)["temperatures, by time constants"]).Axes[0]
	require.InDelta(t, 100, n.Nodes.WindingCapacity, 1e-9)
	require.InDelta(t, 150, n.Nodes.HousingCapacity, 1e-9)
	require.InDelta(t, 6.2/0.9, n.Winding.ThermalResistance, 1e-9)
	require.InDelta(t, 6.2/0.9-0.2, n.Nodes.HousingToAmbient, 1e-9)
}

// The cabinet by hand: top 0.7 x 0.5 x 0.2, front 0.9 and rear 0.5 x 0.5 x 0.6, sides 2 x 0.9 x
// 0.2 x 0.6 make 0.706 m², at 5.5 W/(m²K) 3.883 W/K over 42 °C outside. Inside: the supply
// with 3 W and a quarter of what it gives, at efficiency 0.8; the standby of 5 W; the bank
// with its ripple through 20 mΩ and 10 W in the bleeder; nothing burned; 10 W besides.
func TestCabinet(t *testing.T) {
	a := assess(t, heated(t))
	ripple := a.RippleOfBank()
	require.Zero(t, a.Bus.ResistorMean)
	heat := 3 + 0.25*a.Bus.MeanPower + 5 + 0.02*ripple*ripple + 10 + 10
	inside := 42 + heat/3.883
	require.InDelta(t, inside, a.Heat.Cabinet.Inside, 1e-9)
	for _, x := range []struct {
		of, name string
		limit    float64
	}{{"supply", "air around it", 70}, {"drives", "air around them", 60}, {"cabinet", "air inside", 65}} {
		c := find(t, a, "heat", x.of, x.name)
		require.InDelta(t, inside, c.Value, 1e-9)
		require.Equal(t, x.limit, c.Limit)
	}
	// Of the supply 2.5 % are lost with each kelvin above 45 °C, of the drive 1 % above 40 °C.
	require.InDelta(t, 900*(1-0.025*(inside-45)), find(t, a, "heat", "supply", "mean power").Limit, 1e-9)
	require.InDelta(t, 7*(1-0.01*(inside-40)), find(t, a, "heat", "a", "RMS current, derated").Limit, 1e-9)

	// Two capacitors side by side have 40 mΩ each, and half of the ripple.
	b := find(t, a, "heat", "bank", "core")
	core := inside + 8*0.04*(ripple*ripple+9)/4
	require.InDelta(t, core, b.Value, 1e-9)
	life := 5000. * 3600 * math.Exp(0.94/8.617333262e-5*(1/(core+273.15)-1/378.15)) * 2.25 // (150 V/100 V)²
	require.InEpsilon(t, life, b.More[0].Value, 1e-9)
	require.InEpsilon(t, life/3600/4000, figureOf(t, a, "heat", "", "life of the bank in years").Value, 1e-9)
	require.InEpsilon(t, life, find(t, a, "heat", "bank", "life").Value, 1e-9)

	// Cooled by air alone, 20 m³/h: ρ = 101325/(287.053 x 313.15) = 1.1272 kg/m³, so 1.1272 x 1006
	// x 20/3600 = 6.300 W/K for the 5 W of the drive.
	air := assess(t, edited(t, heated(t), `"width": "500 mm", "height": "600 mm", "depth": "200 mm", "standing": "wall", "coveredTop": true, "aboveAmbient": "2 K",`, `"flow": "20 m^3/h",`,
		`"otherHeat": "10 W", `, ``, `[ "supply", "drives", "brake resistor", "bank", "rail supply" ]`, `[ "drives" ]`))
	require.InDelta(t, 40+5/6.300, air.Heat.Cabinet.Inside, 1e-3)
}

// The windows of the supply: over the 2 s of a half cycle, alike to the other, it gives the
// mean of what the axis takes; besides 10 W in the bleeder and what recharges the 15 mF from
// the lowest voltage. The limit is derated.
func TestOverloadOfTheSupply(t *testing.T) {
	a := assess(t, heated(t))
	w := a.Heat.Overloads[1]
	recharge := 0.5 * 0.015 * (100*100 - a.Bus.Lowest*a.Bus.Lowest)
	require.InDelta(t, a.Stations[0].Hot.Positive().Mean()+10+recharge/2, w.Mean, 1e-6)
	require.InDelta(t, 950*(1-0.025*(a.Heat.Cabinet.Inside-45)), w.Limit, 1e-9)
	require.Equal(t, w.Mean, find(t, a, "heat", "supply", "mean over 2.00 s").Value)
	// The worst 0.2 s are the last of speeding up, 2 N·m at 6 to 10 rad/s with the copper and 5 W;
	// the current limit permits no more than 1000 W.
	short := a.Heat.Overloads[0]
	require.InDelta(t, 2*8+4*(234.5+82.3)/254.5+5+10+recharge/0.2, short.Mean, 1e-3)
}

// A cable of 1.5 mm², method C, carries 15.2 A from 40 to 70 °C; at 45 °C √(25/30) of that, of
// two circuits bunched 0.8 of that: 11.10 A. Its conductor is at
// 45 + 25 (I/11.10)² (234.5 + T)/304.5.
func TestCableHeat(t *testing.T) {
	a := assess(t, heated(t))
	h := a.Heat.Cables["a"]
	require.InDelta(t, 15.2*math.Sqrt(25./30)*0.8, h.Permitted, 1e-9)
	q := 25 * h.Current * h.Current / (h.Permitted * h.Permitted) / 304.5
	require.InDelta(t, (45+234.5*q)/(1-q), h.Temperature, 1e-9)
	require.Equal(t, 70., find(t, a, "heat", "a", "conductor").Limit)
	require.InDelta(t, 2.99573*60/(1-q), find(t, a, "heat", "a", "conductor").More[0].Value, 1e-3)
	require.Contains(t, find(t, a, "heat", "a", "RMS current of a conductor").How, "from memory")

	// A gauge has the table of its country: 12 carries 20 A from 30 to 60 °C (the printing from
	// 2011 on), at 40 °C √(20/30) of that, with four conductors in all 0.8.
	g := assess(t, variants(t)["temperatures, by time constants"]).Heat.Cables["a"]
	require.InDelta(t, 20*math.Sqrt(20./30)*0.8, g.Permitted, 1e-9)
	thin := assess(t, strings.Replace(variants(t)["temperatures, by time constants"], `"gauge": 12`, `"gauge": 18`, 1))
	require.InDelta(t, 7*0.8, thin.Heat.Cables["a"].Permitted, 1e-9)
	require.Contains(t, strings.Join(thin.Unchecked, "\n"), "temperature of the cable's conductor")
}

// A brake resistor of 60 W that has nothing left at 275 °C, rated at 25 °C, warms by 250 K with
// 60 W. Around it are 40 °C: 235/250 of its ratings are left. All of a burst at 115²/10 = 1322.5
// W at least, or as high as the bus gets.
func TestResistorHeat(t *testing.T) {
	doc := heated(t, `"brake resistor", `, ``, `"bleeder": "1 kohm",`, `"bleeder": "100 kohm",`, `"dischargeWarning": "11 s"`, `"dischargeWarning": "2000 s"`,
		`"mass": "10 kg"`, `"mass": "20 kg"`, `"capacitance": "10 mF"`, `"capacitance": "2 mF"`, `"resistanceLineToLine": "1 ohm"`, `"resistanceLineToLine": "0.1 ohm"`)
	a := assess(t, doc)
	require.Positive(t, a.Bus.ResistorMean)
	h := a.Heat.Resistors[0]
	require.InDelta(t, 40+250*a.Bus.ResistorMean/60, h.Temperature, 1e-9)
	require.InDelta(t, 0.94, h.Share, 1e-12)
	require.InDelta(t, a.Bus.ResistorOnce/(a.Bus.Highest*a.Bus.Highest/10), h.Burst, 1e-9)
	// The two brakings of the cycle of 4 s burn alike, 2 s apart: half of the energy of a cycle
	// each, within no more than the 0.5 s that the axis brakes.
	require.InEpsilon(t, a.Bus.ResistorMean/(60*0.94), h.Train.Mean.Ratio, 1e-9)
	each := a.Bus.ResistorMean * 2
	require.LessOrEqual(t, h.Train.Swing, each)
	require.GreaterOrEqual(t, h.Train.Swing, each*(1-0.5/2))
	require.InDelta(t, a.Bus.ResistorMean/(60*0.94)+h.Train.Swing/(20*0.94), h.Train.Combined, 1e-9)
	// One operation takes less than 1 ms: the capacitor of 2 mF goes from 115 V down to 111 V and the 11.1
	// A of its last instant through 20 mΩ, 0.8547 J, and hardly more comes back meanwhile, 0.02 J at most.
	require.Greater(t, h.Train.Loading.Ratio, 0.8547/18.8)
	require.Less(t, h.Train.Loading.Ratio, 0.8747/18.8)
	require.Positive(t, h.Train.Window)
	permitted := 0.94 * math.Max(60*h.Train.Window, 400*math.Pow(math.Min(1, h.Train.Window), math.Log(20)/math.Log(1000)))
	require.InEpsilon(t, permitted, h.Train.Loading.Limit*h.Train.Window, 1e-9)
	require.LessOrEqual(t, h.Train.Loading.Value*h.Train.Window, each*math.Ceil(h.Train.Window/2+0.5)*(1+1e-9))
	require.InDelta(t, 2.99573*100, find(t, a, "heat", "brake resistor", "surface").More[0].Value, 1e-2)
	require.Contains(t, strings.Join(a.Cautions, "\n"), "surface of the brake resistor")
	// A first point that is longer than the burst says nothing of it.
	long := assess(t, edited(t, doc, `["1 ms", "20 J"], ["1 s", "400 J"]`, `["2 s", "400 J"]`))
	require.Contains(t, strings.Join(long.Unchecked, "\n"), "no point as short")
}

// The part with the smallest margin is named first and stands first.
func TestHottestFirst(t *testing.T) {
	a := assess(t, heated(t))
	for _, s := range a.Sections {
		if s.Key != "heat" {
			continue
		}
		require.Equal(t, "smallest margin: "+s.Checks[0].Of+": "+s.Checks[0].Name, s.Figures[0].Name)
		require.Equal(t, s.Checks[0].Margin, s.Figures[0].Value)
		for i := 1; i < len(s.Checks) && s.Checks[i].Unit == "degC"; i++ {
			require.LessOrEqual(t, s.Checks[i-1].Margin, s.Checks[i].Margin)
		}
	}
	d := a.Heat.Duties["a"]
	require.InDelta(t, 0.75, d.CyclicDurationFactor, 1e-9) // it stands for 1 s of 4 s
}

// What is not given is named.
func TestUncheckedHeat(t *testing.T) {
	text := strings.Join(assess(t, replaced(t)).Unchecked, "\n")
	for _, want := range []string{"cabinet not given", "supply.thermal not given", "bank.thermal not given", "the motor's thermal not given", "the drive's thermal not given"} {
		require.Contains(t, text, want)
	}
	text = strings.Join(assess(t, heated(t)).Unchecked, "\n")
	for _, not := range []string{"cabinet", "bank.thermal", "motor's thermal", "drive's thermal", "ampacity"} {
		require.NotContains(t, text, not)
	}
}

// Faults name the field.
func TestHeatFaults(t *testing.T) {
	for _, c := range []struct{ from, to, path string }{
		{`"windingToHousing": "0.5 K/W"`, `"windingToHousing": "17 K/W"`, "motors.m.thermal.windingToHousing"},
		{`"windingToHousing": "0.5 K/W"`, `"windingToHousing": "-1 K/W"`, "motors.m.thermal.windingToHousing"},
		{`"housingCapacity": "400 J/K"`, `"housingCapacity": "400 J/K", "housingTimeConstant": "9 s"`, "motors.m.thermal.housingCapacity"},
		{`, "housingCapacity": "400 J/K"`, ``, "motors.m.thermal.housingCapacity"},
		{`"fullUpTo": "40 degC"`, `"fullUpTo": "80 degC"`, "drives.d.thermal.max"},
		{`"lossPerKelvin": "2.5 %/K"`, `"lossPerKelvin": "-2.5 %/K"`, "supply.thermal.lossPerKelvin"},
		{`["2 s", "950 W"]`, `["2 s", "850 W"]`, "supply.thermal.overload[1][1]"},
		{`["1 s", "400 J"]`, `["0.1 ms", "400 J"]`, "brakeResistor.thermal.pulses[1][0]"},
		{`"noPowerAt": "275 degC"`, `"noPowerAt": "20 degC"`, "brakeResistor.thermal.noPowerAt"},
		{`"ratedAmbient": "25 degC", `, ``, "brakeResistor.thermal.ratedAmbient"},
		{`"pulse": "400 J",`, `"pulse": "400 J", "derating": "80 %",`, "brakeResistor.thermal.noPowerAt"},
		{`"parallel": 2`, `"parallel": -2`, "bank.thermal.parallel"},
		{`"coveredTop": true`, `"surface": "1 m^2"`, "cabinet.surface"},
		{`"rail supply"`, `"rail suply"`, "cabinet.inside[4]"},
		{`"depth": "200 mm", `, ``, "cabinet.depth"},
		{`"heatSinkOutside": "50 %"`, `"heatSinkOutside": "150 %"`, "cabinet.heatSinkOutside"},
		{`"altitude": "0 m"`, `"altitude": "4100 m"`, "altitude"},
		{`"section": "1.5 mm^2"`, `"section": "0.5 mm^2"`, "axes[0].cable.section"},
		{`"method": "C"`, `"method": "D"`, "axes[0].cable.ampacity.method"},
		{`"circuits": 2`, `"circuits": 21`, "axes[0].cable.ampacity.circuits"},
		{`"aboveAmbient": "5 K"`, `"aboveAmbient": "31 K"`, "axes[0].cable.ampacity.aboveAmbient"},
	} {
		_, err := sizing.Parse(strings.NewReader(heated(t, c.from, c.to)))
		in := profile.InputErrors(err)
		require.NotEmpty(t, in, c.to)
		require.Equal(t, c.path, in[0].Path, c.to)
		require.Len(t, in, 1, "%s: %v", c.to, err)
	}
	_, err := sizing.Parse(strings.NewReader(replaced(t, `"motor": "m"`, `"motor": "m", "mounting": "6 K/W"`)))
	require.Equal(t, "axes[0].mounting", profile.InputErrors(err)[0].Path)
}

// Drag heats the housing, and magnets as hot as it ask for more current. With 0.1 N·m of
// drag the torques are 2.1, 0.1 and 1.9 N·m: (4.41 + 0.01 + 3.61) 0.5/2 = 2.0075 W at 20 °C; the
// drag gives 0.1 N·m x 5 rad/s = 0.5 W. The rating, now 2.1 N·m, makes 100 K/(4.41 W x 374.5/
// 254.5) = 15.410 K/W, of which 14.910 K/W carry both.
func TestDragAndMagnets(t *testing.T) {
	a := assess(t, heated(t, `"m": { "thermal"`, `"m": { "dragTorque": "0.1 N m", "thermal"`, `"temperature": "20 degC", "max"`, `"magnetCoefficient": "-0.2 %/K", "temperature": "20 degC", "max"`))
	winding, housing := 40., 40.
	for range 200 {
		copper := 2.0075 * (234.5 + winding) / 254.5 / math.Pow(1-0.002*(housing-20), 2)
		housing = 40 + 14.910*(copper+0.5)
		winding = housing + 0.5*copper
	}
	require.InDelta(t, winding, figureOf(t, a, "heat", "a", "winding, mean").Value, 0.03)
	require.InDelta(t, housing, a.Heat.Windings["a"].Housing, 0.05)
}

// The end of the load's spread that makes a winding hottest is that of the peak.
func TestWorstEndOfTheLoad(t *testing.T) {
	a := assess(t, plainDemo(t))
	require.Equal(t, "F+ P+", a.Heat.Windings["gantry"].Corner)
	require.Equal(t, "F+ P+", find(t, a, "heat", "gantry", "winding, peak").Corner)
}

// Heat in the cabinet: the drive's loss of 1 V x 2 A for half of the time is 1 W, of which half
// leaves through its heat sink; the supply of a rail of 20 W loses 5 W at 80 %.
func TestLoadsOfTheCabinet(t *testing.T) {
	a := assess(t, heated(t, `"standby": "5 W"`, `"standby": "5 W", "lossPerAmp": "1 V"`,
		`"bleeder": "1 kohm",`, `"bleeder": "1 kohm", "rail": { "supply": { "voltage": "24 V", "tolerance": "0 %", "efficiency": "80 %" }, "consumers": [ { "name": "logic", "kind": "constant power", "holding": "20 W", "minVoltage": "20 V" } ] },`))
	require.InDelta(t, 5.5, figureOf(t, a, "heat", "", "heat in the cabinet: drives").Value, 1e-9)
	require.InDelta(t, 5, figureOf(t, a, "heat", "", "heat in the cabinet: supply of the rail").Value, 1e-9)
}

// Below 40 °C capacitors last no longer than there.
func TestLifeOfACoolBank(t *testing.T) {
	a := assess(t, heated(t, `"high": "40 degC"`, `"high": "20 degC"`, `"brake resistor", "bank",`, `"brake resistor",`))
	require.Less(t, a.Heat.Bank.Core, 40.)
	require.InEpsilon(t, 5000*3600*math.Exp(0.94/8.617333262e-5*(1/313.15-1/378.15))*2.25, a.Heat.Bank.Life, 1e-9)
}

// Conductors in parallel share the current, and each is a circuit of the bunch: of four, 0.65.
func TestCableInParallel(t *testing.T) {
	one := assess(t, heated(t)).Heat.Cables["a"]
	two := assess(t, heated(t, `"section": "1.5 mm^2"`, `"section": "1.5 mm^2", "parallel": 2`)).Heat.Cables["a"]
	require.InEpsilon(t, one.Current/2, two.Current, 1e-3)
	require.InDelta(t, 15.2*math.Sqrt(25./30)*0.65, two.Permitted, 1e-9)
}

// A cabinet that cannot have a balance is named, and what stands in it fails.
func TestCabinetWithoutBalance(t *testing.T) {
	a := assess(t, heated(t, `"otherHeat": "10 W"`, `"otherHeat": "10 kW"`))
	c := find(t, a, "heat", "cabinet", "air inside")
	require.True(t, math.IsInf(c.Value, 1))
	require.Contains(t, c.Reason, "no heat balance in the cabinet")
	require.Contains(t, c.Cure, "larger cabinet")
	require.False(t, a.Fits)
}

// Stations in any phase: what each returns, and once what the bank gives from its highest voltage
// to the lowest off threshold; the mean is all that is returned.
func TestPulseTrainInAnyPhase(t *testing.T) {
	a := assess(t, plainDemo(t))
	m, h := a.Machine, a.Heat.Resistors[0]
	b := m.Brakes[0]
	rating := b.Rating.Continuous * h.Share
	require.InEpsilon(t, a.Bus.Guarantee.MeanReturnedPower/rating, h.Train.Mean.Ratio, 1e-9)
	// Off at 77 V less 1 %, most capacitance, that of the drives included.
	link := 0.
	for _, x := range m.Axes {
		link += x.LinkCapacitance
	}
	most := m.Bank.Capacitance + link
	most *= m.Bank.High().Capacitance / m.Bank.Capacitance
	off := b.OffVoltage * 0.99
	swing := most / 2 * (a.Bus.Highest*a.Bus.Highest - off*off)
	for _, st := range a.Stations {
		lowest, highest, at := 0., 0., 0.
		const steps = 40000
		mean := st.Cold.Negative().Mean()
		for i := range steps { // the energy above the mean, summed up
			at += (math.Min(0, st.Cold.At((float64(i)+0.5)/steps*st.Duration)) - mean) * st.Duration / steps
			lowest, highest = math.Min(lowest, at), math.Max(highest, at)
		}
		swing += highest - lowest
	}
	require.InEpsilon(t, swing, h.Train.Swing, 1e-3)
	require.Equal(t, h.Train.Combined, find(t, a, "heat", "brake resistor", "mean and pulses together").Value)
	c := find(t, a, "heat", "brake resistor", "pulses, within")
	require.InEpsilon(t, h.Train.Loading.Ratio, c.Value/c.Limit, 1e-9)

	// The supply: no window is nearer to its limit than the worst. Within 10 s it gives the most that
	// each station takes within them, the bleeder at the highest voltage without load and the lowest
	// resistance, and once what recharges the bank from the lowest voltage.
	top := m.Supply.Source.High().NoLoadVoltage()
	given := most/2*(top*top-a.Bus.Lowest*a.Bus.Lowest) + 10*top*top/(m.Bleeder*(1-m.BleederTolerance))
	for _, st := range a.Stations {
		sum := st.Hot.Positive().Repeat(20).Antiderivative(0)
		within := 0.
		for i := range 4000 {
			at := float64(i) / 4000 * st.Duration
			within = math.Max(within, sum.At(at+10)-sum.At(at))
		}
		given += within
	}
	require.InEpsilon(t, given/10, a.Heat.Overloads[1].Mean, 1e-4)
	for _, w := range a.Heat.Overloads {
		require.LessOrEqual(t, w.Mean/w.Limit, a.Heat.Overload.Loading.Ratio*(1+1e-9))
	}
}

// The rectifier by hand, from the currents of its waveform: two of its diodes conduct at a
// time, each 0.9 V and 5 mΩ; the windings have 25 W at 800 VA/75 V, so 0.21973 Ω; the iron takes 8 W x
// 1.05². The mean in the diodes is that of the current, power over voltage.
func TestRectifierInTheCabinet(t *testing.T) {
	const cabinet = `"bleeder": "1 kohm", "cabinet": { "surface": "1 m^2", "inside": [ "supply" ] },`
	for _, mass := range []string{"10 kg", "40 kg"} {
		a := assess(t, replaced(t, regulatedSupply, behindTransformer, `"mass": "10 kg"`, `"mass": "`+mass+`"`, `"bleeder": "1 kohm",`, cabinet))
		w := a.Bus.Ripple
		power := a.Bus.MeanPower
		resistance := 25 / (800. / 75 * 800 / 75)
		mean, top := w.Mean.Secondary.RMS, w.Top.Secondary.RMS
		delivered := a.Bus.PeakDemand + w.Top.Mean*w.Top.Mean/1000 // and the bleeder
		share := power / delivered
		require.Less(t, share, 1.)
		windings := resistance * math.Max(mean*mean, top*top*share)
		require.InEpsilon(t, windings+8*1.05*1.05, figureOf(t, a, "heat", "", "heat in the cabinet: transformer").Value, 2e-3)
		of := func(power, volts, rms float64) float64 { return 2 * (0.9*power/volts + 0.005*rms*rms) }
		diodes := math.Max(of(power, w.Mean.Mean, mean), share*of(delivered, w.Top.Mean, top))
		got := figureOf(t, a, "heat", "", "heat in the cabinet: rectifier").Value
		require.InEpsilon(t, diodes, got, 1e-2)
		k := 5.5
		require.InDelta(t, 40+(got+windings+8*1.05*1.05)/k, a.Heat.Cabinet.Inside, 0.05)
	}
	// At the mains the resistance is that of the lines, outside.
	a := assess(t, replaced(t, regulatedSupply, atTheMains, `"bleeder": "1 kohm",`, cabinet))
	require.Equal(t, []string{"rectifier"}, a.Heat.Cabinet.Names)
	require.InEpsilon(t, 2*0.9*a.Bus.MeanPower/(75*math.Sqrt2), a.Heat.Cabinet.Loads[0], 0.15)
}

// A clamp burns all that is returned: twice in 4 s, 2 N·m of braking from 10 rad/s in 0.5 s less
// copper and standby. With p = 20 W - 4 W - 5 W at first and 40 W/s less with time it ends at
// 11/40 = 0.275 s: 11²/80 J = 1.5125 J, twice, in 4 s.
func TestClampInTheCabinet(t *testing.T) {
	a := assess(t, replaced(t, `"bleeder": "1 kohm",`, `"bleeder": "1 kohm", "clamp": { "voltage": "116 V", "resistance": "1 ohm", "currentLimit": "9 A", "continuous": "90 W", "pulse": "1 kJ" },
		"cabinet": { "surface": "1 m^2", "inside": [ "brake resistor" ] },`))
	require.InEpsilon(t, 2*1.5125/4, figureOf(t, a, "heat", "", "heat in the cabinet: clamp").Value, 1e-6)
	require.InEpsilon(t, 40+2*1.5125/4/5.5, a.Heat.Cabinet.Inside, 1e-6)
}
