package quantity

import (
	"fmt"
	"maps"
	"strings"
	"unicode"

	"gonum.org/v1/gonum/unit"
)

const slashHint = `write what is below the slash in parentheses, as in "N m/(A s)"`

// unitParser reads a unit by the grammar in the package comment.
type unitParser struct {
	rest    string
	unit    conversion
	factors int
	celsius bool // whether degC is one of them
}

// parseUnit returns the conversion of the unit s; "" is the unit 1.
func parseUnit(s string) (conversion, *problem) {
	p := unitParser{rest: s, unit: conversion{num: 1, den: 1, dims: make(unit.Dimensions)}}
	if s == "" {
		return p.unit, nil
	}
	if isOneOver(s) {
		p.rest = trimSpace(s[1:])
	} else if err := p.product(1); err != nil {
		return p.unit, err
	}
	if p.take("/") {
		if err := p.divisor(); err != nil {
			return p.unit, err
		}
	}
	if p.rest != "" {
		return p.unit, p.unexpected()
	}
	if p.celsius && (p.factors > 1 || p.unit.dims[celsius] != 1) {
		return p.unit, &problem{"degC inside a compound unit", "a temperature difference is in K"}
	}
	return p.unit, nil
}

// mustUnit is parseUnit for the tables of this package.
func mustUnit(s string) conversion {
	c, err := parseUnit(s)
	if err != nil {
		panic("quantity: " + err.got + " in the table of kinds: " + s)
	}
	return c
}

// isOneOver reports whether s starts with "1/".
func isOneOver(s string) bool {
	rest, ok := strings.CutPrefix(s, "1")
	return ok && strings.HasPrefix(trimSpace(rest), "/")
}

// divisor reads what follows a slash: one factor, or a product in parentheses.
func (p *unitParser) divisor() *problem {
	p.skipSpace()
	if p.take("(") {
		if err := p.product(-1); err != nil {
			return err
		}
		if !p.take(")") {
			return &problem{`no ")" where one belongs`, slashHint}
		}
	} else if err := p.factor(-1); err != nil {
		return err
	}
	p.skipSpace()
	switch {
	case strings.HasPrefix(p.rest, "/"):
		return &problem{`more than one "/"`, slashHint}
	case p.rest != "" && p.rest[0] != ')':
		return &problem{`a product after "/"`, slashHint}
	}
	return nil
}

// product reads factors up to a slash, a closing parenthesis or the end, and
// multiplies by them (sign 1) or divides by them (sign -1).
func (p *unitParser) product(sign int) *problem {
	for {
		if err := p.factor(sign); err != nil {
			return err
		}
		gap := p.skipSpace()
		switch {
		case p.rest == "" || p.rest[0] == '/' || p.rest[0] == ')':
			return nil
		case p.take("*") || p.take("·") || p.take("⋅"):
		case !gap:
			return p.unexpected()
		}
	}
}

// factor reads a symbol and its power.
func (p *unitParser) factor(sign int) *problem {
	p.skipSpace()
	symbol := p.symbol()
	if symbol == "" {
		return p.unexpected()
	}
	c, ok := symbols[symbol]
	if !ok {
		return unknown(symbol)
	}
	power, err := p.power()
	if err != nil {
		return err
	}
	p.unit.mul(c, sign*power)
	p.factors++
	p.celsius = p.celsius || c.dims[celsius] != 0
	return nil
}

// symbol takes a unit symbol, known or not, off the text; "" if there is none.
func (p *unitParser) symbol() string {
	for _, root := range []string{"sqrt(W)", "√W"} {
		if p.take(root) {
			return root
		}
	}
	n := strings.IndexFunc(p.rest, func(r rune) bool {
		return !unicode.IsLetter(r) && r != '°' && r != '%'
	})
	if n < 0 {
		n = len(p.rest)
	}
	symbol := p.rest[:n]
	p.rest = p.rest[n:]
	return symbol
}

// power takes the power of a factor off the text; 1 if there is none.
func (p *unitParser) power() (int, *problem) {
	digitSet, sign := "123456789", 1
	switch {
	case p.take("^"):
		if p.take("-") || p.take("−") {
			sign = -1
		}
	case p.take("⁻"):
		digitSet, sign = "¹²³⁴⁵⁶⁷⁸⁹", -1
	case strings.ContainsAny(first(p.rest), "⁰¹²³⁴⁵⁶⁷⁸⁹"):
		digitSet = "¹²³⁴⁵⁶⁷⁸⁹"
	case digits(p.rest) > 0:
		return 0, badPower()
	default:
		return 1, nil
	}
	power := 0
	for _, r := range digitSet {
		power++
		if p.take(string(r)) {
			if strings.ContainsAny(first(p.rest), ".0123456789⁰¹²³⁴⁵⁶⁷⁸⁹") {
				break
			}
			return sign * power, nil
		}
	}
	return 0, badPower()
}

func badPower() *problem {
	return &problem{"a power that is not a whole number from 1 to 9", `write "m^2", "m²" or "s^-1"`}
}

// take removes prefix from the text and reports whether it was there.
func (p *unitParser) take(prefix string) bool {
	rest, ok := strings.CutPrefix(p.rest, prefix)
	p.rest = rest
	return ok
}

// skipSpace reports whether there was any.
func (p *unitParser) skipSpace() bool {
	n := len(p.rest)
	p.rest = strings.TrimLeftFunc(p.rest, isSpace)
	return len(p.rest) < n
}

func (p *unitParser) unexpected() *problem {
	c := first(p.rest)
	if digits(c) > 0 {
		return &problem{"a number inside the unit", "a fraction is written 0.5, volts per 1000 rpm V/krpm"}
	}
	switch c {
	case "":
		return &problem{"a unit that breaks off", ""}
	case "(":
		return &problem{`an unexpected "("`, `parentheses belong after "/", as in "N m/(A s)"`}
	case "/":
		return &problem{`nothing before "/"`, `write "1/s" or "s^-1"`}
	case ".", "-":
		return &problem{fmt.Sprintf("an unexpected %q in the unit", c), `write products as "N m", "N*m" or "N·m"`}
	default:
		return &problem{fmt.Sprintf("an unexpected %q in the unit", c), ""}
	}
}

// mismatch describes a quantity whose dimensions are not those of k.
func mismatch(dims unit.Dimensions, k Kind) *problem {
	p := problem{got: kindsWith(dims)}
	if p.got == "" {
		p.got = "a value in " + dims.String()
	}
	want := kindDims[k]
	switch {
	case maps.Equal(without(dims, unit.AngleDim), without(want, unit.AngleDim)):
		p.hint = "rad, deg or rev is missing or out of place"
	case maps.Equal(massToForce(dims), want):
		p.hint = "kg, lb and oz are masses, N, lbf and ozf are forces"
	}
	return &p
}

func without(dims unit.Dimensions, d unit.Dimension) unit.Dimensions {
	dims = maps.Clone(dims)
	delete(dims, d)
	return dims
}

// massToForce multiplies dims by those of an acceleration.
func massToForce(dims unit.Dimensions) unit.Dimensions {
	c := conversion{dims: maps.Clone(dims)}
	c.mul(conversion{dims: kindDims[Accel]}, 1)
	return c.dims
}
