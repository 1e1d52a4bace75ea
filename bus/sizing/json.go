package sizing

import (
	"encoding/json"
	"io"
	"math"
)

// number is a float64 that JSON can hold: what is not finite becomes null.
type number float64

// MarshalJSON implements json.Marshaler.
func (n number) MarshalJSON() ([]byte, error) {
	if v := float64(n); math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(n))
}

type jsonFigure struct {
	Of     string `json:"of,omitempty"`
	Name   string `json:"name"`
	Corner string `json:"corner,omitempty"`
	Value  number `json:"value"`
	Basis  string `json:"basis,omitempty"`
	Unit   string `json:"unit,omitempty"`
	How    string `json:"how"`
}

type jsonCheck struct {
	jsonFigure
	Limit  number `json:"limit"`
	Kind   string `json:"kind"` // "at most" or "at least"
	Margin number `json:"margin"`
	Result string `json:"result"` // "ok", "fails" or "caution"
	Reason string `json:"reason,omitempty"`
	Cure   string `json:"cure,omitempty"`

	More []jsonFigure `json:"more,omitempty"`
}

type jsonSection struct {
	Section  string       `json:"section"`
	Question string       `json:"question"`
	Figures  []jsonFigure `json:"figures"`
	Checks   []jsonCheck  `json:"checks"`
	Notes    []string     `json:"notes"`
}

// jsonMove is where the energy of one axis went in one step of its station's
// cycle, hot copper [J].
type jsonMove struct {
	Station        string `json:"station"`
	Step           string `json:"step"`
	Start          number `json:"start"` // in the cycle [s]
	Axis           string `json:"axis"`
	Drawn          number `json:"drawn"`
	Returned       number `json:"returned"`
	LoadWork       number `json:"loadWork"`
	Kinetic        number `json:"kinetic"`
	Potential      number `json:"potential"`
	Counterbalance number `json:"counterbalance"`
	LoadFriction   number `json:"loadFriction"`
	Transmission   number `json:"transmission"`
	MotorDrag      number `json:"motorDrag"`
	Copper         number `json:"copper"`
	Drive          number `json:"drive"`
	Standby        number `json:"standby"`
	Residual       number `json:"residual"`
}

// moves lists the energy books of every axis in every step.
func (a *Assessment) moves() []jsonMove {
	var all []jsonMove
	for i, st := range a.Stations {
		for k, start := range st.Starts {
			for _, ax := range st.Axes {
				b := ax.Books[k]
				all = append(all, jsonMove{
					st.Name, a.Machine.Stations[i].Steps[k].Name, number(start), ax.Name,
					number(b.Drawn), number(b.Returned), number(b.LoadWork), number(b.Kinetic), number(b.Potential),
					number(b.Counterbalance), number(b.LoadFriction), number(b.Transmission), number(b.MotorDrag),
					number(b.Copper), number(b.Drive), number(b.Standby), number(b.Residual),
				})
			}
		}
	}
	return all
}

type jsonReport struct {
	Machine     string        `json:"machine"`
	Note        string        `json:"note,omitempty"`
	Fits        bool          `json:"fits"`
	Parts       []jsonReport  `json:"parts,omitempty"`
	Sections    []jsonSection `json:"sections"`
	Unchecked   []string      `json:"unchecked"`
	Moves       []jsonMove    `json:"moves"`
	Cautions    []string      `json:"cautions"`
	Assumptions []string      `json:"assumptions"`
}

// WriteJSON writes the report as one JSON object. Values are in coherent SI
// units, temperatures in °C; "basis" says of a current whether it is RMS, "corner" at which
// end of the load's spread a value was found (see [Figure]); null stands for a value that has no bound.
func (a *Assessment) WriteJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(a.json())
}

func (a *Assessment) json() jsonReport {
	r := jsonReport{
		Machine: a.Machine.Name, Note: a.Machine.Note, Fits: a.Fits,
		Moves: a.moves(), Unchecked: a.Unchecked, Cautions: a.Cautions, Assumptions: a.Assumptions,
	}
	toJSON := func(f Figure) jsonFigure {
		return jsonFigure{f.Of, f.Name, f.Corner, number(f.Value), f.Basis, f.Unit, f.How}
	}
	for _, s := range a.Sections {
		js := jsonSection{
			Section: s.Key, Question: s.Question,
			Figures: []jsonFigure{}, Checks: []jsonCheck{}, Notes: append([]string{}, s.Notes...),
		}
		for _, f := range s.Figures {
			js.Figures = append(js.Figures, toJSON(f))
		}
		for _, c := range s.Checks {
			jc := jsonCheck{
				jsonFigure: toJSON(c.Figure), Limit: number(c.Limit), Kind: "at most",
				Margin: number(c.Margin), Result: "ok", Reason: c.Reason,
			}
			if c.AtLeast {
				jc.Kind = "at least"
			}
			if !c.OK {
				jc.Result, jc.Cure = "fails", c.Cure
				if c.Caution {
					jc.Result = "caution"
				}
			}
			for _, f := range c.More {
				jc.More = append(jc.More, toJSON(f))
			}
			js.Checks = append(js.Checks, jc)
		}
		r.Sections = append(r.Sections, js)
	}
	for _, p := range a.Parts {
		r.Parts = append(r.Parts, p.json())
	}
	return r
}
