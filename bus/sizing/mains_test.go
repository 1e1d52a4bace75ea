package sizing_test

const (
	// regulatedSupply is what the documents below replace in the machine by hand.
	regulatedSupply = `"kind": "regulated", "voltage": "100 V", "tolerance": "0 %", "currentLimit": "10 A", "ratedPower": "900 W",
    "efficiency": 0.8, "mains": { "voltage": "230 V", "tolerance": "10 %", "inputLow": "200 V", "inputHigh": "260 V" }`
	behindTransformer = `"kind": "rectified", "connection": "single-phase bridge",
    "transformer": { "secondary": "75 V", "rating": "800 VA", "shortCircuit": "5 %", "copperLoss": "25 W", "noLoadLoss": "8 W", "magnetisingCurrent": "0.2 A" },
    "diodeThreshold": "0.9 V", "diodeResistance": "5 mohm", "limiter": "2 ohm", "ratedPower": "900 W",
    "mains": { "voltage": "230 V", "tolerance": "5 %", "frequency": "50 Hz" }`
	atTheMains = `"kind": "rectified", "connection": "three-phase bridge",
    "lineResistance": "50 mohm", "lineInductance": "100 uH",
    "diodeThreshold": "0.9 V", "ratedPower": "900 W",
    "mains": { "voltage": "75 V", "tolerance": "5 %", "frequency": "50 Hz" }`
)
