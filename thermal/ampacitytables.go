package thermal

import (
	"fmt"
	"slices"

	"example.com/headroom/profile"
)

// AmpacityTable is a table of a code. It is only as good as its Status says, and
// only the local code in force decides: look the figures up there.
type AmpacityTable struct {
	Title   string
	Edition string
	Status  string  // how the figures here were come by
	Max     float64 // conductor temperature [°C]; 0: the table names none
	Ambient float64 // [°C]; 0: the table names none
	Rows    []AmpacityRow
}

// AmpacityRow is one size of an [AmpacityTable].
type AmpacityRow struct {
	Size    string  // as the trade writes it: "1.5" mm² or "14" AWG
	Current float64 // [A]
}

// Current returns the permitted current [A] of a size, written as in the table.
func (t AmpacityTable) Current(size string) (float64, error) {
	for _, r := range t.Rows {
		if r.Size == size {
			return r.Current, nil
		}
	}
	var sizes []string
	for _, r := range t.Rows {
		sizes = append(sizes, r.Size)
	}
	var f profile.Faults
	f.Add("size", size, fmt.Sprintf("one of %v, those of %s", sizes, t.Title))
	return 0, f.Err()
}

// Ampacity returns a size as an [Ampacity] of copper, for tables that name a
// conductor temperature and an ambient.
func (t AmpacityTable) Ampacity(size string) (Ampacity, error) {
	i, err := t.Current(size)
	var f profile.Faults
	f.Under("", err)
	if t.Max == 0 {
		f.Add("table", t.Title, "a table that names a conductor temperature and an ambient")
	}
	if err := f.Err(); err != nil {
		return Ampacity{}, err
	}
	return Ampacity{Current: i, Max: t.Max, Ambient: t.Ambient}, nil
}

// InstallationMethod is a method of installation of IEC 60204-1.
type InstallationMethod string

// Methods of installation.
const (
	MethodB1 InstallationMethod = "B1" // single conductors in conduit or trunking
	MethodB2 InstallationMethod = "B2" // cables in conduit or trunking
	MethodC  InstallationMethod = "C"  // cables on walls
	MethodE  InstallationMethod = "E"  // cables on open trays
)

func rows(sizes []string, currents ...float64) []AmpacityRow {
	out := make([]AmpacityRow, len(sizes))
	for i, s := range sizes {
		out[i] = AmpacityRow{s, currents[i]}
	}
	return out
}

// IEC60204 returns the current-carrying capacity of PVC-insulated copper in
// machines, for the sizes .75 to 16 mm². An older edition has other figures (25,
// 32, 44, 60 A for 4 to 16 mm² by B1).
func IEC60204(m InstallationMethod) (AmpacityTable, error) {
	sizes := []string{"0.75", "1", "1.5", "2.5", "4", "6", "10", "16"}
	t := AmpacityTable{
		Title: "IEC 60204-1 Table 6, method " + string(m), Edition: "2005 and 2016",
		Status: "from memory; within 2.2 % of .87 times IEC 60364-5-52 for 1.5 to 16 mm²", Max: 70, Ambient: 40,
	}
	switch m {
	case MethodB1:
		t.Rows = rows(sizes, 8.6, 10.3, 13.5, 18.3, 24, 31, 44, 59)
	case MethodB2:
		t.Rows = rows(sizes, 8.5, 10.1, 13.1, 17.4, 23, 30, 40, 54)
	case MethodC:
		t.Rows = rows(sizes, 9.8, 11.7, 15.2, 21, 28, 36, 50, 66)
	case MethodE:
		t.Rows = rows(sizes, 10.4, 12.4, 16.1, 22, 30, 37, 52, 70)
	default:
		var f profile.Faults
		f.Add("method", string(m), "B1, B2, C or E")
		return AmpacityTable{}, f.Err()
	}
	return t, nil
}

// NECPrint is a printing of NEC Table 310.16 (310.15(B)(16) in some). They differ
// in the small sizes.
type NECPrint string

// Printings told apart here.
const (
	NECOldest NECPrint = "older still" // as US Army FM 5-424 reprints it
	NECOlder  NECPrint = "before 2011" // with a footnote that limits the overcurrent device to 15, 20 and 30 A for 14, 12 and 10 AWG
	NEC2011   NECPrint = "2011 onward"
)

// NEC310 returns the ampacity of copper of 14 to 8 AWG for the column of an
// insulation temperature, 60, 75 or 90 °C, in an ambient of 30 °C, up to three
// current-carrying conductors.
func NEC310(p NECPrint, column int) (AmpacityTable, error) {
	var f profile.Faults
	c := slices.Index([]int{60, 75, 90}, column)
	if c < 0 {
		f.Add("column", column, "60, 75 or 90 °C")
	}
	prints := map[NECPrint]struct {
		status string
		rows   [4][3]float64
	}{
		NECOldest: {"read in a public manual that reprints the table", [4][3]float64{{15, 15, 25}, {20, 20, 30}, {30, 30, 40}, {40, 45, 50}}},
		NECOlder:  {"read in a secondary reprint", [4][3]float64{{20, 20, 25}, {25, 25, 30}, {30, 35, 40}, {40, 50, 55}}},
		NEC2011:   {"14 and 12 AWG from memory, others as before", [4][3]float64{{15, 20, 25}, {20, 25, 30}, {30, 35, 40}, {40, 50, 55}}},
	}
	v, ok := prints[p]
	if !ok {
		f.Add("print", string(p), "NECOldest, NECOlder or NEC2011")
	}
	if err := f.Err(); err != nil {
		return AmpacityTable{}, err
	}
	t := AmpacityTable{Title: fmt.Sprintf("NEC Table 310.16, copper, %d °C", column), Edition: string(p), Status: v.status, Max: float64(column), Ambient: 30}
	for i, s := range []string{"14", "12", "10", "8"} {
		t.Rows = append(t.Rows, AmpacityRow{s, v.rows[i][c]})
	}
	return t, nil
}

// NFPA79 returns the ampacity of small copper conductors in machines, 24 to 16
// AWG.
func NFPA79() AmpacityTable {
	return AmpacityTable{
		Title: "NFPA 79 Table 12.5.1, small conductors", Edition: "not known", Status: "from memory, unconfirmed",
		Rows: rows([]string{"24", "22", "20", "18", "16"}, 2, 3, 5, 7, 10),
	}
}

// BundlingIEC returns the factor for circuits that run bunched, in conduit or on
// a wall: IEC 60364-5-52 Table B.52.17, first line (from memory). For a number
// between those printed the next larger one counts; above 20 circuits there is
// none.
func BundlingIEC(circuits int) (float64, error) {
	return bundling(circuits, 20, [][2]float64{{1, 1}, {2, .8}, {3, .7}, {4, .65}, {5, .6}, {6, .57}, {7, .54}, {8, .52}, {9, .5}, {12, .45}, {16, .41}, {20, .38}})
}

// BundlingNEC returns the factor for the number of current-carrying conductors
// in one raceway or cable: NEC 310.15, adjustment factors (from memory).
func BundlingNEC(conductors int) (float64, error) {
	return bundling(conductors, 1000, [][2]float64{{3, 1}, {6, .8}, {9, .7}, {20, .5}, {30, .45}, {40, .4}, {1000, .35}})
}

func bundling(n, most int, steps [][2]float64) (float64, error) {
	if n >= 1 {
		for _, s := range steps {
			if float64(n) <= s[0] {
				return s[1], nil
			}
		}
	}
	var f profile.Faults
	f.Add("number", n, fmt.Sprintf("from 1 to %d", most))
	return 0, f.Err()
}
